"""What each probe said last, and whether that can be believed and is recent."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from monitor import words
from monitor.checks.memory import GAPS, SHORTEST_SILENCE, ProbeMemory, from_history, is_fresh, speaks_for
from monitor.readings import Measures, Millis, Quality, Reading
from monitor.reports.saying import DOUBTS, Saying, instant, unit_of, value_words
from monitor.rules import Probe
from monitor.science.correction import corrected
from monitor.science.moisture import firm, moisture_percent
from monitor.store.promises import Store

if TYPE_CHECKING:
    from monitor.reports.shapes import ValueShape

BEYOND_ITS_POINTS = "reads outside its calibration"
LIFTED = (
    f"{BEYOND_ITS_POINTS}, drier than dry bedding can be: it has been lifted out, or wants calibrating again; "
    "not judged"
)
BEYOND = {
    1: f"{BEYOND_ITS_POINTS}, wetter than its wettest point: judged as at least {{}}; calibrate it again",
    -1: f"{BEYOND_ITS_POINTS}, drier than its driest point: judged as at most {{}}; calibrate it again",
}


@dataclass(frozen=True, slots=True)
class Heard:
    """One probe with what is remembered of it, and its newest reading of whatever quality."""

    probe: Probe
    memory: ProbeMemory
    newest: Reading | None


def heard(store: Store, probes: Iterable[Probe]) -> dict[str, Heard]:
    """By probe id, as far as the checks themselves look back for it."""
    all_ = list(probes)
    newest = store.latest_of([probe.id for probe in all_], GAPS + 1)
    return {probe.id: _heard(probe, newest[probe.id]) for probe in all_}


def heard_now(store: Store, probes: Iterable[Probe], at: Millis) -> dict[str, Heard]:
    """As `heard`, and no further back than it takes to say what is measured at this moment."""
    all_ = list(probes)
    newest = store.latest_of([probe.id for probe in all_])
    doubtful = [probe for probe in all_ if newest[probe.id] and not _speaks(newest[probe.id][0], at)]
    quick = {probe.id: _heard(probe, newest[probe.id]) for probe in all_}
    return quick | (heard(store, doubtful) if doubtful else {})


def _speaks(newest: Reading, at: Millis) -> bool:
    """Whether a newest reading says by itself what is known of its probe: how often that speaks does not matter then."""
    return newest.quality is Quality.GOOD and at - newest.at <= SHORTEST_SILENCE


def _heard(probe: Probe, readings: list[Reading]) -> Heard:
    return Heard(probe, from_history(probe, readings), readings[-1] if readings else None)


def value_facts(one: Heard, saying: Saying) -> ValueShape:
    """The newest value of one probe that can be believed."""
    probe, memory, at = one.probe, one.memory, one.memory.trusted_at
    found = None if at is None else judged_value(probe, memory.value)
    return {
        "probe": probe.id,
        "measures": str(probe.measures),
        "value": found,
        "unit": unit_of(probe.measures, calibrated=probe.judged),
        "at": None if at is None else instant(at),
        "age_seconds": None if at is None else max(0, (saying.at - at) // 1000),
        "fresh": is_fresh(probe, memory, at=saying.at),
        "doubt": doubt(one, saying),
    }


def as_read(probe: Probe, reading: Reading) -> tuple[float, str]:
    """A reading as it is judged, with its unit: wet-basis moisture where the probe has points."""
    return judged_value(probe, reading.value), unit_of(probe.measures, calibrated=probe.judged)


def judged_value(probe: Probe, value: float) -> float:
    """What a stored value is taken for: corrected, or by the points; a moisture probe's without points as it is."""
    if probe.measures is not Measures.MOISTURE:
        return round(corrected(value, offset=probe.offset, scale=probe.scale), 4)
    converted = moisture_percent(probe, value)
    return round(converted[0], 2) if converted else value


def doubted(one: Heard) -> Reading | None:
    """The newest reading, where it is not one that can be judged."""
    newest, trusted_at = one.newest, one.memory.trusted_at
    return newest if newest is not None and (trusted_at is None or speaks_for(newest) > trusted_at) else None


def doubt(one: Heard, saying: Saying) -> str | None:
    """What is the matter with the newest value of a probe, None when nothing is."""
    newest = doubted(one)
    if newest is not None:
        value, unit = as_read(one.probe, newest)
        when = "" if newest.quality is Quality.RETAINED else f" {saying.when(newest.received_at)}"
        return f"said {value_words(value, unit, saying.units)}{when}, {DOUBTS[newest.quality]}"
    return _outside(one)


def _outside(one: Heard) -> str | None:
    """What is said of a moisture probe that reads beyond its points."""
    if one.memory.trusted_at is None or one.probe.measures is not Measures.MOISTURE or not one.probe.judged:
        return None
    known = firm(one.probe, one.memory.value)
    if known is None:
        return LIFTED
    return BEYOND[known.side].format(words.percent(known.percent)) if known.side else None
