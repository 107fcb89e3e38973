"""Clocks that run with warmth: degree-days, Q10, how fast worms eat, when cocoons hatch.

Temperatures in °C, time in days. No development base was published for the composting species; the bases here are our
proposals, each hung on one published point, and what follows from them is told as a range.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from monitor.errors import BadValue


def degree_days(low: float, high: float, *, base: float) -> float:
    """Degree-days above `base` of a day that swings from `low` to `high` as one sine.

    Baskerville & Emin 1969, Ecology 50:514–517 (memory); against a numeric integral in the tests.
    """
    if not low <= high or not all(map(math.isfinite, (low, high, base))):
        raise BadValue(f"a day from {low} to {high} °C cannot be")
    mean, swing = (low + high) / 2, (high - low) / 2
    if low >= base:
        return mean - base
    if high <= base:
        return 0.0
    angle = math.asin((base - mean) / swing)
    return ((mean - base) * (math.pi / 2 - angle) + swing * math.cos(angle)) / math.pi


def summed(spans: Sequence[tuple[float, float]], *, base: float, most: float = math.inf) -> float:
    """Degree-days of (days, °C) spans above `base`; above `most` a span counts nothing: heat does not ripen, it harms."""
    return sum(days * max(0.0, celsius - base) for days, celsius in spans if celsius <= most)


def q10(slow: tuple[float, float], fast: tuple[float, float]) -> float:
    """How much faster ten kelvins make it, from two (°C, rate): (r2 / r1)^(10 / (T2 − T1)) (definition)."""
    (t1, r1), (t2, r2) = slow, fast
    if t1 == t2 or not (r1 > 0 and r2 > 0):
        raise BadValue("Q10 needs two rates above 0 at two temperatures")
    return float((r2 / r1) ** (10 / (t2 - t1)))


def rate_at(celsius: float, *, rate: float, at: float, ratio: float = 2.0) -> float:
    """A rate known at `at` °C, at `celsius`: rate · ratio^((T − at) / 10)."""
    if not (0 <= rate < math.inf and 0 < ratio < math.inf):
        raise BadValue(f"a rate of {rate} and a Q10 of {ratio} cannot be")
    return float(rate * ratio ** ((celsius - at) / 10))


class Line(NamedTuple):
    """A straight line through development rates: nothing below `base` °C, done after `total` degree-days."""

    base: float
    total: float


def line_through(points: Sequence[tuple[float, float]]) -> Line:
    """The line through (°C, days) by least squares on 1 / days: base = −a / b, total = 1 / b.

    The classical thermal sum (Campbell et al. 1974, J. Appl. Ecol. 11:431–438; memory).
    """
    if len({celsius for celsius, _ in points}) < 2 or any(not 0 < days < math.inf for _, days in points):
        raise BadValue("a line needs days above 0 at two temperatures or more")
    count = len(points)
    middle = sum(t for t, _ in points) / count
    rate = sum(1 / d for _, d in points) / count
    slope = sum((t - middle) * (1 / d - rate) for t, d in points) / sum((t - middle) ** 2 for t, _ in points)
    if slope <= 0:
        raise BadValue("what does not go faster in the warm has no base")
    return Line(middle - rate / slope, 1 / slope)


def days_at(celsius: float, line: Line) -> float:
    """Days it takes at an even `celsius`; infinite at or below the base."""
    return line.total / (celsius - line.base) if celsius > line.base else math.inf
