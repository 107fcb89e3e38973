"""How a report calls things, and how it says a reading and its limit: in the site's units and local time."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

from monitor import words
from monitor.alarms.cycle import Event
from monitor.checks.evidence import AT
from monitor.checks.findings import AlarmKey, Condition, Evidence, Kind, Subject
from monitor.checks.squeezes import STATISTIC
from monitor.readings import Measures, Millis, Quality
from monitor.rules import Bin, Level, Role, Rules, Units

CALLED: Mapping[Condition, str] = {
    Condition.COLD: "too cold",
    Condition.HOT: "too hot",
    Condition.DRY: "too dry",
    Condition.WET: "too wet",
    Condition.FLOODED: "flooded",
    Condition.COLD_AHEAD: "a cold night ahead",
    Condition.HEAT_AHEAD: "heat ahead",
    Condition.MAT_DEAD: "its mat does not heat",
    Condition.MAT_STRONG: "its mat is too strong",
    Condition.MAT_UNNEEDED: "has not been needed",
    Condition.MAT_UNTRIED: "is to be tried before the cold",
    Condition.UNWATCHED: "no good probe speaks for it",
    Condition.STEP_FAILED: "could not be judged",
    Condition.ROUND_MISSED: "a round came late",
    Condition.DATABASE_LOST: "readings wait here for the database",
    Condition.BACKUP_FAILING: "no backup can be made",
    Condition.SETTINGS_REFUSED: "the changed settings are not in force",
}
"""What a condition is called behind a name; any other by its own word."""

BEST: Mapping[tuple[Measures, bool], str] = {
    (Measures.TEMPERATURE, True): "warmest",
    (Measures.TEMPERATURE, False): "coolest",
    (Measures.MOISTURE, True): "wettest",
    (Measures.MOISTURE, False): "driest",
}
"""The zone a worm would choose, against a low limit (True) or a high one."""

DOUBTS: Mapping[Quality, str] = {
    Quality.OUT_OF_RANGE: "which is impossible",
    Quality.POWER_ON: "what a chip says that has just got power",
    Quality.DISCONNECTED: "what is said for a chip that is not there",
    Quality.JUMP: "further from the value before than a bed can move",
    Quality.STUCK: "the same to the last digit for too long",
    Quality.AHEAD: "dated in the future",
    Quality.RETAINED: "kept by the broker and of unknown age",
}
"""Why a value is shown and not judged."""

_UNIT = {Measures.TEMPERATURE: "°C", Measures.HUMIDITY: "%RH", Measures.MOISTURE: "%", Measures.MASS: "kg"}
RAW = "as sent"
"""The unit of a moisture probe without two points."""


def instant(at: Millis) -> str:
    """RFC 3339 in UTC, to the second."""
    return datetime.fromtimestamp(at // 1000, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def millis(text: str) -> Millis:
    """The Millis of such a text."""
    return int(datetime.fromisoformat(text).timestamp()) * 1000


def unit_of(measures: Measures, *, calibrated: bool) -> str:
    """The unit in which a probe's value is given."""
    return RAW if measures is Measures.MOISTURE and not calibrated else _UNIT[measures]


def value_words(value: float, unit: str, units: Units, *, beside: float | None = None) -> str:
    """A value with its unit, as the keeper reads it: "21.5 °C", "70.7 °F", "72 %", "1500 as sent"."""
    if unit == "°C":
        return words.temperature(value, units, beside=beside)
    if unit == "kg":
        return words.measured(value, unit, units)
    return f"{_as_sent(value)} {RAW}" if unit == RAW else words.percent(value, beside=beside)


def _as_sent(value: float) -> str:
    """Four digits of it, and never less than whole counts: 64.23, 0.01235, 31250."""
    return f"{value:.4g}" if abs(value) < 10_000 else f"{value:.0f}"


def limit_words(value: float, unit: str, units: Units) -> str:
    """A limit with its unit: "21 °C", "69.8 °F", "70 %", "10 points"."""
    return words.limit(value, units) if unit == "°C" else f"{value:g} {unit}"


def apart_words(apart: float, unit: str, units: Units) -> str:
    """How far from a limit: "9.6 °C", "17.3 °F", "4 points"; never as if there were no difference."""
    if unit != "°C":
        return _points(apart) if apart >= 0.05 else f"less than {_points(0.1)}"
    said = words.difference(apart, units)
    return f"less than {words.difference(0.1, units)}" if said.startswith("0 ") else said


def zone_words(bed: Bin, zone: str) -> str:
    """How a zone is called inside a sentence."""
    known = next((z for z in bed.zones if z.id == zone), None)
    return "at the mat" if known is not None and known.role is Role.AT_THE_MAT else zone


@dataclass(frozen=True, slots=True)
class Saying:
    """Says things of one site at one moment."""

    rules: Rules
    at: Millis

    @property
    def units(self) -> Units:
        """What the keeper reads."""
        return self.rules.site.units

    def clock(self, at: Millis) -> str:
        """A moment by the local clock, seen from now."""
        return words.clock_time(at, self.rules.site.timezone, self.at)

    def in_week(self, at: Millis) -> str:
        """A moment of a week that is named beside it: "Thu 05:30"."""
        return words.week_time(at, self.rules.site.timezone)

    def when(self, at: Millis) -> str:
        """The same as it stands inside a sentence: "at 11:45", "yesterday 11:45", "on 3 Dec 11:45"."""
        return words.at_time(at, self.rules.site.timezone, self.at)

    def ago(self, at: Millis) -> str:
        """How long ago: "6 s", "3 h 10 min"; 0 s for what lies ahead."""
        return words.duration(max(self.at - at, 0))

    def name(self, subject: Subject) -> str:
        """Who or what: "Fig", "Fig west", "Fig at the mat", "fig-east", "Vermistat"."""
        if subject.kind not in (Kind.BIN, Kind.ZONE):
            return subject.id or "Vermistat"
        name, _, zone = subject.id.partition(".")
        bed = self.rules.bins.get(name)
        if bed is None:
            return f"{name} {zone}".strip()
        return f"{bed.name} {zone_words(bed, zone)}".strip()

    def about(self, key: AlarmKey, level: Level | None) -> str:
        """What is the matter: "Fig: too cold, harm", "fig-east: silent"."""
        harm = ", harm" if level is Level.HARM else ""
        return f"{self.name(key.subject)}: {CALLED.get(key.condition, str(key.condition))}{harm}"

    def evidence(self, evidence: Evidence, event: Event = Event.RAISED) -> str:
        """Why, as a sentence: what was measured and what it met, or what it came back past."""
        if evidence.bound is None:
            return f"{_sentence(evidence.arithmetic)}{self._canonical(evidence)}{_by_outdoors(evidence)}."
        return f"{_sentence(self._measured(evidence))}{self._met(evidence, event)}."

    def _canonical(self, evidence: Evidence) -> str:
        """Conditions without a limit have no fields to make the sentence of, only the line in °C."""
        canonical = any(said in evidence.arithmetic for said in ("last good value", "its neighbours"))
        number = canonical and self.units is Units.US
        return " (in °C, or as sent)" if number else ""

    def _measured(self, evidence: Evidence) -> str:
        if evidence.value is None:
            return "no value can be judged now"
        measures = Measures.TEMPERATURE if evidence.unit == "°C" else Measures.MOISTURE
        many = len(evidence.others) + 1
        best = f"{BEST[measures, bool(evidence.below)]} of {many} zones, {evidence.zone}: " if many > 1 else ""
        now = "" if evidence.newest is None else f" ({words.percent(evidence.newest)} now)"
        if evidence.unit == "points":
            return f"{best}moisture up by {_points(evidence.value)} within an hour{now}"
        shown = AT[evidence.side] + value_words(evidence.value, evidence.unit, self.units, beside=evidence.bound)
        if measures is Measures.TEMPERATURE:
            return f"{best}{shown}"
        if evidence.statistic == STATISTIC:
            return f"{best}{shown} moisture by a squeeze of the hand"
        day = " over a day" if evidence.statistic == "median of a day" else ""
        return f"{best}{shown} moisture{day}{now}"

    def _met(self, evidence: Evidence, event: Event) -> str:
        bound = limit_words(evidence.bound or 0.0, evidence.unit, self.units)
        if event is not Event.RETURNED:
            asked = f" (told after {words.duration(evidence.lasting)})" if evidence.lasting else ""
            return f", {self._side(evidence)} the limit of {bound}{_for(evidence.held)}{asked}"
        if evidence.clear_at is None or not evidence.held or evidence.value is None:
            return f"; the limit is {bound}"
        clear = value_words(evidence.clear_at, evidence.unit, self.units) if evidence.unit != "points" else bound
        return f", {'above' if evidence.below else 'below'} {clear} again{_for(evidence.held)}"

    def _side(self, evidence: Evidence) -> str:
        """Where the value lies from the limit, in numbers."""
        if evidence.value is None or evidence.bound is None:
            return "beyond"
        apart = abs(evidence.value - evidence.bound)
        where = "below" if evidence.value < evidence.bound else "above"
        return f"{apart_words(apart, evidence.unit, self.units)} {where}" if apart else "at"


def _for(length: Millis) -> str:
    return f" for {words.duration(length)}" if length > 0 else ""


def _points(value: float) -> str:
    shown = f"{value:.0f}" if value >= 0.95 else f"{value:.1f}"
    return f"{shown} {'point' if shown == '1' else 'points'}"


def _by_outdoors(evidence: Evidence) -> str:
    if evidence.outdoors_age is None:
        return ""
    return f"; by an outdoor forecast {words.duration(evidence.outdoors_age)} old"


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:].rstrip(".")
