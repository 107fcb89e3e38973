"""How the daemon begins: ready before the broker is there, and never two on one store."""

import subprocess
import sys
from contextlib import closing

import pytest

from parts.harm_house import QUEUE, ROOT, SOON, House, Listening
from parts.harm_life import TRAFFIC, Talk
from parts.mosquitto import Mosquitto

BINS = "places: {yard: {}}\nbins:" + TRAFFIC


@pytest.fixture
def broker():
    with Mosquitto(QUEUE, start=False) as broker:
        yield broker


@pytest.fixture
def house(tmp_path, broker):
    with House(tmp_path, broker, BINS) as house:
        yield house


def a_reading_is_kept(house, broker):
    before = house.ask(lambda store: store.counted())
    with closing(Talk(broker, ["json"])) as talk:
        talk.say()
    house.until(lambda store: store.counted() == before + 1, "the reading")


def test_it_is_ready_before_the_broker_answers_and_hears_it_later(tmp_path, house, broker):
    with Listening(tmp_path / "notify") as systemd:
        daemon = house.daemon(environ={"NOTIFY_SOCKET": systemd.path})
        assert "READY=1" in (systemd.next(), systemd.next())
        assert "broker up" not in daemon.log()
        broker.start()
        daemon.up()
        a_reading_is_kept(house, broker)
        systemd.waiting()
        assert 0 == daemon.stop()
        assert "STOPPING=1" in systemd.waiting()


def test_a_second_daemon_is_refused_while_the_first_lives_on(house, broker):
    broker.start()
    first = house.daemon().up()
    second = subprocess.run(
        [sys.executable, "-m", "monitor", "run", "--settings", house.settings],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=SOON,
        check=False,
    )
    assert 1 == second.returncode
    assert f"{house.store} is held by process {first.process.pid}" in second.stderr
    assert "Traceback" not in second.stderr
    a_reading_is_kept(house, broker)
    first.kill()
    assert 0 == house.daemon().up().stop()
