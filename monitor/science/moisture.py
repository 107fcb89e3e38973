"""From what a moisture probe sends to wet-basis moisture, by the keeper's own calibration points.

A capacitive probe's reading falls as moisture rises, and depends on supply, depth, packing and bedding, so
nothing but points taken in the keeper's own bedding turns it into per cent of wet mass.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
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


def moisture_percent(probe: Calibrated, value: float) -> tuple[float, bool] | None:
    """(% wet basis, whether the points cover it) for what the probe sent; None without two different points.

    Piecewise linear in what is sent; beyond the outermost points the outermost line goes on, held to 0…100 %.
    Not covered means: beyond the driest or wettest point by more than MARGIN of the span between them, so the
    probe was lifted or wants calibrating again.
    """
    points = sorted((p.counts, p.moisture) for p in probe.calibration)
    if len(points) < 2 or points[0][0] == points[-1][0]:
        return None
    right = min(max(bisect_right(points, value, key=lambda p: p[0]), 1), len(points) - 1)
    (x0, y0), (x1, y1) = points[right - 1], points[right]
    percent = y0 if x1 == x0 else y0 + (value - x0) * (y1 - y0) / (x1 - x0)
    beyond = MARGIN * (points[-1][0] - points[0][0])
    covered = points[0][0] - beyond <= value <= points[-1][0] + beyond
    return min(max(percent, 0.0), 100.0), covered


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
