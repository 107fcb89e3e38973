"""The broker loses power and goes on from an older save, so it gives packet identifiers that it had given already; the
probes say the same few values as before; and the daemon is away. None of these new messages is one that is known.
"""

from contextlib import closing

from parts.harm_house import QUEUE, SOON, House, left_at_the_broker, saved
from parts.harm_life import TRAFFIC, Talk, of_readings
from parts.mosquitto import Mosquitto
from parts.road import until

BINS = "places: {yard: {}}\nbins:" + TRAFFIC
KINDS = ("same",)
"""A plain number, and always the same: our marker shifts the identifiers by one against those of before."""
EACH = 12


def faults(folder, *, without=()):
    """What is lost or kept twice of what was said before the power cut and, in the same words, after it."""
    with Mosquitto(QUEUE) as broker, House(folder, broker, BINS) as house:
        assert 0 == house.daemon().up().stop()
        saved(broker)
        daemon = house.daemon(without=without).up()
        with closing(Talk(broker, KINDS)) as before:
            before.say(EACH)
            before.stop()
            house.until(lambda store: store.counted() == EACH * len(KINDS), "everything is kept")
        assert 0 == daemon.stop()
        broker.kill()
        broker.start()
        with closing(Talk(broker, KINDS)) as talk:
            talk.say(EACH)
            end = talk.say_last()
            last = house.daemon(without=without)
            until(lambda: house.judged("json-v", end), "the last reading is judged", SOON)
            assert 0 == last.stop()
        talk.timeless.update(before.timeless)
        with house.kept() as store:
            found = of_readings(store, talk) | {"left at the broker": left_at_the_broker(broker)}
        return {kind: what for kind, what in found.items() if what}


def test_nothing_is_lost_or_kept_twice(tmp_path):
    assert {} == faults(tmp_path)


def test_control_by_identifier_and_payload_alone_new_readings_are_taken_for_old_ones(tmp_path):
    assert "lost" in faults(tmp_path, without=["know_again_without_the_flag"])
