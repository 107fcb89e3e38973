"""When somebody who switches a mat by hand usually does so, and at what warmth: learned from nothing but the hours it was on.

Whoever looks at a bed each evening, switches its mat on below one warmth and off above another, is a thermostat that is asked
once a day. What is expected of a night goes by that. No alarm does, of cold or of heat: it tells what comes when nobody does
anything. (Counting on a hand that would switch off told 0.83 of cold nights six hours ahead in place of 0.91, seeds 5 and 7.)
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from monitor.bed.plan import HALF, Hand
from monitor.bed.zone import Hour
from monitor.readings import DAY, HOUR, Millis

HOURS_KEPT, WARMTHS_KEPT = 8, 4
"""Switches that are remembered: their hours of the day, and of each kind their °C (chosen on simulated beds)."""
LEAST, SHARE = 3, 0.6
"""So many switches, and of them such a share within an hour of the usual one, make a habit (proposal)."""
FORGOTTEN = 60 * DAY
"""After so long without a switch nothing is usual any more (proposal)."""


@dataclass(frozen=True, slots=True)
class Habit:
    """All that is remembered, the newest last."""

    newest: Millis | None = None
    on: bool | None = None
    """As it was in the newest hour."""
    switched: Millis | None = None
    hours: tuple[int, ...] = ()
    """Of the day, UTC, at whose beginning it was switched."""
    on_at: tuple[float, ...] = ()
    """°C of the zone when it was switched on."""
    off_at: tuple[float, ...] = ()


def took(habit: Habit, hour: Hour) -> Habit:
    """Take up one hour. Of a mat whose state is not known nothing is learned, and of a switch within a silence neither."""
    if hour.duty is None:
        return habit
    on, before = hour.duty >= HALF, habit.on
    follows = habit.newest == hour.at - HOUR
    habit = replace(habit, newest=hour.at, on=on)
    if before is None or not follows or hour.start_c is None:
        return habit
    of_day = (hour.at // HOUR - 1) % 24
    if on != before:
        return _switched(habit, hour.at, of_day, hour.start_c, on=on)
    return _left(habit, hour.start_c) if of_day == usual(habit, hour.at) else habit


def _switched(habit: Habit, at: Millis, of_day: int, warmth: float, *, on: bool) -> Habit:
    habit = replace(habit, switched=at, hours=(*habit.hours, of_day)[-HOURS_KEPT:])
    if on:
        return replace(habit, on_at=(*habit.on_at, warmth)[-WARMTHS_KEPT:])
    return replace(habit, off_at=(*habit.off_at, warmth)[-WARMTHS_KEPT:])


def _left(habit: Habit, warmth: float) -> Habit:
    """At the usual hour it was left as it was: no warmth holds any more at which it should have been switched."""
    if habit.on:
        return replace(habit, off_at=tuple(one for one in habit.off_at if one >= warmth))
    return replace(habit, on_at=tuple(one for one in habit.on_at if one <= warmth))


def usual(habit: Habit, at: Millis) -> int | None:
    """The hour of the day, UTC, at which it is usually switched; None where there is no such habit."""
    if habit.switched is None or at - habit.switched > FORGOTTEN or len(habit.hours) < LEAST:
        return None
    often = max(reversed(habit.hours), key=habit.hours.count)
    near = sum((hour - often + 1) % 24 <= 2 for hour in habit.hours)
    return often if near >= SHARE * len(habit.hours) else None


def hand(habit: Habit, at: Millis) -> Hand | None:
    """What it will usually do from `at` on: on below the highest of the last °C at which it was switched on, off above the lowest
    at which it was switched off, never where it never was. None where nothing is usual."""
    of_day = usual(habit, at)
    if of_day is None:
        return None
    below, above = max(habit.on_at, default=-math.inf), min(habit.off_at, default=math.inf)
    return Hand((of_day - at // HOUR) % 24, below, above)
