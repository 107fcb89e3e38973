"""`vermistat publish` as the process that systemd would run, and the daemon's own process killed beside a publisher."""

import os
import signal
import subprocess
import sys
import time

import pytest

from parts.harm_house import ROOT, SOON, House, Listening
from parts.mosquitto import Mosquitto
from parts.road import until
from parts.sending import Sending

BINS = """
places: {yard: {}}
bins:
  fig:
    stands_in: yard
    species: eisenia-fetida
    zones: {a: {probes: {fig: {measures: temperature, topic: probes/fig, name: fig}}}}
"""
MOST = 40.0
"""MB that a publisher of some probes may take: it is to live beside the daemon on a board of 512 MB (ours)."""


def heard(store):
    return [r.value for r in store.window("fig", 0, 1 << 60)]


def test_daemon_and_broker_are_killed_one_after_the_other_and_nothing_is_lost(tmp_path):
    """The broker with its default autosave; the daemon's own process, its SQLite and its rounds."""
    with (
        Mosquitto("max_queued_messages 0\nautosave_interval 1800") as broker,
        House(tmp_path, broker, BINS) as house,
        Sending(broker.port, "fig", site="yard", speed=20.0) as sending,
    ):
        source = sending.sources["fig"]
        daemon = house.daemon().up()
        house.until(lambda store: len(heard(store)) >= 5, "the first readings")
        until(lambda: sending.held.marked, "the first mark")
        daemon.kill()
        lost = sending.read(5)
        until(lambda: all(r.taken for r in sending.waiting() if r.value <= lost[-1]), "the broker has taken them")
        broker.kill()
        broker.start()
        daemon = house.daemon().up()
        sending.up()
        sending.read(3)
        mark = source.last
        house.until(lambda store: len([v for v in heard(store) if v <= mark]) >= mark * 8, "everything")
        assert 0 == daemon.stop()
        with house.kept() as store:
            assert [n / 8 for n in range(1, int(mark * 8) + 1)] == [v for v in heard(store) if v <= mark]


SETTINGS = """
id: shed
site: yard
broker: {{url: mqtt://127.0.0.1:{port}}}
buffer: {{file: held}}
probes:
  fig: {{onewire: 28-0316a2795b1c, every: 5 s}}
  air: {{hwmon: sht3x, channel: temp1, every: 5 s}}
"""


@pytest.fixture
def broker():
    with Mosquitto() as one:
        yield one


def publisher(tmp_path, port, **environ):
    (tmp_path / "publisher.yaml").write_text(SETTINGS.format(port=port))
    call = [sys.executable, "-m", "monitor", "publish", "--settings", str(tmp_path / "publisher.yaml")]
    with (tmp_path / "log").open("wb") as log:
        return subprocess.Popen(call, cwd=ROOT, env=os.environ | {"PYTHONPATH": str(ROOT)} | environ, stderr=log)


def megabytes(process, what):
    with open(f"/proc/{process.pid}/status", encoding="ascii") as status:
        return next(int(line.split()[1]) / 1024 for line in status if line.startswith(what))


def test_it_is_ready_lives_stays_small_and_ends_when_it_is_told_to(tmp_path, broker, record_property):
    with Listening(tmp_path / "notify") as systemd:
        process = publisher(tmp_path, broker.port, NOTIFY_SOCKET=systemd.path)
        try:
            assert "READY=1" == systemd.next()
            for _ in range(3):
                assert "WATCHDOG=1" == systemd.next()
            until(lambda: b"broker up" in (tmp_path / "log").read_bytes(), "the broker")
            until(lambda: b"No sht3x is known" in (tmp_path / "log").read_bytes(), "what is wrong is in the log")
            assert megabytes(process, "VmHWM:") <= MOST
            began = time.monotonic()
            process.send_signal(signal.SIGTERM)
            assert 0 == process.wait(SOON)
            assert time.monotonic() - began < 5
            assert "STOPPING=1" in systemd.waiting()
        finally:
            process.kill()
            process.wait()


def test_it_is_ready_although_no_broker_is_there(tmp_path):
    with Listening(tmp_path / "notify") as systemd:
        process = publisher(tmp_path, 1, NOTIFY_SOCKET=systemd.path)
        try:
            assert "READY=1" == systemd.next()
            process.send_signal(signal.SIGTERM)
            assert 0 == process.wait(SOON)
        finally:
            process.kill()
            process.wait()


def test_wrong_settings_end_it_with_78_which_systemd_does_not_start_again(tmp_path):
    process = publisher(tmp_path, "no-port")
    assert 78 == process.wait(SOON)
    assert "publisher.yaml:4:15: " in (tmp_path / "log").read_text()
