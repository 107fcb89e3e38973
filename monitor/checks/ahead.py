"""A cold night or a hot day told ahead, out of what each zone is foretold: who it is about, and whether it stands.

Under one name as limits are judged: the best of a bin's living zones decides. It stands from a chance of `bed.forecast.ON` on
until that was below `STAYS` for six hours, and is never raised for what is beyond its limit already: that is the plain limit's.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from monitor import words
from monitor.bed.enough import SAFE, Ahead, Now, stepped
from monitor.bed.forecast import ON, Forecast, Side
from monitor.bed.living import Told, bounds
from monitor.bed.outside import TOO_OLD
from monitor.bed.plan import HALF, Plan
from monitor.bed.room import Air
from monitor.checks.findings import AlarmKey, Condition, Evidence, Finding
from monitor.checks.watches import subjects
from monitor.readings import HOUR, Measures, Millis
from monitor.rules import Bin, Bound, Level, Role, Units, Zone

CONDITIONS = frozenset({Condition.COLD_AHEAD, Condition.HEAT_AHEAD})
LASTS: Millis = 3 * HOUR
"""How old what is told ahead may be."""
KIND = "ahead"
"""Of the documents that stand between rounds: one for each subject and condition that was ever stepped and is not quiet."""


@dataclass(frozen=True, slots=True)
class Outlook:
    """Whether something ahead stands for a subject, and the hour at which that was said last."""

    at: Millis
    ahead: Ahead = field(default_factory=Ahead)


ALL_OF_IT = 0.95
"""Share of an hour a mat is on from which it counts as on all of it."""
_IN_TURN = (Condition.COLD_AHEAD, Condition.HEAT_AHEAD)

Outlooks = Mapping[str, Outlook]
"""By `key_of`."""
Nights = Mapping[str, Mapping[str, Told]]
"""Bin → zone → what is told of it."""


def key_of(key: AlarmKey) -> str:
    """Under which key an outlook is kept."""
    return f"{key.subject}/{key.condition}"


def outlook_text(one: Outlook) -> str:
    """As it is kept."""
    return json.dumps([one.at, one.ahead.stands, one.ahead.quiet])


def outlook_of(body: str) -> Outlook:
    """The reverse."""
    at, stands, quiet = json.loads(body)
    return Outlook(at, Ahead(stands, quiet))


def outlooks_in(standing: Mapping[tuple[str, str], str]) -> dict[str, Outlook]:
    """Those among what stands between rounds."""
    return {key: outlook_of(body) for (kind, key), body in standing.items() if kind == KIND}


def look_ahead(
    bed: Bin,
    told: Mapping[str, Told],
    before: Outlooks,
    *,
    standing: Collection[AlarmKey],
    units: Units = Units.METRIC,
) -> tuple[dict[str, Outlook], list[Finding]]:
    """One hour of a bin: its outlooks as they are now, and what that means to its alarms, told in `units`."""
    outlooks, findings = {}, []
    for subject, zones, climate in subjects(bed):
        known = [told[z.id] for z in zones if z.id in told and told[z.id].forecast is not None]
        for condition, limit in zip(_IN_TURN, bounds(climate.get(Measures.TEMPERATURE)), strict=True):
            if not known or limit is None:
                continue
            best = best_of(known, condition)
            key, at = AlarmKey(subject, condition), best.at
            was = before.get(key_of(key), Outlook(0))
            if at <= was.at:
                continue
            ahead = stepped(
                was.ahead, _side(best, condition).chance, may_alarm=_may_raise(known, condition, limit.value)
            )
            by_mat = ahead.stands and condition is Condition.HEAT_AHEAD and _only_by_its_mat(best, zones)
            if by_mat or (ahead.stands and _seen_to(best, condition)):
                ahead = Ahead()
            outlooks[key_of(key)] = Outlook(at, ahead)
            if ahead.stands or key in standing:
                evidence = _evidence(best, condition, limit, zone=_zone(bed, zones, told, best), units=units)
                findings.append(Finding(key, Level.COMFORT if ahead.stands else None, at, at, evidence))
    return outlooks, findings


def not_told_any_more(
    before: Outlooks, standing: Collection[AlarmKey], *, now: Millis
) -> tuple[dict[str, Outlook | None], list[Finding]]:
    """What stands and of which nothing was told for hours: a silence never foretells anything."""
    over: dict[str, Outlook | None] = {}
    findings = []
    for key in standing:
        if key.condition in CONDITIONS and now - before.get(key_of(key), Outlook(0)).at > LASTS + HOUR:
            over[key_of(key)] = None
            evidence = Evidence("nothing can be told ahead now: its zone or its room is not heard")
            findings.append(Finding(key, None, now, now, evidence))
    return over, findings


def best_of(known: Sequence[Told], condition: Condition) -> Told:
    """The zone that a worm would choose in the hours ahead: its chance is the least."""
    return min(known, key=lambda one: (_side(one, condition).chance or 0.0, -_side(one, condition).point))


def harm_ahead(bed: Bin, told: Mapping[str, Told]) -> Millis | None:
    """When harm is expected in a bin, as its zones are told: the soonest of those it is judged by; None when it is not."""
    found = []
    for _, zones, _ in subjects(bed):
        known = [told[z.id] for z in zones if z.id in told and told[z.id].forecast is not None]
        for condition in CONDITIONS if known else ():
            best = best_of(known, condition)
            forecast = best.forecast
            crossing = forecast and (forecast.below if condition is Condition.COLD_AHEAD else forecast.above)
            chance = _side(best, condition).chance
            if forecast and forecast.may_alarm and chance and chance > 0.5 and crossing and crossing.likely:
                found.append(crossing.likely)
    return min(found, default=None)


def _only_by_its_mat(told: Told, zones: Sequence[Zone]) -> bool:
    """Whether it is warm because its mat is on: what is at a mat, and what would not get too hot with it off. That is told as
    heat when it comes, and as a mat that is too strong.
    """
    if any(zone.role is Role.AT_THE_MAT for zone in zones):
        return True
    if not told.drive.duty or not told.bed.learned.zone.warmed:
        return False
    forecast = _forecast(told)
    off = Now(told.bed.learned, told.room, told.at, forecast.now, told.limits, told.outdoor).ask(Plan())
    return off is None or (off.alarm[1].chance or 0.0) <= ON


def _seen_to(told: Told, condition: Condition) -> bool:
    """Whether its mat was switched as it should be, and that is enough: then nobody waits for six quiet hours."""
    on, duty = condition is Condition.COLD_AHEAD, told.drive.duty
    return (
        duty is not None
        and (duty >= ALL_OF_IT if on else duty <= 1 - ALL_OF_IT)
        and (told.bed.learned.zone.warmed and (_side(told, condition).chance or 0.0) < SAFE)
    )


def _side(told: Told, condition: Condition) -> Side:
    forecast = _forecast(told)
    return forecast.alarm[0 if condition is Condition.COLD_AHEAD else 1]


def _forecast(told: Told) -> Forecast:
    assert told.forecast is not None  # noqa: S101 - only those are handed on
    return told.forecast


def _may_raise(known: Sequence[Told], condition: Condition, limit: float) -> bool:
    """Errors of its own, and at least one zone that is on the right side of the limit now."""
    cold = condition is Condition.COLD_AHEAD
    inside = any((one.now > limit) if cold else (one.now < limit) for one in map(_forecast, known))
    return inside and all(_forecast(one).may_alarm for one in known)


def _zone(bed: Bin, zones: Sequence[Zone], told: Mapping[str, Told], best: Told) -> str:
    return next(z.id for z in zones if told.get(z.id) is best)


def _evidence(told: Told, condition: Condition, limit: Bound, *, zone: str, units: Units) -> Evidence:
    forecast, side = _forecast(told), _side(told, condition)
    cold = condition is Condition.COLD_AHEAD
    where, least = ("below", "least") if cold else ("above", "most")
    chance = 0.0 if side.chance is None else side.chance
    point, low, high, now = (words.temperature(t, units) for t in (side.point, side.low, side.high, forecast.now))
    return Evidence(
        arithmetic=(
            f"{chance_words(chance)} likely {where} {words.limit(limit.value, units)} within {side.hours} h in {zone}: "
            f"{least} expected {point}, {low} to {high} nine times in ten; {now} now{_without(told)}"
        ),
        value=side.point,
        unit="°C",
        source=limit.source,
        mark=limit.mark,
        zone=zone,
        below=cold,
        statistic=f"chance {chance:.3f} within {side.hours} h",
        outdoors_age=_old(told) if outdoors_of(told) is ByOutdoors.USED else None,
    )


def _without(told: Told) -> str:
    if outdoors_of(told) is not ByOutdoors.LOST:
        return ""
    (said,) = by_outdoors(told)
    return f"; {said[:1].lower()}{said[1:].rstrip('.')}"


class ByOutdoors(StrEnum):
    """What an outdoor forecast had to do with what is told."""

    USED = "used"
    NOT_YET = "not yet"
    LOST = "lost"
    NONE = "none"


def outdoors_of(told: Told) -> ByOutdoors:
    """Whether it was told by an outdoor forecast. `LOST` is one that is too old or reaches less than a day."""
    if told.came is None or told.forecast is None:
        return ByOutdoors.NONE
    if told.outdoor is None:
        return ByOutdoors.LOST
    return ByOutdoors.USED if told.forecast.air is Air.OUTDOORS else ByOutdoors.NOT_YET


def hours_old(told: Told) -> float | None:
    """How old the newest outdoor forecast was when it was told."""
    return None if told.came is None else round(_old(told) / HOUR, 2)


def _old(told: Told) -> Millis:
    return max(0, told.at - (told.at if told.came is None else told.came))


OWN_PAST = "so it is told by the room's own history"


def by_outdoors(told: Told) -> tuple[str, ...]:
    """How old the outdoor forecast was, and what became of it; nothing where there never was any."""
    how, age = outdoors_of(told), words.duration(_old(told))
    if how is ByOutdoors.USED:
        return (f"The outdoor forecast was {age} old when this was told.",)
    if how is ByOutdoors.NOT_YET:
        return (f"The outdoor forecast, {age} old, could not be used for it yet, {OWN_PAST}.",)
    if how is ByOutdoors.LOST:
        why = "is too old" if _old(told) > TOO_OLD else "does not hold all of the next 24 hours"
        return (f"The outdoor forecast, {age} old, {why}, {OWN_PAST}.",)
    return ()


def by_hand(told: Told, clock: Callable[[Millis], str]) -> tuple[str, ...]:
    """That somebody is expected to switch the mat, and that no alarm counts on it; nothing where nobody is."""
    forecast = told.forecast
    if forecast is None or forecast.hand is None:
        return ()
    duties = forecast.paths[len(forecast.paths) // 2].duties
    before = (told.hour.duty or 0.0) >= HALF
    turns = next((hour for hour, duty in enumerate(duties) if (duty >= HALF) != before), None)
    if turns is None:  # by some of the days that it is told by, and not by the middle one
        return ()
    way = "off" if before else "on"
    when = clock(forecast.at + turns * HOUR)
    return (f"Its mat is expected to be switched {way} about {when}, as it usually is; no alarm counts on that.",)


def chance_words(chance: float) -> str:
    """A chance as it is told: whole per cent, never as if it were sure."""
    if chance < 0.01:
        return "less than 1 %"
    return "more than 99 %" if chance > 0.99 else f"{chance:.0%}".replace("%", " %")
