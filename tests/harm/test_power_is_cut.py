"""The power fails under the whole daemon: its small disk is copied as it is, nothing written out, and the next daemon
finds the copy. What the broker was told to forget must lie there.
"""

from contextlib import closing

from parts.harm_house import QUEUE, SOON, House
from parts.harm_life import TRAFFIC, Talk, of_readings
from parts.loop_disk import copied, formatted, mounted
from parts.mosquitto import Mosquitto
from parts.road import until

BINS = "places: {yard: {}}\nbins:" + TRAFFIC
ROUNDS = 10


def faults(folder, *, without=()):
    """What is lost or kept twice at a power cut after many acknowledged batches."""
    image = formatted(folder / "disk", 32)
    with Mosquitto(QUEUE) as broker, closing(Talk(broker)) as talk:
        with (
            mounted(image, folder / "shed", "commit=600") as disk,
            House(folder, broker, BINS, store=disk / "kept.db") as house,
        ):
            daemon = house.daemon(without=without, tell=True).up()
            talk.start()
            daemon.says("acknowledged", ROUNDS)
            daemon.kill()
            cut = copied(image, folder / "cut")
        talk.stop()
        with mounted(cut, folder / "again") as disk, House(folder, broker, BINS, store=disk / "kept.db") as house:
            last = talk.say_last()
            daemon = house.daemon().up()
            until(lambda: house.judged("json-v", last), "the last reading is judged", SOON)
            assert 0 == daemon.stop()
            with house.kept() as store:
                found = of_readings(store, talk)
    return {kind: what for kind, what in found.items() if what}


def test_what_was_acknowledged_is_there_when_the_power_comes_back(tmp_path):
    assert {} == faults(tmp_path)


def test_control_without_waiting_for_the_disk_it_is_lost(tmp_path):
    assert "lost" in faults(tmp_path, without=["wait_for_no_disk"])
