"""WATCHDOG=1 goes out with a round, and only while intake, pump, sender and scheduler have each given a sign of life
within their bounds. The bounds are shortened here, and one thread after the other stands still.
"""

import signal

import pytest

from parts.harm_house import QUEUE, SOON, House, Listening
from parts.harm_life import TRAFFIC
from parts.mosquitto import Mosquitto
from parts.road import until

BINS = "places: {yard: {}}\nbins:" + TRAFFIC
BOUNDS = {"intake": 3.0, "pump": 3.0, "sender": 4.0, "scheduler": 3.0}
"""Seconds; the sender stamps every two when all is well, the others every one."""
FOR_EVER = dict.fromkeys(BOUNDS, 1e9)
ROUNDS = 5


@pytest.fixture(scope="module")
def broker():
    with Mosquitto(QUEUE) as broker:
        yield broker


def watched(folder, broker, bounds):
    """A daemon under a systemd of ours, and how to make one of its threads stand still."""
    with Listening(folder / "notify") as systemd, House(folder, broker, BINS) as house:
        daemon = house.daemon(
            environ={"NOTIFY_SOCKET": systemd.path}, block=str(folder / "thread"), bounds=bounds, flush=0.2
        )
        yield daemon.up(), systemd, folder / "thread"


@pytest.fixture(scope="module")
def run(tmp_path_factory, broker):
    yield from watched(tmp_path_factory.mktemp("watched"), broker, BOUNDS)


def rounds(daemon):
    return daemon.log().count(" readings, ")


def let(daemon, count):
    """Let so many rounds go by, and whatever the last one says to systemd with them."""
    before = rounds(daemon)
    until(lambda: rounds(daemon) > before + count, f"{count} rounds", SOON)


def still(daemon, file, thread):
    """Make a thread stand still and wait until it is beyond its bound."""
    file.write_text(thread)
    daemon.tell(signal.SIGUSR2)
    daemon.says(f"{thread} stands still")


def test_we_say_that_we_are_ready_and_alive_from_the_first_rounds_on(run):
    _, systemd, _ = run
    assert ["READY=1", "WATCHDOG=1"] == sorted({systemd.next() for _ in range(3)})


def test_every_round_feeds_it_while_all_live(run):
    daemon, systemd, _ = run
    let(daemon, 1)
    systemd.waiting()
    let(daemon, ROUNDS)
    assert len(systemd.waiting()) >= ROUNDS


@pytest.mark.parametrize("thread", BOUNDS)
def test_it_is_not_fed_while_one_of_them_stands_still(run, thread):
    daemon, systemd, file = run
    complaints = daemon.log().count(f"no sign of life from {thread}")
    still(daemon, file, thread)
    daemon.says(f"no sign of life from {thread}", complaints + 2)
    systemd.waiting()
    daemon.says(f"no sign of life from {thread}", complaints + 2 + ROUNDS)
    assert [] == systemd.waiting()
    daemon.tell(signal.SIGUSR1)
    daemon.says(f"{thread} goes on")
    assert "WATCHDOG=1" == systemd.next()


def test_control_without_bounds_it_is_fed_although_a_thread_stands_still(tmp_path, broker, run):
    run[0].stop()
    one = watched(tmp_path, broker, FOR_EVER)
    daemon, systemd, file = next(one)
    still(daemon, file, "sender")
    let(daemon, 1)
    systemd.waiting()
    let(daemon, ROUNDS)
    assert ["WATCHDOG=1"] == sorted(set(systemd.waiting()))
    daemon.kill()
    one.close()
