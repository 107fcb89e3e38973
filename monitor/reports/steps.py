"""Calibrating step by step, over days: each step is a note about the probe in the diary, and what has been done so far is read
back from there. So it survives a closed page, another phone and a restart, and what was mistyped is put right by a new note.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from monitor import words
from monitor.errors import BadValue
from monitor.readings import DAY, Measures, Millis, Quality, Reading
from monitor.reports.calibrating import ice_sentence, offset_line, point_lines, tub_sentences
from monitor.reports.saying import Saying, millis
from monitor.reports.shapes import JottingShape
from monitor.rules import Probe
from monitor.science import ice, tubs
from monitor.science.tubs import Tub, Weighed, points_of, settled

LASTS: Millis = 21 * DAY
"""So old a step at most belongs to the calibration at hand: drying two tubs takes two days (proposal)."""
IN_ICE_FOR: Millis = DAY
MOST_TUBS = 5

BEGUN = "Calibration begun anew."
IN_ICE = "Calibration: it hangs in melting ice."
_NUMBER = r"(\d+(?:\.\d+)?)"
_IN = re.compile(r"Calibration, tub (\d): it is in it\.")
_SENDS = re.compile(rf"Calibration, tub (\d): it sends {_NUMBER}\.")
_WET = re.compile(rf"Calibration, tub (\d): {_NUMBER} g wet, in a dish of {_NUMBER} g, on scales of {_NUMBER} g\.")
_DRY = re.compile(rf"Calibration, tub (\d): {_NUMBER} g dry\.")


@dataclass(frozen=True, slots=True)
class TubSoFar:
    """What has been done with one tub. `since` is when the probe went in, the weights are in grams, dish included."""

    number: int
    since: Millis | None = None
    counts: float | None = None
    wet: float | None = None
    dish: float = 0.0
    step: float = 1.0
    dry: float | None = None
    dried: Millis | None = None

    @property
    def weighed(self) -> Weighed | None:
        """Both weighings; None while one is missing. Raises BadValue for what cannot be."""
        if self.wet is None or self.dry is None:
            return None
        return Weighed(wet=self.wet, dry=self.dry, dish=self.dish, step=self.step)

    @property
    def whole(self) -> Tub | None:
        """The tub as a point; None while a step is missing or the weights cannot be."""
        try:
            weighed = self.weighed
        except BadValue:
            return None
        return None if weighed is None or self.counts is None else Tub(self.counts, weighed)


def in_it(tub: int) -> str:
    """The note that the probe is in a tub now."""
    return f"Calibration, tub {tub}: it is in it."


def sends(tub: int, counts: float) -> str:
    """The note of what it sends there."""
    return f"Calibration, tub {tub}: it sends {_plain(counts)}."


def wet(tub: int, grams: float, *, dish: float, step: float) -> str:
    """The note of the first weighing."""
    return f"Calibration, tub {tub}: {_plain(grams)} g wet, in a dish of {_plain(dish)} g, on scales of {_plain(step)} g."


def dry(tub: int, grams: float) -> str:
    """The note of the second."""
    return f"Calibration, tub {tub}: {_plain(grams)} g dry."


def _plain(value: float) -> str:
    return f"{value:.6f}".rstrip("0").rstrip(".")


def so_far(entries: Iterable[JottingShape], probe: str, at: Millis) -> tuple[TubSoFar, ...]:
    """The tubs of a probe, the first two always there, out of the diary's entries as `diary_facts` has them."""
    found: dict[int, TubSoFar] = {}
    for entry in _mine(entries, probe, at, LASTS):
        if entry["text"] == BEGUN:
            found = {}
        else:
            _take(found, entry)
    last = min(max([2, *found]), MOST_TUBS)
    return tuple(found.get(n, TubSoFar(n)) for n in range(1, last + 1))


def _mine(entries: Iterable[JottingShape], probe: str, at: Millis, lasts: Millis) -> list[JottingShape]:
    mine = [
        e
        for e in entries
        if e["subject"] == f"probe:{probe}" and e["corrected_by"] is None and at - lasts <= millis(e["at"]) <= at
    ]
    return sorted(mine, key=lambda e: e["number"] or 0)


def _take(found: dict[int, TubSoFar], entry: JottingShape) -> None:
    text, when = entry["text"], millis(entry["at"])
    match = next((m for pattern in (_IN, _SENDS, _WET, _DRY) if (m := pattern.fullmatch(text))), None)
    if match is None:
        return
    number = int(match[1])
    tub = found.get(number, TubSoFar(number))
    if match.re is _IN:
        tub = replace(tub, since=when, counts=None)
    elif match.re is _SENDS:
        tub = replace(tub, counts=float(match[2]))
    elif match.re is _WET:
        tub = replace(tub, wet=float(match[2]), dish=float(match[3]), step=float(match[4]), dry=None, dried=None)
    else:
        tub = replace(tub, dry=float(match[2]), dried=when)
    found[number] = tub


def in_ice_since(entries: Iterable[JottingShape], probe: str, at: Millis) -> Millis | None:
    """When the probe went into the ice; None when it did not, or so long ago that it is water."""
    found = [e for e in _mine(entries, probe, at, IN_ICE_FOR) if e["text"] in (IN_ICE, BEGUN)]
    return millis(found[-1]["at"]) if found and found[-1]["text"] == IN_ICE else None


# ── what the probe has sent since ─────────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, slots=True)
class Sent:
    """What a probe has sent in its tub: how many readings, and either what it has settled to or why it has not."""

    count: int
    counts: float | None
    why_not: str


def sent_there(readings: Sequence[Reading]) -> Sent:
    """Of the readings since it went in, the last few that are believed."""
    values = [one.value for one in readings if _counts(one)]
    try:
        return Sent(len(values), settled(values[-tubs.FEWEST :]), "")
    except BadValue as error:
        return Sent(len(values), None, words.sentence(error))


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a calibration has come to: its arithmetic, the lines to paste, or why there are none yet."""

    sentences: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    why_not: str = ""


def outcome_of_tubs(found: Sequence[TubSoFar], probe: Probe, saying: Saying) -> Outcome:
    """The lines that tubs carry; none while fewer than two are whole, or while they carry no line."""
    whole = [tub for one in found if (tub := one.whole) is not None]
    if len(whole) < 2:
        return Outcome(tuple(tub_sentences(whole)))
    try:
        points = points_of(whole)
    except BadValue as error:
        return Outcome(tuple(tub_sentences(whole)), why_not=words.sentence(error))
    last = max(one.dried for one in found if one.dried is not None)
    taken = words.local(last, saying.rules.site.timezone).date()
    lines = (f"{probe.id}:", *(f"  {line}" for line in ("sends: counts", *point_lines(points, taken=taken))))
    return Outcome(tuple(tub_sentences(points)), lines)


def outcome_in_ice(readings: Sequence[Reading], probe: Probe, saying: Saying) -> Outcome:
    """What a thermometer in ice comes to, by the last few of its readings since it hangs there."""
    values = [one.value for one in readings if _counts(one)][-ice.FEWEST :]
    try:
        found = ice.in_ice(values)
    except BadValue as error:
        return Outcome(why_not=words.sentence(error))
    line = offset_line(found, saying.units)
    return Outcome((ice_sentence(found, saying.units),), (f"{probe.id}:", f"  {line}") if line else ())


def _counts(reading: Reading) -> bool:
    """What a chip says that is not there is no reading; one that jumps or stands still may be in a tub or in ice."""
    return reading.quality.trusted or reading.quality in (Quality.JUMP, Quality.STUCK)


def can_be_calibrated(probe: Probe) -> tuple[str, ...]:
    """The roads for a probe: `tubs` and `handfuls` for moisture, `ice` for a thermometer."""
    if probe.measures is Measures.MOISTURE:
        return ("tubs", "handfuls")
    return ("ice",) if probe.measures is Measures.TEMPERATURE else ()
