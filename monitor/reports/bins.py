"""How each bin is: what its zones measure against its limits, and what is the matter beyond that.

Nothing is decided here: whether it is an alarm stands in the store. The numbers are the newest, so a bin may be
outside before its delay is full, and inside again before its alarm is over.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from monitor import words
from monitor.advice.present import present
from monitor.alarms.cycle import Alarm
from monitor.checks.delays import Phase, PhaseName
from monitor.checks.findings import AlarmKey, Condition, Kind, Subject
from monitor.checks.memory import ProbeMemory
from monitor.checks.squeezes import STATISTIC
from monitor.checks.watches import subjects, watches
from monitor.readings import Measures, Millis
from monitor.reports.probes import Heard, value_facts
from monitor.reports.saying import (
    BEST,
    CALLED,
    Saying,
    apart_words,
    instant,
    limit_words,
    millis,
    value_words,
    zone_words,
)
from monitor.rules import Bin, Harm, Level, Limits, Role, Zone

if TYPE_CHECKING:
    from monitor.reports.shapes import BinShape, OutsideShape, ZoneShape

CONDITION: Mapping[tuple[Measures, bool], Condition] = {
    (Measures.TEMPERATURE, True): Condition.COLD,
    (Measures.TEMPERATURE, False): Condition.HOT,
    (Measures.MOISTURE, True): Condition.DRY,
    (Measures.MOISTURE, False): Condition.WET,
}
"""What it is called when the value lies below (True) or above its limits."""
UNITS = {Measures.TEMPERATURE: "°C", Measures.MOISTURE: "%"}


@dataclass(frozen=True, slots=True)
class Scene:
    """All there is to say it from: what the probes said, what stands, and which delays are running."""

    saying: Saying
    heard: Mapping[str, Heard]
    memory: Mapping[str, ProbeMemory]
    """The same probes' memory alone."""
    alarms: Sequence[Alarm]
    phases: Mapping[str, Phase]
    hands: Mapping[str, Sequence[str]] = field(default_factory=dict)
    """By bin, what is said of its moisture where no calibrated probe is (`reports.hands`)."""


@dataclass(frozen=True, slots=True)
class _Judged:
    """One subject of a bin in one quantity: the zones that speak for it and what they measure now."""

    bed: Bin
    subject: Subject
    measures: Measures
    limits: Limits
    values: Mapping[str, float]


def bin_facts(bed: Bin, scene: Scene) -> BinShape:
    """One bin."""
    judged = list(_judged(bed, scene))
    outside = [(one, o) for one in judged for o in _outside(one, scene)]
    subjects_of_it = _subjects(bed) if scene.alarms else set()
    mine = [a for a in scene.alarms if a.key.subject in subjects_of_it]
    return {
        "id": bed.id,
        "name": bed.name,
        "place": bed.place,
        "species": list(bed.species),
        "sentence": _sentence(bed, judged, outside=outside, alarms=mine, scene=scene),
        "outside": [o for _, o in outside],
        "zones": [_zone(zone, scene) for zone in bed.zones],
        "alarms": [a.number for a in mine],
    }


def _subjects(bed: Bin) -> set[Subject]:
    probes = {Subject(Kind.PROBE, p.id, bed.place) for zone in bed.zones for p in zone.probes}
    zones = {Subject(Kind.ZONE, f"{bed.id}.{zone.id}", bed.place) for zone in bed.zones}
    return probes | zones | {Subject(Kind.BIN, bed.id, bed.place)}


def _zone(zone: Zone, scene: Scene) -> ZoneShape:
    values = [value_facts(scene.heard[p.id], scene.saying) for p in zone.probes if p.stands(scene.saying.at)]
    return {"id": zone.id, "role": str(zone.role), "values": values}


def _judged(bed: Bin, scene: Scene) -> Iterator[_Judged]:
    """Every subject and quantity of a bin that has a probe and a limit."""
    for subject, zones, climate in subjects(bed):
        now = {zone.id: present(zone, scene.memory, scene.saying.at) for zone in zones}
        for measures in UNITS:
            if measures in climate and any(p.measures is measures and p.judged for z in zones for p in z.probes):
                said = {
                    z: p.temperature if measures is Measures.TEMPERATURE else p.moisture for z, p in now.items()
                }
                values = {zone: value for zone, value in said.items() if value is not None}
                yield _Judged(bed, subject, measures, climate[measures], values)


# ── outside, in numbers ───────────────────────────────────────────────────────────────────────────────────────


def _outside(one: _Judged, scene: Scene) -> Iterator[OutsideShape]:
    for below in (True, False) if one.values else ():
        zone = (max if below else min)(one.values, key=lambda z: one.values[z])
        value = one.values[zone]
        harm = _harm(one.limits, value, below=below)
        comfort = one.limits.low if below else one.limits.high
        out = comfort is not None and (value <= comfort.value if below else value >= comfort.value)
        bound = comfort if out and comfort else harm.bound if harm else None
        if bound is None:
            continue
        key = AlarmKey(one.subject, CONDITION[one.measures, below])
        alarm = next((a for a in scene.alarms if a.key == key and a.active), None)
        yield {
            "subject": str(one.subject),
            "zone": zone,
            "condition": str(key.condition),
            "level": str(Level.HARM if harm else Level.COMFORT),
            "value": round(value, 4),
            "limit": bound.value,
            "apart": round(abs(value - bound.value), 4),
            "unit": UNITS[one.measures],
            "alarm": alarm.number if alarm else None,
            "alarm_at": _next_step(one.bed, key, alarm, scene),
        }


def _harm(limits: Limits, value: float, *, below: bool) -> Harm | None:
    """The furthest harm that the value has met, whatever its delay."""
    met = [
        h
        for h in limits.harm
        if h.below is below and (value <= h.bound.value if below else value >= h.bound.value)
    ]
    return (min if below else max)(met, key=lambda h: h.bound.value, default=None)


def _next_step(bed: Bin, key: AlarmKey, alarm: Alarm | None, scene: Scene) -> str | None:
    """When the next delay is full if it lasts: the alarm, or its rise to harm."""
    due: list[Millis] = []
    for watch in watches(bed):
        phase = scene.phases.get(watch.name)
        worse = alarm is None or (alarm.level is Level.COMFORT and watch.level is Level.HARM)
        if watch.key == key and worse and phase is not None and phase.name == PhaseName.PENDING:
            due.append(phase.since + watch.on_delay)
    return instant(min(due)) if due and min(due) > scene.saying.at else None


# ── in a sentence ─────────────────────────────────────────────────────────────────────────────────────────────


Outside = tuple[_Judged, "OutsideShape"]


def _sentence(
    bed: Bin, judged: Sequence[_Judged], *, outside: Sequence[Outside], alarms: Sequence[Alarm], scene: Scene
) -> str:
    told = {o["alarm"] for _, o in outside}
    out = [_out_words(one, o, scene) for one, o in outside]
    inside = _inside_words(bed, judged, {(one.subject, one.measures) for one, _ in outside}, scene)
    rest = [_alarm_words(a, scene.saying) for a in alarms if a.number not in told]
    return "; ".join([*out, *inside, *rest]) + "."


def _out_words(one: _Judged, o: OutsideShape, scene: Scene) -> str:
    """In what the bin is outside, by how much, and whether that is an alarm."""
    units, below = scene.saying.units, o["condition"] in (Condition.COLD, Condition.DRY)
    value = value_words(o["value"], o["unit"], units, beside=o["limit"])
    apart = f"by {apart_words(o['apart'], o['unit'], units)}" if o["apart"] else "at the limit"
    harm = _harm(one.limits, o["value"], below=below)
    side = "below" if below else "above"
    bounds = [_band(one.limits, o["unit"], scene)]
    if harm is not None:
        bounds.append(f"harm at {limit_words(harm.bound.value, o['unit'], units)} or {side}")
    said = f"{CALLED[Condition(o['condition'])]} {apart}: {_whose(one, o, below=below)}{value}"
    return f"{', '.join(filter(None, [said, *bounds]))} ({_step_words(o, scene)})"


def _whose(one: _Judged, o: OutsideShape, *, below: bool) -> str:
    """The zone whose value it is; for the bin as a whole also that none of its others is better."""
    what = "moisture " if one.measures is Measures.MOISTURE else ""
    living = [z for z in one.bed.zones if z.role is Role.LIVING]
    if one.subject.kind is Kind.BIN and len(one.values) > 1:
        return f"{BEST[one.measures, below]} living zone, {o['zone']}, {what}"
    return what if [z.id for z in living] == [o["zone"]] else f"{zone_words(one.bed, o['zone'])} {what}"


def _step_words(o: OutsideShape, scene: Scene) -> str:
    alarm = next((a for a in scene.alarms if a.number == o["alarm"]), None)
    due = scene.saying.clock(millis(o["alarm_at"])) if o["alarm_at"] else None
    if alarm is None:
        return f"an alarm at {due} if it lasts" if due else "no alarm so far"
    level = ", harm" if alarm.level is Level.HARM else ""
    return f"alarm {alarm.number}{level}{f'; harm at {due} if it lasts' if due else ''}"


def _alarm_words(alarm: Alarm, saying: Saying) -> str:
    """An alarm that the numbers of this moment do not show."""
    number = f"alarm {alarm.number}"
    if not alarm.active:
        return f"{CALLED.get(alarm.key.condition, alarm.key.condition)} is over and not seen yet ({number})"
    if alarm.evidence.statistic == STATISTIC:
        return f"{CALLED[alarm.key.condition]} by a squeeze of the hand ({number})"
    if alarm.key.condition in CONDITION.values():
        return f"{number} ({saying.about(alarm.key, alarm.level).partition(': ')[2]}) has still to end"
    if alarm.key.subject.kind is Kind.PROBE:
        return f"{alarm.key.subject.id} {alarm.key.condition} ({number})"
    return f"{CALLED.get(alarm.key.condition, alarm.key.condition)} ({number})"


def _inside_words(
    bed: Bin, judged: Sequence[_Judged], out: Collection[tuple[Subject, Measures]], scene: Scene
) -> Iterator[str]:
    """What is all right where worms live, and what nobody knows."""
    living = {z.id for z in bed.zones if z.role is Role.LIVING}
    for measures in UNITS:
        known = [one for one in judged if one.measures is measures and living & one.values.keys()]
        right = [one for one in known if (one.subject, measures) not in out]
        if right:
            yield _right_words(right, scene, named=len(right) < len(known))
        elif not known:
            yield from _unknown_words(bed, measures, scene.hands.get(bed.id, ()))


def _right_words(right: Sequence[_Judged], scene: Scene, *, named: bool) -> str:
    """ "23.0 to 24.0 °C is all right"; `named`: with the zones, because not all of them are."""
    unit = UNITS[right[0].measures]
    known = {zone: value for one in right for zone, value in one.values.items()}
    ends = (min(known.values()), max(known.values()))
    lowest, highest = (value_words(v, unit, scene.saying.units) for v in ends)
    bands = " or ".join(filter(None, dict.fromkeys(_band(one.limits, unit, scene) for one in right)))
    whose = f"{words.joined(list(known))} " if named else ""
    what = "moisture " if unit == "%" else ""
    shown = highest if lowest == highest else _from_to(lowest, highest)
    return f"{whose}{what}{shown} is all right" + (f" ({bands})" if bands else "")


def _from_to(low: str, high: str) -> str:
    """Two values of one unit, which is said once: "21 to 29 °C"."""
    return f"{low.rpartition(' ')[0]} to {high}"


def _band(limits: Limits, unit: str, scene: Scene) -> str:
    """ "comfort 21 to 29 °C", "comfort from 10 °C"; empty where there is no such limit."""
    low, high = limits.low, limits.high
    units = scene.saying.units
    if low is not None and high is not None:
        return f"comfort {_from_to(limit_words(low.value, unit, units), limit_words(high.value, unit, units))}"
    if low is not None:
        return f"comfort from {limit_words(low.value, unit, units)}"
    return f"comfort up to {limit_words(high.value, unit, units)}" if high is not None else ""


def _unknown_words(bed: Bin, measures: Measures, hands: Sequence[str]) -> Iterator[str]:
    probes = [p for z in bed.zones if z.role is Role.LIVING for p in z.probes if p.measures is measures]
    if measures is Measures.TEMPERATURE:
        yield "nobody knows how warm it is"
    elif any(p.judged for p in probes):
        yield "nobody knows how moist it is"
    elif probes:
        yield "moisture is shown, not judged: no calibration" + "".join(f"; {said}" for said in hands)
    else:
        yield from hands
