"""The daemon runs, readings arrive, and a backup is made beside it or by itself: whole, and nobody noticed. Put back after the
card was lost, the daemon goes on from there.
"""

import json
import subprocess
import sys
import time
from contextlib import closing, contextmanager

import pytest

from monitor.backing_up import looked_at, newest_in
from monitor.store.sqlite import SqliteStore
from parts.harm_house import QUEUE, ROOT, SOON, House, left_at_the_broker
from parts.harm_life import TRAFFIC, Talk, of_readings
from parts.loop_disk import formatted, mounted
from parts.mosquitto import Mosquitto
from parts.road import until

BINS = "places: {yard: {}}\nbins:" + TRAFFIC


@pytest.fixture(scope="module")
def broker():
    with Mosquitto(QUEUE) as found:
        yield found


@contextmanager
def lived(folder, broker, **wishes):
    """A house whose daemon hears readings all the time, another disk, and what talks."""
    with (
        mounted(formatted(folder / "image", 16), folder / "stick") as stick,
        House(folder, broker, BINS) as house,
        closing(Talk(broker, ["json", "plain"])) as talk,
    ):
        daemon = house.daemon(**wishes).up()
        talk.say(5)
        house.until(lambda store: store.counted() >= 10, "the first readings")
        talk.start()
        yield house, daemon, talk, stick


def called(house, *words):
    call = [sys.executable, "-m", "monitor", words[0], "--settings", str(house.settings), *map(str, words[1:])]
    environ = house.secrets() | {"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin"}
    return subprocess.run(call, env=environ, capture_output=True, text=True, check=False, timeout=SOON)


def test_by_the_command_and_back_after_the_card_was_lost(tmp_path, broker):
    with lived(tmp_path, broker) as (house, daemon, talk, stick):
        held = []
        for _ in range(2):
            # A backup is called by its second, and on a fast machine two are made in one.
            second = int(time.time())
            until(lambda second=second: int(time.time()) > second, "another second", SOON)
            done = called(house, "backup", "--to", stick, "--json")
            assert (0, "") == (done.returncode, done.stderr)
            held.append(json.loads(done.stdout)["made"])
        assert 10 <= held[0]["readings"] <= held[1]["readings"]

        refused = called(house, "restore", stick)
        assert (1, True) == (refused.returncode, "end it first" in refused.stderr)
        talk.stop()
        last = talk.say_last()
        until(lambda: house.judged("json-v", last), "the last reading is judged", SOON)
        assert 0 == daemon.stop()
        with house.kept() as store:
            everything = store.counted()
            assert {} == {kind: what for kind, what in of_readings(store, talk).items() if what}
        assert [] == left_at_the_broker(broker)
        assert not any(word in daemon.log() for word in ("NOT STORED", "came", "no sign of life", "Traceback"))

        for file in tmp_path.glob("kept.db*"):
            file.unlink()
        assert 0 == called(house, "restore", stick).returncode
        with house.kept() as store:
            assert held[1]["readings"] == store.counted() <= everything
        again = house.daemon().up()
        last = talk.say_last()
        until(lambda: house.judged("json-v", last), "readings are judged again", SOON)
        assert 0 == again.stop()


def test_by_the_daemon_itself_as_soon_as_its_settings_ask_for_it(tmp_path, broker):
    with lived(tmp_path, broker, nightly=0.2) as (house, daemon, talk, stick):
        assert "backed up to" not in daemon.log()
        house.settings.write_text(f"backup: {{to: {stick}}}\n" + house.settings.read_text())
        daemon.says("backed up to")
        folder = newest_in(stick, "yard")
        assert looked_at(folder).readings >= 10
        assert "backup:" in (folder / "settings" / "site.yaml").read_text()
        talk.stop()
        assert 0 == daemon.stop()
        assert 1 == len(list(stick.glob("vermistat-yard-*")))
        with closing(SqliteStore(folder / "store.db")) as store:
            assert store.load().last_round is not None
