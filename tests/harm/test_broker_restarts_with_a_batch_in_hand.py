"""The broker restarts while the daemon holds a batch that is not kept yet, and gives the same packet identifiers
anew. Acknowledging that batch afterwards must not erase what came since: the daemon is killed before it keeps it, so
the broker must have it still.
"""

import signal
from contextlib import closing

import pytest

from parts.harm_house import QUEUE, SOON, House, left_at_the_broker, saved
from parts.harm_life import TRAFFIC, Talk, of_readings
from parts.mosquitto import Mosquitto
from parts.road import until

BINS = "places: {yard: {}}\nbins:" + TRAFFIC
KINDS = ("json", "plain", "both")
EACH = 6
"""Readings of each kind in a batch: with 18 messages it is fewer than a broker has in flight (20)."""
MESSAGES = EACH * len(KINDS)
SELDOM = 600
"""Seconds between rounds: the batch is committed because the broker seems to wait, and holds all that was sent."""


def with_nothing(broker):
    """SIGKILL and nothing was ever saved: it knows nobody any more."""
    broker.kill()
    broker.start()


def with_everything(broker):
    """SIGTERM: it saves its sessions and goes on with them."""
    broker.stop()
    broker.start()


def with_what_was_saved_before(broker):
    """SIGKILL: it goes on with what it had saved before the batch, and counts from there again."""
    assert (broker.folder / "mosquitto.db").exists()
    broker.kill()
    broker.start()


RESTARTS = [with_nothing, with_everything, with_what_was_saved_before]


def faults(folder, restart, *, without=()):
    """What is lost or kept twice of a batch in hand and of one that came after the restart."""
    with Mosquitto(QUEUE) as broker, House(folder, broker, BINS) as house:
        assert 0 == house.daemon().up().stop()
        if restart is with_what_was_saved_before:
            saved(broker)
        daemon = house.daemon(hold=MESSAGES, kill="keep", nth=2, without=without, tell=True, period=SELDOM).up()
        with closing(Talk(broker, KINDS)) as before:
            before.say(EACH)
            before.stop()
            daemon.says(f"holding a batch of {EACH * 4}")
        restart(broker)
        daemon.up(2)
        with closing(Talk(broker, KINDS, begin=EACH)) as talk:
            talk.say(EACH)
            talk.stop()
            daemon.says("received", (3 if restart is with_everything else 2) * MESSAGES)
            daemon.tell(signal.SIGUSR1)
            daemon.killed("keep")
            last = house.daemon().up()
            end = talk.say_last()
        until(lambda: house.judged("json-v", end), "the last reading is judged", SOON)
        assert 0 == last.stop()
        talk.dated.update(before.dated)
        talk.timeless.update(before.timeless)
        with house.kept() as store:
            found = of_readings(store, talk) | {"left at the broker": left_at_the_broker(broker)}
        return {kind: what for kind, what in found.items() if what}


@pytest.mark.parametrize("restart", RESTARTS)
def test_nothing_is_lost(tmp_path, restart):
    assert {} == faults(tmp_path, restart)


@pytest.mark.parametrize("restart", [with_nothing, with_what_was_saved_before])
def test_control_without_the_connections_number_new_readings_are_erased(tmp_path, restart):
    # A broker that saved everything gives no identifier twice: there a stale acknowledgement erases nothing.
    assert "lost" in faults(tmp_path, restart, without=["know_no_connections"])
