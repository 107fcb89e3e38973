"""Why, in numbers: what is measured, the limit it met and where that comes from, in the keeper's units."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from monitor import words
from monitor.advice.scene import Scene, limits_of, worm_of, zone_of
from monitor.alarms.cycle import Alarm
from monitor.bed.forecast import Side
from monitor.bed.living import Told
from monitor.bed.unsure import QUICK, cools_quickly
from monitor.bed.zone import used
from monitor.checks.ahead import CONDITIONS, ByOutdoors, by_hand, by_outdoors, chance_words, outdoors_of
from monitor.checks.evidence import AT
from monitor.checks.findings import Condition, Evidence
from monitor.checks.squeezes import STATISTIC
from monitor.readings import MINUTE, Measures
from monitor.rules import Bin, Bound, Level, Limits, Role, Zone


@dataclass(frozen=True, slots=True)
class Reason:
    """`why` is a line that begins with reading and limit, `fact` the reading in few words."""

    why: str
    fact: str
    more: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Side:
    """What a condition measures, and on which side of its limit the trouble lies."""

    measures: Measures
    below: bool
    best: str
    """How the zone is called that a worm would choose."""


_SIDES: Mapping[Condition, _Side] = {
    Condition.COLD: _Side(Measures.TEMPERATURE, True, "Warmest"),
    Condition.HOT: _Side(Measures.TEMPERATURE, False, "Coolest"),
    Condition.DRY: _Side(Measures.MOISTURE, True, "Wettest"),
    Condition.WET: _Side(Measures.MOISTURE, False, "Driest"),
}


def reason(scene: Scene, alarm: Alarm, bed: Bin) -> Reason:
    """Why this alarm of a bin or its zone stands, as things are now."""
    side = _SIDES.get(alarm.key.condition)
    since = f"since {words.clock_time(alarm.since, scene.tz, scene.at)}"
    if side is None:
        return _without_a_side(scene, alarm, since)
    where, value, fresh = _measured(scene, alarm, bed, side)
    bound = _bound(alarm, bed, side)
    limit = _limit(scene, alarm, bed, side, bound)
    if value is None:
        return Reason(f"Not measured now, {limit}; {since}.", "not measured now", _more(scene, alarm, bed, bound))
    at = AT[alarm.evidence.side] if value == alarm.evidence.value else ""
    shown = at + _shown(scene, value, side, bound.value if bound else None)
    now = _now(scene, alarm, bed, side)
    at_zone = _at_zone(where, alarm, bed, side)
    text = f"{at_zone}{'' if fresh else ' was'} {shown}{now}, {limit}; {since}."
    fact = _fact(where, bed, shown, side)
    return Reason(text, fact if fresh else fact.replace(" is ", " was "), _more(scene, alarm, bed, bound))


def limit_words(scene: Scene, alarm: Alarm, bed: Bin) -> str:
    """The limit alone: "comfort for E. eugeniae from 21 °C"; empty for conditions without one."""
    side = _SIDES.get(alarm.key.condition)
    return "" if side is None else _limit(scene, alarm, bed, side, _bound(alarm, bed, side))


def zone_words(zone: Zone) -> str:
    """How a zone is called inside a sentence."""
    return "at the mat" if zone.role is Role.AT_THE_MAT else zone.id


def fact_of(scene: Scene, bed: Bin, zone: Zone) -> str:
    """A zone's temperature in few words: "west is 14.2 °C"; empty when nobody knows."""
    value = scene.present(bed.id, zone.id).temperature
    return (
        "" if value is None else _fact(zone.id, bed, words.temperature(value, scene.units), _SIDES[Condition.COLD])
    )


def worms_words(bed: Bin) -> str:
    """For whom a limit holds: "E. eugeniae", or "its worms" when several live together or none is known."""
    worm = worm_of(bed)
    if worm is None or len(bed.species) > 1:
        return "its worms"
    genus, _, rest = worm.latin.partition(" ")
    return f"{genus[0]}. {rest}"


def _without_a_side(scene: Scene, alarm: Alarm, since: str) -> Reason:
    evidence = alarm.evidence
    if alarm.key.condition in CONDITIONS:
        return _ahead(scene, alarm)
    if alarm.key.condition is Condition.FLOODED and evidence.value is not None:
        limit = f" (limit {evidence.bound:.0f})" if evidence.bound is not None else ""
        now = f", {words.percent(evidence.newest)} now" if evidence.newest is not None else ""
        fact = f"moisture up {evidence.value:.0f} points"
        return Reason(
            f"{fact.capitalize()} within an hour{limit}{now}; {since}.", fact, _source(scene, alarm, None)
        )
    return Reason(f"{_sentence(evidence.arithmetic)}; {since}.", str(alarm.key.condition), ())


def _ahead(scene: Scene, alarm: Alarm) -> Reason:
    """What is told now of the zone that decides; as it was when it was raised where nothing is told now."""
    bed, _, zone = alarm.key.subject.id.partition(".")
    zone = zone or alarm.evidence.zone or ""
    told = scene.nights.get(f"{bed}.{zone}")
    forecast = told.forecast if told else None
    cold = alarm.key.condition is Condition.COLD_AHEAD
    limit = (told.limits[0] if cold else told.limits[1]) if told else None
    if told is None or forecast is None or limit is None:
        return Reason(
            f"{_sentence(alarm.evidence.arithmetic)}.", str(alarm.key.condition), _source(scene, alarm, None)
        )
    side = forecast.alarm[0 if cold else 1]
    point, low, high, now = (
        words.temperature(t, scene.units) for t in (side.point, side.low, side.high, forecast.now)
    )
    edge = words.limit(limit, scene.units)
    where, way = ("below", "down") if cold else ("above", "up")
    chance = chance_words(side.chance or 0.0)
    crossing = forecast.below if cold else forecast.above
    when = ""
    if crossing is not None and crossing.likely is not None:
        when = f", from about {words.clock_time(crossing.likely, scene.tz, scene.at)}"
    expected = f"expected {way} to {point} within {side.hours} h, limit {edge}"
    why = f"{_sentence(zone)} is {now}; {expected}: {chance} likely {where}{when}."
    if outdoors_of(told) is ByOutdoors.LOST:
        why = " ".join((why, *by_outdoors(told)))
    more = (*_how_told(scene, told, side, low, high), *_source(scene, alarm, None))
    return Reason(why, f"{chance} {where} {edge}", more)


def _how_told(scene: Scene, told: Told, side: Side, *ends: str) -> Iterator[str]:
    """The arithmetic of what is told: the numbers of the bed, its room, and its own errors."""
    assert told.forecast is not None  # noqa: S101 - asked by whoever has looked
    if cools_quickly(told.bed.learned.zone):
        yield QUICK
    a, b, c = used(told.bed.learned.zone)
    units, forecast = scene.units, told.forecast
    path = forecast.paths[len(forecast.paths) // 2]
    adds = f", its mat adds {words.difference(b, units)} an hour while it is on" if b else ""
    yield (
        f"Each hour it goes {a * 100:.1f} % of the way to its room{adds}, and {words.difference(c, units)} "
        f"{'more' if c >= 0 else 'less'} by all else; learned in {told.bed.learned.zone.excited} hours."
    )
    air = told.room.past[-1] if told.room.past else None
    around = "" if air is None else f", {words.temperature(air, units)} now"
    duties = forecast.unhelped[len(forecast.unhelped) // 2] if forecast.unhelped else path.duties
    on = sum(duties[: side.hours]) / side.hours
    mat = (
        f"; its mat taken to be on for {on:.0%} of the time".replace("%", " %")
        if told.bed.learned.zone.warmed
        else ""
    )
    yield f"Rolled out over {side.hours} h with {forecast.air}{around}{mat}: {words.temperature(side.rolled, units)}."
    moved = side.point - side.rolled
    by = f"{words.difference(moved, units)} {'more' if moved >= 0 else 'less'}"
    yield f"Its own errors make that {by}, and between {words.joined(ends)} nine times in ten ({forecast.dressed})."
    yield from by_hand(told, lambda at: words.clock_time(at, scene.tz, scene.at))
    yield from by_outdoors(told)


def _measured(scene: Scene, alarm: Alarm, bed: Bin, side: _Side) -> tuple[str, float | None, bool]:
    """The zone that decides, what it measures, and whether that is of now: else it is what was judged."""
    zone, evidence = zone_of(alarm, bed), alarm.evidence
    if (alarm.key.condition is Condition.DRY or evidence.statistic == STATISTIC) and evidence.value is not None:
        return (zone.id if zone else evidence.zone or ""), evidence.value, True  # a day's median, not the moment
    candidates = [zone] if zone else [z for z in bed.zones if z.role is Role.LIVING]
    known = {z.id: v for z in candidates if (v := _value(scene, bed, z, side.measures)) is not None}
    if known:
        best = (max if side.below else min)(known, key=lambda z: known[z])
        return best, known[best], True
    return (zone.id if zone else evidence.zone or ""), evidence.value, False


def _value(scene: Scene, bed: Bin, zone: Zone, measures: Measures) -> float | None:
    present = scene.present(bed.id, zone.id)
    return present.temperature if measures is Measures.TEMPERATURE else present.moisture


def _now(scene: Scene, alarm: Alarm, bed: Bin, side: _Side) -> str:
    """Beside a day's median, what the probe says this moment."""
    if alarm.evidence.statistic == STATISTIC:
        return " by a squeeze of the hand"
    if alarm.key.condition is not Condition.DRY:
        return ""
    zone = zone_of(alarm, bed)
    zones = [zone] if zone else [z for z in bed.zones if z.role is Role.LIVING]
    known = [v for z in zones if (v := _value(scene, bed, z, side.measures)) is not None]
    return f" over a day ({words.percent(max(known))} now)" if known else " over a day"


def _bound(alarm: Alarm, bed: Bin, side: _Side) -> Bound | None:
    evidence = alarm.evidence
    if evidence.bound is not None:
        return Bound(evidence.bound, evidence.source, evidence.mark)
    limits = limits_of(bed, zone_of(alarm, bed), side.measures)
    return _harm_bound(limits, side) if alarm.level is Level.HARM else (limits.low if side.below else limits.high)


def _harm_bound(limits: Limits, side: _Side) -> Bound | None:
    found = [h.bound for h in limits.harm if h.below is side.below]
    return (max if side.below else min)(found, key=lambda bound: bound.value, default=None)


def _limit(scene: Scene, alarm: Alarm, bed: Bin, side: _Side, bound: Bound | None) -> str:
    whose = "by your own limit" if bound and bound.mark == "settings" else f"for {worms_words(bed)}"
    if bound is None:
        return f"{alarm.level or 'outside comfort'} {whose}"
    shown = (
        words.limit(bound.value, scene.units)
        if side.measures is Measures.TEMPERATURE
        else words.percent(bound.value)
    )
    if alarm.level is not Level.HARM:
        return f"comfort {whose} {'from' if side.below else 'up to'} {shown}"
    lasting = f" for {words.duration(alarm.evidence.lasting)}" if alarm.evidence.lasting else ""
    return f"harm {whose} at {shown} or {'below' if side.below else 'above'}{lasting}"


def _shown(scene: Scene, value: float, side: _Side, beside: float | None) -> str:
    if side.measures is Measures.TEMPERATURE:
        return words.temperature(value, scene.units, beside=beside)
    return words.percent(value, beside=beside)


def _at_zone(where: str, alarm: Alarm, bed: Bin, side: _Side) -> str:
    """What was measured where, to begin a line: "Warmest living zone", "West", "Moisture"."""
    zone = zone_of(alarm, bed)
    if side.measures is Measures.MOISTURE:
        return "Moisture" if zone is None else f"Moisture {_in(zone)}"
    if _is_the_bed(bed, where):
        return "Bed"
    return f"{side.best} living zone" if zone is None else _sentence(zone_words(zone))


def _is_the_bed(bed: Bin, zone: str) -> bool:
    """Whether a zone is the only one that worms live in: then its name says nothing."""
    return [zone] == [z.id for z in bed.zones if z.role is Role.LIVING]


def _in(zone: Zone) -> str:
    return zone_words(zone) if zone.role is Role.AT_THE_MAT else f"in {zone.id}"


def _fact(where: str, bed: Bin, shown: str, side: _Side) -> str:
    if side.measures is Measures.MOISTURE:
        return f"moisture is {shown}"
    zone = next((z for z in bed.zones if z.id == where), None)
    if zone is not None and zone.role is Role.AT_THE_MAT:
        return f"{shown} at the mat"
    if _is_the_bed(bed, where):
        return f"the bed is {shown}"
    return f"{where if 0 < len(where) <= 16 else 'it'} is {shown}"


def _more(scene: Scene, alarm: Alarm, bed: Bin, bound: Bound | None) -> tuple[str, ...]:
    side = _SIDES[alarm.key.condition]
    lines = [_zone_line(scene, bed, z, side.measures) for z in bed.zones]
    read = "; ".join(line for line in lines if line)
    readings = (f"Read now: {read}.",) if read else ()
    return (*readings, *_source(scene, alarm, bound), *_deadband(scene, alarm.evidence, side))


def _zone_line(scene: Scene, bed: Bin, zone: Zone, measures: Measures) -> str:
    present = scene.present(bed.id, zone.id)
    if measures is Measures.TEMPERATURE:
        if present.temperature is None:
            return ""
        return f"{zone.id} {words.temperature(present.temperature, scene.units)}{_age(present.temperature_age)}"
    if present.moisture is None:
        return ""
    spread = f" ± {present.spread:.0f} points" if present.spread else ""
    return f"{zone.id} {words.percent(present.moisture)}{spread}{_age(present.moisture_age)}"


def _age(age: int) -> str:
    return f" ({words.duration(age)} ago)" if age >= MINUTE else ""


def _source(scene: Scene, alarm: Alarm, bound: Bound | None) -> tuple[str, ...]:
    source = bound.source if bound else alarm.evidence.source
    mark = bound.mark if bound else alarm.evidence.mark
    return (f"The limit comes from: {source} ({mark}).",) if source else ()


def _deadband(scene: Scene, evidence: Evidence, side: _Side) -> tuple[str, ...]:
    if evidence.clear_at is None:
        return ()
    shown = _shown(scene, evidence.clear_at, side, evidence.bound)
    return (f"It ends once it has stayed {'above' if side.below else 'below'} {shown}.",)


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:].rstrip(".")
