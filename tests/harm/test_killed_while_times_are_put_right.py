"""A board without a clock, as a process: the true time comes, and it is killed before, in and after putting right what
was stamped until then. Nothing is moved twice, nothing is left, nothing is told twice.
"""

import json
from collections import Counter
from contextlib import closing

import pytest

from monitor.clock import time_since_boot
from monitor.readings import DAY, HOUR, SECOND, Quality
from monitor.reckoning import Belief, kept_stretch
from parts.harm_house import QUEUE, House
from parts.harm_life import Talk, iso, now
from parts.mosquitto import Mosquitto
from parts.webhook import Webhook

BINS = """
places: {yard: {}}
bins:
  vat:
    species: eisenia-fetida
    stands_in: yard
    limits: {temperature: {comfort: 15..29 °C, harm: [{above: 34 °C}]}}
    zones:
      plain: {probes: {vat-plain: {measures: temperature, topic: plain}}}
  tun:
    species: eisenia-fetida
    stands_in: yard
    limits: {temperature: {comfort: 15..29 °C, harm: [{above: 34 °C}]}}
    zones:
      own: {probes: {tun-own: {measures: temperature, topic: own, field: /v, time: /at}}}
"""
FIFTY_YEARS = 50 * 365 * DAY
SLACK = 2 * SECOND


class Night:
    """One life: a day with a right clock, a boot without one, the truth."""

    def __init__(self, folder, broker, hook):
        self.house = House(folder, broker, BINS, channels={"hook": hook.url()})
        self.clocks = folder / "clocks.json"
        self.said = {}
        """value → between which true times it was published."""

    def clock(self, boot, *, off=0, synced=False, booted=None):
        base = time_since_boot() - 20 * SECOND if booted is None else booted
        text = json.dumps({"off": off, "boot": boot, "base": base, "synced": synced})
        beside = self.clocks.with_suffix(".new")
        beside.write_text(text)
        beside.replace(self.clocks)
        return base

    def daemon(self, talk, **wishes):
        """One that has passed its marker: what it hears from now on did not wait for it."""
        daemon = self.house.daemon(machine=str(self.clocks), **wishes).up()
        known = self.house.ask(lambda store: store.last_arrival()) or 0

        def heard(store):
            talk.publish("plain", "27.9")
            return any(r.arrival > known and r.value == 27.9 for r in store.after(known))

        self.house.until(heard, "something is heard that did not wait")
        return daemon

    def say(self, talk, value):
        """Both probes say it; when this returns it has been judged."""
        before = now()
        talk.publish("plain", str(value))
        talk.publish("own", json.dumps({"v": value, "at": iso(now())}))
        self.house.until(lambda store: self._judged(store, value), f"{value} is judged")
        self.said[value] = (before, now())

    @staticmethod
    def _judged(store, value):
        upto = store.rounds(1)[0].upto_arrival if store.rounds(1) else 0
        found = [r for r in store.after(0) if r.value == value]
        return len(found) == 2 and all(r.arrival <= upto for r in found)

    def faults(self, store, bins=("tun", "vat")):
        """Whatever is not as if the clock had been right all along; of these bins also when their harm was raised."""
        readings = [r for r in store.after(0) if r.value in self.said]
        counts = Counter((r.probe, r.value) for r in readings)
        wrong = [
            (r.probe, r.value, what)
            for r in readings
            for what, at in (("at", r.at), ("received_at", r.received_at))
            if not self.said[r.value][0] - SLACK <= at <= self.said[r.value][1] + SLACK
        ]
        harm = [t for t in store.transitions() if t.key.condition == "hot" and t.event == "raised"]
        begin, end = self.said[35.0]
        told = [d for d in store.decisions(limit=1000) if d.event == "raised" and d.verdict == "told"]
        known = Counter(d.alarm for d in told if d.alarm in {t.number for t in harm})
        return {
            "times": wrong,
            "counts": {key: count for key, count in counts.items() if count != 1},
            "quality": {r.quality for r in readings} - {Quality.GOOD},
            "raised": sorted(t.key.subject.id for t in harm) != ["tun", "vat"],
            "raised when": [
                t for t in harm if t.key.subject.id in bins and not begin - SLACK <= t.at <= end + SLACK
            ],
            "told": sorted(known.values()) != [1, 1],
            "rounds": [r.at for r in store.rounds(10_000) if r.at > now() + SLACK],
        }


@pytest.fixture
def night(tmp_path):
    with Mosquitto(QUEUE) as broker, Webhook() as hook:
        night = Night(tmp_path, broker, hook)
        with night.house:
            yield night, broker


def lived(night, broker, *, kill=None, without=(), hours=3):
    """The whole life; what is wrong at its end. The last known time is so many hours too early."""
    with closing(Talk(broker)) as talk:
        night.clock("one", off=-hours * HOUR)
        first = night.daemon(talk)
        night.say(talk, 20.0)
        del night.said[20.0]
        assert 0 == first.stop()
        booted = night.clock("two", off=-FIFTY_YEARS)
        unsure = night.daemon(talk)
        night.say(talk, 28.0)
        night.say(talk, 35.0)
        night.house.until(lambda s: s.load().standing and _unsure(s), "the clock is unsure")
        unsure.kill()
        doomed = night.daemon(talk, kill=kill, without=without)
        night.say(talk, 34.5)
        night.clock("two", booted=booted, synced=True)
        if kill is not None:
            doomed.killed(kill)
            doomed = night.daemon(talk, without=without)
        night.house.until(lambda s: not _unsure(s), "the time is known")
        night.say(talk, 34.25)
        night.house.until(lambda s: not s.waiting(), "every notice is sent")
        assert 0 == doomed.stop()
    with night.house.kept() as store:
        stretch = kept_stretch(store.load().standing)
        assert Belief.PROVEN is stretch.reckoning.belief
        # A step lies where its reading did. One with a time of its own was not moved, its step was; while our clock is
        # behind, as it can only be without a false start, such a reading is EARLY and both lie at its arrival.
        bins = ("tun", "vat") if hours else ("vat",)
        return {what: found for what, found in night.faults(store, bins).items() if found}


def _unsure(store):
    stretch = kept_stretch(store.load().standing)
    return stretch is not None and stretch.reckoning.belief is Belief.UNSURE


@pytest.mark.parametrize("kill", ["shifting", "putting right", "shift commit", "shifted"])
def test_everything_lies_where_it_was_said_and_nothing_is_told_twice(night, kill):
    assert {} == lived(*night, kill=kill)


def test_also_when_the_reckoned_time_was_too_late(night):
    """The board has run for twenty seconds and was off for less than it takes to start: so it is here alone."""
    assert {} == lived(*night, hours=0)


def test_control_a_shift_that_is_no_transaction_moves_something_twice(night):
    assert "times" in lived(*night, kill="putting right", without=["shifts_in_pieces"], hours=0)
