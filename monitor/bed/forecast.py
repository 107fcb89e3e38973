"""The next 12 and 24 hours of one zone: how cold, how warm, how likely beyond its limits, and when.

Where the air comes from and what dresses the point switch independently, and both are named. Before the zone has errors of its
own the band is as wide as its beginning is uncertain, and nothing may alarm by it.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from itertools import accumulate
from operator import neg
from typing import NamedTuple

from monitor.bed import dressing as dressed
from monitor.bed import habit as habits
from monitor.bed import righting
from monitor.bed.dressing import ENOUGH, Dress, Dressing, Issued
from monitor.bed.habit import Habit
from monitor.bed.plan import NO_MAT, Duties, Hand, Path, Plan, rolled
from monitor.bed.room import AHEAD, Air, Room, ahead, through_walls
from monitor.bed.zone import Hour, Three, Zone, doubts, observe, used
from monitor.readings import HOUR, Millis

ON, STAYS = 0.45, 0.22
"""P at which a cold night is told, and below which, for six hours, it is over (chosen on simulated beds)."""
THERMOSTAT_OFF = 3.0
"""K that a thermostat may be seen to hold beside what it is set to (proposal)."""
ROOM_MOVES = 3.0
"""K that a room may move in a night while nothing is known of it, one standard deviation (proposal)."""
BEDS_DIFFER = 0.4
"""K, of a roll-out that nothing dresses yet, one standard deviation, besides a, c and the room (proposal)."""


class Dressed(StrEnum):
    """What a probability and a band are made of."""

    PRIOR = "by how uncertain a bed is of which nothing was learned"
    OWN = "by its own errors of the last 20 days"


@dataclass(frozen=True, slots=True)
class Learned:
    """All that one zone keeps: its numbers, and its record under either source of air."""

    zone: Zone
    past: Dressing = field(default_factory=Dressing)
    outdoors: Dressing = field(default_factory=Dressing)
    habit: Habit = field(default_factory=Habit)


@dataclass(frozen=True, slots=True)
class Side:
    """One end of a horizon: °C, the mean of the members' ends, with its 90 % band, and P(beyond the limit)."""

    hours: int
    point: float
    """What is told: as rolled out and set right, with the median of its own recent errors added."""
    rolled: float
    low: float
    high: float
    chance: float | None


@dataclass(frozen=True, slots=True)
class Crossing:
    """When the limit is crossed, UTC: median, and 10 to 90 %, None for `not within 24 h`."""

    likely: Millis | None
    early: Millis | None
    late: Millis | None


@dataclass(frozen=True, slots=True)
class Forecast:
    """What is told of one zone at one hour."""

    at: Millis
    now: float
    air: Air
    dressed: Dressed
    least: tuple[Side, Side]
    """Of 12 and of 24 h."""
    greatest: tuple[Side, Side]
    alarm: tuple[Side, Side]
    """Least and greatest of the hours that an alarm looks ahead."""
    below: Crossing | None
    above: Crossing | None
    paths: tuple[Path, ...]
    grows_to: tuple[float, float, float]
    """K beside the members' mean, 10, 50 and 90 %, after all hours."""
    hand: Hand | None = None
    """Somebody who is expected to switch the mat in the hours ahead."""
    unhelped: Duties | None = None
    """What the mat does by its alarms, where that is not what is expected of it: they count on nobody."""
    fell_back: bool = False
    """An outdoor forecast was given, and could not be used yet."""

    @property
    def may_alarm(self) -> bool:
        """Whether it is dressed by errors of its own; before, it is a line in the evening and no alarm."""
        return self.dressed is Dressed.OWN

    @property
    def fan(self) -> tuple[tuple[float, float, float], ...]:
        """(10 %, 50 %, 90 %) °C after each hour: the members' mean and the errors of 24 h, which grow with the root of time."""
        told, total = [], len(self.paths[0].warmth)
        for hour in range(total):
            centre = sum(path.warmth[hour] for path in self.paths) / len(self.paths)
            low, middle, high = (centre + math.sqrt((hour + 1) / total) * grown for grown in self.grows_to)
            told.append((low, middle, high))
        return tuple(told)

    @property
    def duties(self) -> Plan:
        """What the mat does by this forecast, for a zone that is warmed by the same mat."""
        return Plan(_duties(self.paths), alarm=self.unhelped)


def took(learned: Learned, hour: Hour) -> Learned:
    """Take up one hour, before anything is told for it."""
    ends = None if hour.lowest is None or hour.highest is None else (hour.lowest, hour.highest)
    return Learned(
        observe(learned.zone, hour),
        dressed.passed(learned.past, hour.at, ends),
        dressed.passed(learned.outdoors, hour.at, ends),
        habits.took(learned.habit, hour),
    )


def forecast(
    learned: Learned,
    room: Room,
    *,
    at: Millis,
    now_c: float | None,
    limits: tuple[float | None, float | None] = (None, None),
    plan: Plan = NO_MAT,
    outdoor: Sequence[float] | None = None,
) -> tuple[Forecast | None, Learned]:
    """What is told at the end of the hour `at`, and the zone with it noted for its record; call it once an hour, after `took`.

    `limits` are (low, high) °C; `outdoor` are °C outdoors of the next 24 hours. None when the zone or the air is not known now:
    a silence never makes a forecast.
    """
    source, members = ahead(room)
    if now_c is None or not members:
        return None, learned
    walls = None if outdoor is None else through_walls(room, outdoor)
    plan = _as_held(learned.zone, plan)
    if plan.by_hand:
        plan = replace(plan, hand=habits.hand(learned.habit, at))
    case = _Case(learned.zone, at, now_c, limits, plan)
    by_past, past = _told(case, learned.past, members, source)
    if walls is None:
        return replace(by_past, fell_back=outdoor is not None), replace(learned, past=past)
    by_walls, outdoors = _told(case, learned.outdoors, [walls], Air.OUTDOORS)
    learned = replace(learned, past=past, outdoors=outdoors)
    better = by_walls.may_alarm or not by_past.may_alarm
    return (by_walls if better else replace(by_past, fell_back=True)), learned


def asked(
    learned: Learned,
    room: Room,
    *,
    at: Millis,
    now_c: float,
    limits: tuple[float | None, float | None],
    plan: Plan,
    outdoor: Sequence[float] | None = None,
) -> Forecast | None:
    """What would be under another plan; nothing is noted."""
    told, _ = forecast(learned, room, at=at, now_c=now_c, limits=limits, plan=plan, outdoor=outdoor)
    return told


class _Case(NamedTuple):
    zone: Zone
    at: Millis
    now: float
    limits: tuple[float | None, float | None]
    plan: Plan


def _told(
    case: _Case, record: Dressing, rooms: Sequence[Sequence[float]], source: Air
) -> tuple[Forecast, Dressing]:
    numbers = used(case.zone)
    paths, alone = _rolled(case, numbers, rooms)
    prior = prior_errors(case.zone, numbers, case.now, air=rooms[0][0])
    went = dressed.signs(record, case.now)
    ends = _ends(paths)
    ends_alone = ends if alone is paths else _ends(alone)
    by = (ends, ends, ends, ends, ends_alone, ends_alone)
    worn = [
        _worn(case, dress, those, prior[dress.horizon], went)
        for dress, those in zip(record.dresses, by, strict=True)
    ]
    low, high = case.limits
    cold, warm = worn[1], worn[3]
    crosses = (cold, warm) if alone is paths else (worn[4], worn[5])
    unhelped = None if alone is paths else _duties(alone)
    told = Forecast(
        at=case.at,
        now=case.now,
        air=source,
        dressed=Dressed.OWN if all(one.own for one in worn) else Dressed.PRIOR,
        least=(worn[0].side, cold.side),
        greatest=(worn[2].side, warm.side),
        alarm=(worn[4].side, worn[5].side),
        below=_crossing(ends_alone, case.at, low, worn=crosses[0], below=True),
        above=_crossing(ends_alone, case.at, high, worn=crosses[1], below=False),
        paths=tuple(paths),
        grows_to=_grows_to(cold),
        hand=case.plan.hand if unhelped else None,
        unhelped=unhelped,
    )
    if record.newest != case.at:
        return told, record
    middle = [sum(path.warmth[ago - 1] for path in paths) / len(paths) for ago in righting.AGO]
    return told, dressed.issued(record, [_issued(one, middle) for one in worn])


def _rolled(case: _Case, numbers: Three, rooms: Sequence[Sequence[float]]) -> tuple[list[Path], list[Path]]:
    """What is expected, and what alarms go by: the very same where nobody is expected to switch anything."""
    plan = case.plan
    paths = rolled(numbers, case.now, rooms, plan)
    if plan.alarm is not None:
        return paths, rolled(numbers, case.now, rooms, replace(plan, duties=plan.alarm))
    if plan.hand is not None and any(path.duties != plan.duties[0] for path in paths):
        return paths, rolled(numbers, case.now, rooms, replace(plan, hand=None))
    return paths, paths


def _duties(paths: Sequence[Path]) -> Duties:
    return tuple([path.duties for path in paths])


def _issued(one: _Worn, middle: Sequence[float]) -> Issued:
    band = (one.side.low, one.side.high) if one.own else (None, None)
    return one.right, *band, one.side.rolled, *middle, *one.signs


def _as_held(zone: Zone, plan: Plan) -> Plan:
    """A thermostat has a probe of its own, elsewhere, and a dead band: it holds what it was seen to hold, near what it says."""
    if plan.setpoint is None or zone.holds is None or abs(zone.holds - plan.setpoint) > THERMOSTAT_OFF:
        return plan
    return replace(plan, setpoint=zone.holds)


class _Worn(NamedTuple):
    side: Side
    errors: list[float]
    own: bool
    right: float
    """°C, rolled out and set right."""
    added: float
    """K that it was set right by."""
    signs: list[float]


def _worn(case: _Case, dress: Dress, ends: _Ends, prior: list[float], went: Sequence[float]) -> _Worn:
    rolled_out = _end(ends, case.now, dress)
    signs = [1.0, rolled_out - case.now, *went]
    added = righting.right(dress.weights, signs)
    right = rolled_out + added
    errors = dressed.recent(dress)
    own = len(errors) >= ENOUGH
    errors = sorted(errors) if own else prior
    alpha = dress.alpha if own else dressed.WIDE
    low, high = (right + dressed.quantile(errors, share) for share in (alpha / 2, 1 - alpha / 2))
    limit = case.limits[0] if dress.below else case.limits[1]
    chance = None if limit is None else dressed.chance_below(right, errors, limit)
    chance = chance if chance is None or dress.below else 1 - chance
    point = right + (dressed.quantile(errors, 0.5) if own else 0.0)
    return _Worn(Side(dress.horizon, point, rolled_out, low, high, chance), errors, own, right, added, signs)


def prior_errors(zone: Zone, numbers: Three, now_c: float, *, air: float) -> dict[int, list[float]]:
    """Errors to be expected of a bed of which nothing was learned: a normal distribution in 39 places, for each horizon."""
    a, b, _ = numbers
    doubt_a, doubt_b, doubt_c = doubts(zone)
    found = {}
    for hours in (*dressed.HORIZONS, dressed.ALARM):
        gone = 1 - math.exp(-a * hours)
        by_a = abs(now_c - air) * min(0.5, doubt_a * hours * math.exp(-a * hours))
        by_rest = math.hypot(min(doubt_c, 0.2), min(doubt_b, 0.5 * b) * 0.5) * gone / a
        spread = math.sqrt(BEDS_DIFFER**2 + by_a**2 + min(by_rest, 4.0) ** 2 + (ROOM_MOVES * gone) ** 2)
        found[hours] = [spread * score for score in _SCORES]
    return found


_SCORES = tuple(
    # 39 places of the standard normal distribution, at (n - 0.5) / 39, by Tukey's lambda (0.1349): to 0.01 within the 95 %
    ((n / 39 - 0.5 / 39) ** 0.1349 - (1 - n / 39 + 0.5 / 39) ** 0.1349) / 0.1975
    for n in range(1, 40)
)


class _Ends(NamedTuple):
    """Of each member what was the least, or the greatest, until each hour."""

    below: list[list[float]]
    above: list[list[float]]


def _ends(paths: Sequence[Path]) -> _Ends:
    return _Ends(
        [list(accumulate(path.warmth, min)) for path in paths],
        [list(accumulate(path.warmth, max)) for path in paths],
    )


def _end(ends: _Ends, now_c: float, dress: Dress) -> float:
    last = dress.horizon - 1
    if dress.below:
        return sum([min(now_c, one[last]) for one in ends.below]) / len(ends.below)
    return sum([max(now_c, one[last]) for one in ends.above]) / len(ends.above)


def _crossing(ends: _Ends, at: Millis, limit: float | None, *, worn: _Worn, below: bool) -> Crossing | None:
    """The first hour beyond the limit, over members and nine of their errors; None when it is unlikely at all."""
    if limit is None or worn.side.chance is None or worn.side.chance < 0.05:
        return None
    levels = [limit - worn.added - dressed.quantile(worn.errors, tenth / 10) for tenth in range(1, 10)]
    if below:
        firsts = sorted([bisect_right(one, -level, key=neg) for one in ends.below for level in levels])
    else:
        firsts = sorted([bisect_right(one, level) for one in ends.above for level in levels])

    def when(share: float) -> Millis | None:
        hours = firsts[min(len(firsts) - 1, int(share * len(firsts)))]
        return None if hours >= AHEAD else at + (hours + 1) * HOUR

    return Crossing(when(0.5), when(0.1), when(0.9))


def _grows_to(worn: _Worn) -> tuple[float, float, float]:
    low, middle, high = (worn.added + dressed.quantile(worn.errors, share) for share in (0.1, 0.5, 0.9))
    return low, middle, high
