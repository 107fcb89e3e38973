"""An orderly end that hangs: asked a second time the process is gone at once, and the next one finds everything."""

import fcntl
import os
import signal
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from parts.harm_house import QUEUE, ROOT, SOON, House, Listening, left_at_the_broker
from parts.harm_life import TRAFFIC, Talk, of_readings
from parts.mosquitto import Mosquitto
from parts.road import until

BINS = "places: {yard: {}}\nbins:" + TRAFFIC
SELDOM = 600
MANY = 9
AT_ONCE = 5.0
"""Seconds; by itself the orderly end gives up on a store that hangs after 17."""
SIGNALS = pytest.mark.parametrize(
    ("first", "second", "code"),
    [
        (signal.SIGINT, signal.SIGINT, 130),
        (signal.SIGTERM, signal.SIGTERM, 143),
        (signal.SIGTERM, signal.SIGINT, 130),
    ],
)


@pytest.fixture
def broker():
    with Mosquitto(QUEUE) as broker:
        yield broker


@pytest.fixture
def house(tmp_path, broker):
    with House(tmp_path, broker, BINS) as house:
        yield house


def asked_until_it_is_gone(process, number):
    """Its exit code. As a keeper does it: again and again."""

    def gone():
        if process.poll() is None:
            process.send_signal(number)
        return process.poll() is not None

    until(gone, "its end", AT_ONCE)
    return process.returncode


def with_readings(daemon, broker):
    with closing(Talk(broker, ["json", "plain", "both"])) as talk:
        talk.say(MANY // 3)
        talk.stop()
        daemon.says("received", MANY)
    return talk


@SIGNALS
def test_the_store_hangs_with_a_batch_in_hand_and_the_next_daemon_has_it_all(
    tmp_path, house, broker, first, second, code
):
    with Listening(tmp_path / "notify") as systemd:
        daemon = house.daemon(environ={"NOTIFY_SOCKET": systemd.path}, hold=1, tell=True, period=SELDOM).up()
        talk = with_readings(daemon, broker)
        daemon.tell(first)
        while systemd.next() != "STOPPING=1":
            pass
        daemon.says("holding a batch")
        assert code == asked_until_it_is_gone(daemon.process, second)
    assert "asked twice" in daemon.log()
    assert 0 == house.ask(lambda store: store.counted())
    last = house.daemon(tell=True).says("received", MANY)
    assert 0 == last.stop()
    with house.kept() as store:
        assert {} == {kind: what for kind, what in of_readings(store, talk).items() if what}
    assert [] == left_at_the_broker(broker)


def test_two_signals_in_the_same_moment_are_one(house, broker):
    daemon = house.daemon(tell=True, period=SELDOM).up()
    with_readings(daemon, broker)
    daemon.tell(signal.SIGSTOP)
    daemon.tell(signal.SIGINT)
    daemon.tell(signal.SIGTERM)
    daemon.tell(signal.SIGCONT)
    assert 0 == daemon.process.wait(SOON)
    assert [] == left_at_the_broker(broker)


@pytest.mark.parametrize(("number", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
def test_the_demo_whose_screen_takes_nothing_any_more(number, code):
    reader, writer = os.pipe()
    try:
        filled(writer)
        process = subprocess.Popen(
            [sys.executable, "-m", "monitor", "demo", "--fresh"], cwd=ROOT, stdout=writer, stderr=writer
        )
        try:
            until(lambda: listens_to_signals(process.pid), "it listens", SOON)
            process.send_signal(number)
            assert code == asked_until_it_is_gone(process, number)
        finally:
            process.kill()
            process.wait()
    finally:
        os.close(reader)
        os.close(writer)


def filled(pipe):
    """A pipe of one page that holds as much as it can."""
    fcntl.fcntl(pipe, fcntl.F_SETPIPE_SZ, 4096)
    os.set_blocking(pipe, False)
    os.write(pipe, bytes(4096))
    os.set_blocking(pipe, True)


def listens_to_signals(pid):
    """Whether it has begun to take them by itself: from then on Python no longer raises KeyboardInterrupt."""
    status = dict(line.split(":", 1) for line in Path(f"/proc/{pid}/status").read_text().splitlines())
    return int(status["SigBlk"], 16) >> (signal.SIGTERM - 1) & 1
