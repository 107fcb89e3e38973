"""A week in sentences: how each bin was, and what to look at in the next one."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from monitor import words
from monitor.readings import HOUR, MINUTE, Measures
from monitor.reports.saying import Saying, millis, value_words
from monitor.reports.week_shapes import BandShape, WeekAlarmShape, WeekBinShape, WeekShape, WeekZoneShape
from monitor.rules import Units
from monitor.science.units import difference_in

OFTEN = 3
"""Alarms of one bin in a week from which its limits are worth a look (proposal)."""
LONG_UNSEEN = 12 * 60
"""Minutes until somebody saw an alarm that are worth a word (proposal)."""
MUCH = 0.1
"""The share of the known hours outside comfort that is worth a word (proposal)."""
GAPPY = 0.1
"""The share of a week without a reading that is worth a word (proposal)."""
NEAR_DRY = 2.0
"""Points above the dry limit that are worth a word (proposal)."""
FEW = 3
_TEMPERATURE, _MOISTURE = str(Measures.TEMPERATURE), str(Measures.MOISTURE)


def site_sentence(facts: WeekShape) -> str:
    """The whole week in a line."""
    beds = facts["bins"]
    hurt = [bed["name"] for bed in beds if _hours_in_harm(bed)]
    out = [bed["name"] for bed in beds if bed["name"] not in hurt and _hours_out(bed)]
    unknown = [bed["name"] for bed in beds if not any(zone["known"] for zone in bed["zones"])]
    alarms = sum(len(bed["alarms"]) for bed in beds)
    said = [
        f"{words.joined(hurt[:FEW])}{_more(hurt)} {_were(hurt)} in harm" if hurt else "",
        f"{words.joined(out[:FEW])}{_more(out)} {_were(out)} outside comfort for a while" if out else "",
        f"nothing is known of {words.joined(unknown[:FEW])}{_more(unknown)}" if unknown else "",
    ]
    how = "; ".join(filter(None, said)) or "every bin stayed in comfort"
    return f"{how[0].upper()}{how[1:]}. {words.amount(alarms, 'alarm') if alarms else 'No alarm'}."


def _more(names: Sequence[str]) -> str:
    return f" and {len(names) - FEW} more" if len(names) > FEW else ""


def _were(names: Sequence[str]) -> str:
    return "was" if len(names) == 1 else "were"


def _zones(bed: WeekBinShape, living: Collection[str], measures: str) -> list[WeekZoneShape]:
    return [z for z in bed["zones"] if z["zone"] in living and z["measures"] == measures]


def _out(band: BandShape | None) -> float:
    return band["below"] + band["above"] if band else 0.0


def _hours_in_harm(bed: WeekBinShape) -> float:
    return max((_out(zone["harm"]) for zone in bed["zones"]), default=0.0)


def _hours_out(bed: WeekBinShape) -> float:
    return max((_out(zone["comfort"]) for zone in bed["zones"]), default=0.0)


def bin_sentence(bed: WeekBinShape, living: Collection[str], saying: Saying) -> str:
    """How a bin's worms had it: the living zones alone count, the best of them against cold as in the checks."""
    parts = [_temperature(bed, living, saying), _moisture(bed, living, saying), _cared(bed, saying), _alarms(bed)]
    said = [part for part in parts if part]
    return f"{'. '.join(s[0].upper() + s[1:] for s in said)}."


def _temperature(bed: WeekBinShape, living: Collection[str], saying: Saying) -> str:
    zones = [z for z in _zones(bed, living, _TEMPERATURE) if z["lowest"] and z["highest"]]
    if not zones:
        return "no temperature is known" if _zones(bed, living, _TEMPERATURE) else ""
    low = min((z["lowest"] for z in zones if z["lowest"]), key=lambda one: one["value"])
    high = max((z["highest"] for z in zones if z["highest"]), key=lambda one: one["value"])
    ends = _value(low["value"], "°C", saying), _value(high["value"], "°C", saying)
    if ends[0] == ends[1]:
        return f"{ends[0]} throughout; {_kept(zones, '°C', saying)}"
    return f"{ends[0]} to {ends[1]}, coldest {saying.in_week(millis(low['at']))}; {_kept(zones, '°C', saying)}"


def _kept(zones: Sequence[WeekZoneShape], unit: str, saying: Saying) -> str:
    """The hours outside: of the zone that had it best, since worms move there, with the others' if those were worse."""
    judged = [z for z in zones if z["comfort"] and z["known"]]
    if not judged:
        return "too seldom heard to be judged" if any(z["comfort"] for z in zones) else "it is not judged"
    best = min(judged, key=lambda z: (_out(z["harm"]), _out(z["comfort"])))
    name = "" if len(judged) == 1 else f" in {best['zone']}, which had it best"
    comfort = best["comfort"]
    if comfort is None or not _out(comfort):
        others = [z["zone"] for z in judged if _out(z["comfort"])]
        return f"always in comfort{name}" if others else "always in comfort"
    return f"{', '.join(_sides(comfort, best['harm'], unit, saying))}{name}"


def _sides(comfort: BandShape, harm: BandShape | None, unit: str, saying: Saying) -> Iterator[str]:
    for side, far, end, word in (("below", "short", "low", "below"), ("above", "beyond", "high", "above")):
        hours = comfort["below"] if side == "below" else comfort["above"]
        depth = comfort["short"] if far == "short" else comfort["beyond"]
        bound = comfort["low"] if end == "low" else comfort["high"]
        if hours and bound is not None:
            yield f"{_hours(hours)} {word} {_value(bound, unit, saying)} ({_depth(depth, unit, saying)})"
    hurt = _out(harm)
    if hurt:
        yield f"of these {_hours(hurt)} in harm"


def _hours(hours: float) -> str:
    return words.duration(max(round(hours * HOUR / MINUTE), 1) * MINUTE)


def _depth(depth: float, unit: str, saying: Saying) -> str:
    """Degree-hours in the keeper's degrees."""
    if unit != "°C":
        return f"{round(depth, 1):g} point-hours"
    degrees = depth if saying.units is Units.METRIC else difference_in(depth, "°F")
    return f"{round(degrees, 1):g} degree-hours"


def _value(value: float, unit: str, saying: Saying) -> str:
    return value_words(value, unit, saying.units)


def _moisture(bed: WeekBinShape, living: Collection[str], saying: Saying) -> str:
    zones = [z for z in _zones(bed, living, _MOISTURE) if z["lowest"] and z["unit"] == "%"]
    if not zones:
        return ""
    driest = min((z["lowest"] for z in zones if z["lowest"]), key=lambda one: one["value"])
    return f"driest {words.percent(driest['value'])} {saying.in_week(millis(driest['at']))}; {_kept(zones, '%', saying)}"


def _cared(bed: WeekBinShape, saying: Saying) -> str:
    said = []
    if bed["watered"]:
        much = "" if bed["litres"] is None else f", {words.measured(bed['litres'], 'L', saying.units)} in all"
        said.append(f"watered {_often(bed['watered'])}{much}")
    if bed["fed"]:
        much = (
            "" if bed["kilograms"] is None else f", {words.measured(bed['kilograms'], 'kg', saying.units)} in all"
        )
        said.append(f"fed {_often(bed['fed'])}{much}")
    return "; ".join(said)


def _often(times: int) -> str:
    return {1: "once", 2: "twice"}.get(times) or words.amount(times, "time")


def _alarms(bed: WeekBinShape) -> str:
    alarms = bed["alarms"]
    if not alarms:
        return "no alarm"
    return f"{words.amount(len(alarms), 'alarm')}: {'; '.join(_alarm(one) for one in alarms[:FEW])}{_rest(alarms)}"


def _alarm(one: WeekAlarmShape) -> str:
    what = one["about"].partition(": ")[2] or one["about"]
    seen = one["seen_after_minutes"]
    return f"{what}, {'not seen by anybody' if seen is None else f'seen after {words.duration(seen * MINUTE)}'}"


def _rest(alarms: Sequence[WeekAlarmShape]) -> str:
    return f"; and {len(alarms) - FEW} more" if len(alarms) > FEW else ""


# ── what to look at ───────────────────────────────────────────────────────────────────────────────────────────


def look_at(bed: WeekBinShape, living: Collection[str], saying: Saying) -> list[str]:
    """At most three things, the worst first."""
    return list(_looks(bed, living, saying))[:FEW]


def _looks(bed: WeekBinShape, living: Collection[str], saying: Saying) -> Iterator[str]:
    yield from _harm(bed, living)
    standing = [a for a in bed["alarms"] if a["ended"] is None]
    if standing:
        yield f"Still there: {words.joined(list(dict.fromkeys(a['about'].partition(': ')[2] for a in standing)))}."
    yield from _silences(bed)
    yield from _outside(bed, living)
    if len(bed["alarms"]) >= OFTEN:
        yield (
            f"{len(bed['alarms'])} alarms in a week: `vermistat alarms --review` says which serves badly, and what"
            " another limit would have done."
        )
    late = [a for a in bed["alarms"] if a["level"] == "harm" and (a["seen_after_minutes"] or 0) > LONG_UNSEEN]
    if late:
        yield "An alarm of harm was seen only after half a day: look who is told of it, and when."
    yield from _nearly_dry(bed, living, saying)


def _harm(bed: WeekBinShape, living: Collection[str]) -> Iterator[str]:
    for measures, ends in ((_TEMPERATURE, ("cold", "heat")), (_MOISTURE, ("drought", "wet"))):
        hurt = [z for z in _zones(bed, living, measures) if _out(z["harm"])]
        if hurt:
            worst = max(hurt, key=lambda z: _out(z["harm"]))
            band = worst["harm"]
            end = ends[0] if band and band["below"] >= band["above"] else ends[1]
            yield f"{_hours(_out(band))} of {end} in harm at {worst['zone']}: look at the worms there first."


def _silences(bed: WeekBinShape) -> Iterator[str]:
    for zone in bed["zones"]:
        length = zone["known"] + zone["silent"]
        if length and zone["silent"] > GAPPY * length:
            yield f"{zone['probe']} {_silence(zone)}: look at its battery, its cable and its place."


def _silence(zone: WeekZoneShape) -> str:
    if not zone["lowest"]:
        return "said nothing all week"
    return f"said nothing for {_hours(zone['silent'])}" if zone["known"] else "spoke too seldom to be judged"


def _outside(bed: WeekBinShape, living: Collection[str]) -> Iterator[str]:
    for measures, low, high in (
        (_TEMPERATURE, "Too cold", "Too warm"),
        (_MOISTURE, "Too dry", "Too wet"),
    ):
        zones = [z for z in _zones(bed, living, measures) if z["comfort"] and z["known"]]
        if not zones:
            continue
        best = min(zones, key=lambda z: _out(z["comfort"]))
        band = best["comfort"]
        if band and _out(band) > MUCH * best["known"]:
            share = round(100 * _out(band) / best["known"])
            word = low if band["below"] >= band["above"] else high
            where = "" if len(zones) == 1 else f" even in {best['zone']}, the best place"
            yield f"{word} for {share} % of the time{where}: change something, or the limit."


def _nearly_dry(bed: WeekBinShape, living: Collection[str], saying: Saying) -> Iterator[str]:
    for zone in _zones(bed, living, _MOISTURE):
        band, driest = zone["comfort"], zone["lowest"]
        if band and band["low"] is not None and driest and 0 <= driest["value"] - band["low"] <= NEAR_DRY:
            limit = words.percent(band["low"])
            yield f"{zone['zone']} came within {NEAR_DRY:g} points of its dry limit of {limit}: look if it wants water."
