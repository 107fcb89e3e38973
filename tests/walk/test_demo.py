"""The demo shares every line of the daemon but clock, broker and the channel that prints."""

import os
import re
import signal
import subprocess
import sys
import threading
import time

import pytest

from monitor.clock import Patience
from monitor.demo import demo, demo_house
from monitor.readings import DAY, HOUR
from monitor.reports.learned import learned_facts
from monitor.simulator.story import START
from monitor.site import load_settings, store_path
from parts.publisher import publish

WITHIN = 60.0
A_MINUTE = 60 * 900_000
"""What the beds live through in a minute of the demo as it is shipped; here they live four times as fast."""


class Screen:
    """What was printed, with a way to wait for it."""

    def __init__(self):
        self.texts, self._news = [], threading.Condition()

    def __call__(self, text):
        with self._news:
            self.texts.append(text)
            self._news.notify_all()

    def shows(self, *wanted, timeout=WITHIN):
        """The first text that holds all of these words, None when it does not come in time."""
        with self._news:
            self._news.wait_for(lambda: self._found(wanted), timeout)
            return self._found(wanted)

    def _found(self, wanted):
        return next((t for t in self.texts if all(w in t for w in wanted)), None)


def until(happened, timeout=WITHIN):
    patience = Patience()
    end = patience.now() + timeout
    while not happened():
        assert patience.now() < end, "it did not happen"
        time.sleep(0.005)


@pytest.fixture
def screen():
    return Screen()


def test_a_cold_notice_with_advice_is_printed_within_a_minute_of_the_first_message(screen):
    with demo_house(speed=3600, port=0, days=0, say=screen) as house:
        notice = screen.shows("to keeper", "tub", "E. eugeniae", "21 °C")
        assert house.running.clock.now() < START + A_MINUTE
    assert notice is not None
    assert "see that tub-mat is on" in notice
    assert "Nothing stops a mat" in notice or "Unplug" in notice


def test_a_strangers_number_beyond_an_at_once_limit_is_told_in_the_next_round(screen):
    with demo_house(speed=900, port=0, days=0, say=screen) as house:
        running, port = house.running, house.port
        until(lambda: running.wire.link().up)
        publish(port, [("probes/guest", b"11.0")])
        notice = screen.shows("to guest", "Guest tub")
        assert notice is not None
        assert "11.0 °C" in notice
        assert "blankets" in notice
        raised = [t for t in running.store.transitions() if t.key.subject.id == "guest"]
        arrival = running.store.latest("guest-middle")[-1].arrival
        rounds = running.store.rounds(100_000)
        told_in = next(r for r in rounds if r.at == raised[0].round_at)
        first_seen = next(r for r in rounds if r.upto_arrival >= arrival)
    assert first_seen == told_in


def test_any_other_number_of_a_stranger_is_stored_and_judged(screen):
    with demo_house(speed=900, port=0, days=0, say=screen) as house:
        running, port = house.running, house.port
        until(lambda: running.wire.link().up)
        publish(port, [("probes/guest", b"24.5")])
        until(lambda: "guest-middle" in running.rounds.stands.memory)
        assert 24.5 == running.rounds.stands.memory["guest-middle"].value
        assert 24.5 == running.store.latest("guest-middle")[-1].value
        publish(port, [("probes/guest", b"lukewarm")])
        until(running.store.refusals)
        assert "probes/guest" == running.store.refusals()[-1].topic
        assert [] == [t for t in running.store.transitions() if t.key.subject.id == "guest"]


def test_with_the_probes_silenced_no_cold_notice_appears(screen):
    with demo_house(speed=10_800, port=0, silent=True, say=screen) as house:
        running = house.running
        until(lambda: running.clock.now() > START + 14 * HOUR)
        cold = [t for t in running.store.transitions() if t.key.condition == "cold"]
    assert [] == cold
    assert screen.shows("silent", timeout=0) is not None
    assert not [t for t in screen.texts if "°C" in t]


def test_the_days_before_are_lived_by_the_same_walk_and_the_night_goes_on_from_them(screen):
    with demo_house(speed=3600, port=0, days=1, say=screen) as house:
        store, rules = house.running.store, house.running.changing.settings.rules
        day = START - DAY
        expected = {probe for probe in rules.sources() if probe != "guest-middle"}
        assert expected == {p for p in expected if len(store.window(p, day, START + 1)) >= 48}
        zones = learned_facts(store, rules, START)["zones"]
        assert {True} == {18 <= zone["hours"] <= 24 for zone in zones if zone["id"] != "guest.middle"}, zones
        assert ["mat on"] == [str(e.deed) for e in store.diary(day) if e.at < START]
        assert house.file.with_name("demo.db") == store_path(load_settings(house.file)), (
            "whoever asks why finds it"
        )
        assert screen.shows("the keeper writes: tub-mat off to work in the tub") is not None
        until(lambda: any(e.deed == "mat off" for e in store.diary(START)))
        assert {True} == {r.quality.trusted for r in store.window("tub-near", day, START + HOUR)}
    assert screen.shows("First the weeks before tonight, from 13 January on") is not None
    assert screen.shows("lived to 14 January: ") is not None


def test_whoever_stops_it_in_the_weeks_is_not_kept_waiting(screen):
    stop = threading.Event()
    stop.set()
    assert 0 == demo(speed=900, port=0, silent=False, stop=stop, stop_after=None, say=screen)
    assert screen.texts[-1] == "The demo has ended."
    assert screen.shows("A January night", timeout=0) is None


def run_demo(*options):
    return subprocess.Popen(
        [sys.executable, "-m", "monitor", "demo", "--fresh", *options],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )  # fmt: skip


def test_the_command_ends_by_itself_after_the_seconds_it_is_given():
    process = run_demo("--stop-after", "2", "--speed", "3600")
    out, errors = process.communicate(timeout=30)
    assert (0, "") == (process.returncode, errors)
    assert re.search(r"listens on 127\.0\.0\.1:\d+", out)
    assert out.endswith("The demo has ended.\n")


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_the_command_ends_cleanly_when_it_is_interrupted(how):
    process = run_demo("--speed", "2000")
    while "to keeper" not in process.stdout.readline():
        assert process.poll() is None
    process.send_signal(how)
    out, errors = process.communicate(timeout=30)
    assert (0, "") == (process.returncode, errors)
    assert out.endswith("The demo has ended.\n")
