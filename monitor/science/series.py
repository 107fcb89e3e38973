"""Readings over time: means weighted by time, outliers by medians, hours below a limit. No gap is ever integrated across.

A series is (time in ms, value) in order of time. What lies between two readings further apart than `gap` is not known.
"""

from __future__ import annotations

import statistics
from collections.abc import Iterator, Sequence
from itertools import pairwise

from monitor.readings import HOUR, MINUTE, Millis

Series = Sequence[tuple[Millis, float]]
GAP: Millis = 45 * MINUTE
"""Between two readings: three of the usual quarters of an hour (proposal)."""
COVERED = 0.75
"""Share of a span that must be known for its mean to be told (proposal)."""
NORMAL = 1.4826
"""Standard deviations to a median absolute deviation (Rousseeuw & Croux 1993, J. Am. Stat. Assoc. 88:1273-1283; memory)."""
FAR = 3.0
"""Of them to an outlier (Pearson 2002, IEEE Trans. Control Syst. Technol. 10:55-63, Hampel filter; memory)."""


def mean(series: Series, start: Millis, end: Millis, *, gap: Millis = GAP) -> float | None:
    """Time-weighted mean over [start, end] of straight lines between readings; None where too little of it is known."""
    total = known = 0.0
    for span, first, last in _pieces(series, start, end, gap):
        total += span * (first + last) / 2
        known += span
    return total / known if known and known >= COVERED * (end - start) else None


def degree_hours(series: Series, limit: float, *, below: bool, gap: Millis = GAP) -> float:
    """K·h beyond `limit` of all that is known; straight lines, cut where they cross it."""
    sign = -1 if below else 1
    return sum(
        above_zero((end - start) / HOUR, sign * (first - limit), sign * (last - limit))[1]
        for (start, first), (end, last) in pairwise(series)
        if 0 < end - start <= gap
    )


def known_hours(series: Series, *, gap: Millis = GAP) -> float:
    """h between readings no further apart than `gap`."""
    return sum(max(0, b - a) for (a, _), (b, _) in pairwise(series) if b - a <= gap) / HOUR


def deviation(values: Sequence[float], *, floor: float) -> float:
    """Robust standard deviation by the median absolute deviation, at least `floor`: a still probe's is 0."""
    middle = statistics.median(values)
    return max(floor, NORMAL * statistics.median(abs(value - middle) for value in values))


def without_outliers(
    series: Series, *, floor: float, reach: int = 3, far: float = FAR
) -> list[tuple[Millis, float]]:
    """The readings that lie near the median of themselves and `reach` neighbours on either side (Hampel's rule).

    `floor` is the least standard deviation, in the values' unit: without it the first step after a still hour would go.
    """
    kept = []
    for index, (at, value) in enumerate(series):
        around = [v for _, v in series[max(0, index - reach) : index + reach + 1]]
        if abs(value - statistics.median(around)) <= far * deviation(around, floor=floor):
            kept.append((at, value))
    return kept


def smoothed(series: Series, *, gap: Millis = GAP) -> Iterator[tuple[Millis, float]]:
    """Centred means of five readings, none of which lies beyond a gap; fewer than three are none."""
    for index, (at, _) in enumerate(series):
        near = [index]
        for way in (-1, 1):
            place = index
            while abs(place + way - index) <= 2 and 0 <= place + way < len(series):
                if abs(series[place + way][0] - series[place][0]) > gap:
                    break
                place += way
                near.append(place)
        if len(near) >= 3:
            yield at, sum(series[place][1] for place in near) / len(near)


def _pieces(series: Series, start: Millis, end: Millis, gap: Millis) -> Iterator[tuple[float, float, float]]:
    for (begins, first), (ends, last) in pairwise(series):
        low, high = max(begins, start), min(ends, end)
        if high <= low or ends - begins > gap:
            continue
        slope = (last - first) / (ends - begins)
        yield high - low, first + slope * (low - begins), first + slope * (high - begins)


def above_zero(hours: float, first: float, last: float) -> tuple[float, float]:
    """How long a straight line from `first` to `last` over `hours` is above zero, and the area under it there."""
    if max(first, last) <= 0:
        return 0.0, 0.0
    if min(first, last) >= 0:
        return hours, hours * (first + last) / 2
    top = max(first, last)
    part = hours * top / abs(last - first)
    return part, part * top / 2
