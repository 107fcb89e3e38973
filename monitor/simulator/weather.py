"""The air of a January night and of other days, outdoors and behind walls that soften it. Invented, for the demo only."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from monitor.readings import DAY, HOUR, Millis
from monitor.simulator.bed import Air, saturation

WARMEST, COLDEST = 14.5, 31.5
"""Hours of the day (31.5 is 07:30 of the next): when the air is warmest and coldest."""


@dataclass(frozen=True, slots=True)
class Night:
    """A day that repeats itself: °C at its warmest and coldest, and the dew point of its air."""

    high: float
    low: float
    dew_point: float

    def outdoors(self, hour: float) -> float:
        """°C outdoors at an hour of the day; hours run on past 24."""
        since = (hour - WARMEST) % 24
        falling = COLDEST - WARMEST
        phase = since / falling if since <= falling else 2 - (24 - since) / (24 - falling)
        return self.low + (self.high - self.low) * (1 + math.cos(math.pi * phase)) / 2


@dataclass(frozen=True, slots=True)
class Day:
    """°C in the morning and in the afternoon of one day, and the dew point of its air."""

    low: float
    high: float
    dew: float


@dataclass(frozen=True, slots=True)
class Weather:
    """Day after day from the local midnight `start` on; the last one goes on for ever."""

    start: Millis
    days: Sequence[Day]

    def day(self, at: Millis) -> Day:
        """The day that `at` lies in."""
        return self._day((at - self.start) // DAY)

    def outdoors(self, at: Millis) -> float:
        """°C outdoors: a cosine from each morning's low to the afternoon's high and back."""
        number, since = divmod(at - self.start, DAY)
        before, today, tomorrow = (self._day(n) for n in (number - 1, number, number + 1))
        if since < _MORNING:
            return _between(before.high, today.low, (since + DAY - _NOON) / (DAY - _NOON + _MORNING))
        if since < _NOON:
            return _between(today.low, today.high, (since - _MORNING) / (_NOON - _MORNING))
        return _between(today.high, tomorrow.low, (since - _NOON) / (DAY - _NOON + _MORNING))

    def _day(self, number: int) -> Day:
        return self.days[min(max(number, 0), len(self.days) - 1)]


_MORNING, _NOON = (COLDEST - 24) * HOUR, WARMEST * HOUR


def _between(one: float, other: float, share: float) -> float:
    return one + (other - one) * (1 - math.cos(math.pi * share)) / 2


@dataclass(frozen=True, slots=True)
class Place:
    """A room: how far above outdoors it would come to rest (K), and the hours it takes to get two thirds there."""

    lift: float
    lag: float

    def after(self, inside: float, outdoors: float, seconds: float) -> float:
        """°C inside after `seconds` of outdoor air that stays as it is: Newton's law, exactly."""
        rest = outdoors + self.lift
        return rest + (inside - rest) * math.exp(-seconds / (self.lag * 3600))


def air(inside: float, night: Night) -> Air:
    """The air of a place: outdoor vapour, warmed. Never above 97 %."""
    humidity = 100 * saturation(night.dew_point) / saturation(inside)
    return Air(inside, min(97.0, humidity))
