"""Readings thinned out for a picture so that no extreme is lost, and cut where nothing was heard."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

from monitor.errors import BadValue
from monitor.readings import Millis
from monitor.science.exposure import SILENT_AFTER


@dataclass(frozen=True, slots=True)
class Point:
    """Readings that share one column of the picture: when the first and last were, lowest, mean and highest value."""

    first: Millis
    last: Millis
    low: float
    mean: float
    high: float

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise BadValue("a point ends before it begins")
        if not all(map(math.isfinite, (self.low, self.mean, self.high))) or not self.low <= self.mean <= self.high:
            raise BadValue("a point's mean lies between its lowest and highest value")

    @property
    def at(self) -> Millis:
        """Where the point is drawn: between its first and last reading."""
        return (self.first + self.last) // 2


def curve(readings: Iterable[tuple[Millis, float]], start: Millis, width: Millis) -> list[Point]:
    """Points of (time, value) in order of time, one for each `width` counted from `start` in which anything was heard."""
    if width <= 0:
        raise BadValue("a column is wider than nothing")
    columns = groupby(readings, key=lambda one: (one[0] - start) // width)
    return [_point(list(column)) for _, column in columns]


def stretches(points: Sequence[Point], interval: Millis) -> list[tuple[Point, ...]]:
    """The points in pieces: none is joined to the next across more than 2.5 × the probe's interval."""
    pieces: list[list[Point]] = []
    for point in points:
        if pieces and point.first - pieces[-1][-1].last <= SILENT_AFTER * interval:
            pieces[-1].append(point)
        else:
            pieces.append([point])
    return [tuple(piece) for piece in pieces]


def _point(column: Sequence[tuple[Millis, float]]) -> Point:
    values = [value for _, value in column]
    low, high = min(values), max(values)
    # Rounding can put the mean of equal values a hair outside them.
    mean = min(high, max(low, math.fsum(values) / len(values)))
    return Point(column[0][0], column[-1][0], low, mean, high)
