"""Is it getting wetter or drier? What a moisture probe without points can say, against its own noise.

Whole days are compared, so that the swing of a day is no trend.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from monitor.checks.memory import middle
from monitor.readings import DAY, HOUR, Millis

SLOT: Millis = 3 * HOUR
"""A day is looked at in means of so long."""
ENOUGH = 5
"""Slots of a day, of 8, that must be known."""
SIGMAS = 3.0
"""A day's median that moved by less than so many of its own standard errors has not moved (common practice)."""
TO_SIGMA = 1.4826
"""Median absolute deviation → standard deviation of a normal noise (Hampel 1974; memory)."""
OF_A_MEDIAN = 1.2533
"""The standard error of a median over that of a mean, √(π/2), for normal noise (memory)."""


@dataclass(frozen=True, slots=True)
class Trend:
    """By how much what is sent has changed since a day, or a week, before; `error` is what noise alone makes of it."""

    days: int
    change: float
    error: float

    @property
    def moved(self) -> bool:
        """Whether that is more than noise."""
        return abs(self.change) > SIGMAS * self.error


def spread(values: Sequence[float]) -> float:
    """The standard deviation of normal noise, out of the median absolute deviation; 0 for fewer than two values."""
    if len(values) < 2:
        return 0.0
    at = middle(values)
    return TO_SIGMA * middle(abs(v - at) for v in values)


def trends(slots: Iterable[tuple[Millis, float]], now: Millis) -> list[Trend]:
    """The last day against the day before and against that of a week ago, as far as enough of both is known. `slots` are
    (begin, mean) of SLOT each.
    """
    known = sorted(slots)
    last = _day(known, now)
    found = []
    for days in (1, 7):
        before = _day(known, now - days * DAY)
        if len(last) >= ENOUGH and len(before) >= ENOUGH:
            found.append(Trend(days, middle(last) - middle(before), math.hypot(_error(last), _error(before))))
    return found


def _day(slots: Sequence[tuple[Millis, float]], end: Millis) -> list[float]:
    return [value for at, value in slots if end - DAY < at + SLOT <= end]


def _error(values: Sequence[float]) -> float:
    return OF_A_MEDIAN * spread(values) / math.sqrt(len(values))
