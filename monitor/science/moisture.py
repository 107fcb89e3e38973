"""From what a moisture probe sends to wet-basis moisture, by the keeper's own calibration points.

A capacitive probe's reading falls as moisture rises, and depends on supply, depth, packing and bedding, so
nothing but points taken in the keeper's own bedding turns it into per cent of wet mass.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple, Protocol

MARGIN = 0.05
"""How far beyond its driest or wettest point a probe may read before it says "recalibrate or lifted"
(proposal: fraction outside −0.05…1.05)."""


class Pair(Protocol):
    """One point: what was sent in bedding of known moisture (% wet basis)."""

    @property
    def counts(self) -> float:
        """What the probe sent."""

    @property
    def moisture(self) -> float:
        """Per cent of wet mass."""


class Calibrated(Protocol):
    """A probe with its points, in any order."""

    @property
    def calibration(self) -> Sequence[Pair]:
        """The points; fewer than two are none."""


class Line(NamedTuple):
    """Points made ready once: what is sent, rising, and the moisture (%) at each. They cover `least` to `most`."""

    counts: tuple[float, ...]
    moistures: tuple[float, ...]
    least: float
    most: float

    one_way: bool
    """Whether moisture only ever rises, or only ever falls, along the line."""


def line_of(probe: Calibrated) -> Line | None:
    """A probe's line; None without two different points."""
    return _line(tuple([(p.counts, p.moisture) for p in probe.calibration])) if probe.calibration else None


@lru_cache(maxsize=4096)
def _line(points: tuple[tuple[float, float], ...]) -> Line | None:
    points = tuple(sorted(points))
    if len(points) < 2 or points[0][0] == points[-1][0]:
        return None
    beyond = MARGIN * (points[-1][0] - points[0][0])
    counts, moistures = zip(*points, strict=True)
    steps = [after - before for before, after in pairwise(moistures)]
    one_way = all(step >= 0 for step in steps) or all(step <= 0 for step in steps)
    return Line(counts, moistures, points[0][0] - beyond, points[-1][0] + beyond, one_way)


def moisture_percent(probe: Calibrated, value: float) -> tuple[float, bool] | None:
    """(% wet basis, whether the points cover it) for what the probe sent; None without two different points.

    Piecewise linear in what is sent; beyond the outermost points the outermost line goes on, held to 0…100 %.
    Not covered means: beyond the driest or wettest point by more than MARGIN of the span between them, so the
    probe was lifted or wants calibrating again.
    """
    line = line_of(probe)
    return None if line is None else (on_line(line, value), line.least <= value <= line.most)


def on_line(line: Line, value: float) -> float:
    """The moisture (% wet basis) on a line for what was sent, held to 0…100."""
    counts, moistures = line.counts, line.moistures
    right = bisect_right(counts, value, 1, len(counts) - 1)
    x0, y0, x1 = counts[right - 1], moistures[right - 1], counts[right]
    percent = y0 if x1 == x0 else y0 + (value - x0) * (moistures[right] - y0) / (x1 - x0)
    return 0.0 if percent < 0 else 100.0 if percent > 100 else percent


class Firm(NamedTuple):
    """What can be said of a moisture (% wet basis): that it is so much, at least (1) or at most (−1) so much."""

    percent: float
    side: int = 0


def firm(probe: Calibrated, value: float) -> Firm | None:
    """What the points say for sure: the moisture where they cover it, beyond them the outermost point's own.

    Wetter than the wettest point is at least as wet. Drier than the driest is at most as wet, as long as the line goes on
    above 0 %: drier than bone dry is a probe in the air, and that says nothing of the bed. None then, and without points.
    """
    found = moisture_percent(probe, value)
    if found is None or found[1]:
        return found and Firm(found[0])
    ends = sorted((p.counts, p.moisture) for p in probe.calibration)
    near, far = (ends[0], ends[-1]) if value < ends[0][0] else (ends[-1], ends[0])
    if near[1] > far[1]:
        return Firm(near[1], 1)
    return Firm(near[1], -1) if found[0] > 0 else None


def wetness(probe: Calibrated, value: float) -> float | None:
    """Where the value lies between the driest (0) and the wettest point (1), linear in what is sent and not
    held to that range; None without two points that differ in both.
    """
    if len(probe.calibration) < 2:
        return None
    dry = min(probe.calibration, key=lambda p: p.moisture)
    wet = max(probe.calibration, key=lambda p: p.moisture)
    if dry.counts == wet.counts:
        return None
    return (value - dry.counts) / (wet.counts - dry.counts)
