"""How long, and how far, a bed lay below, inside and above a band: hours and degree-hours, never reckoned across a silence."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from monitor.errors import BadValue
from monitor.readings import HOUR, Millis
from monitor.science.series import above_zero

SILENT_AFTER = 2.5
"""Intervals of the probe after which nothing is known between two readings, and the line of a chart is cut: one lost reading is
passed over, two are not (our choice)."""


@dataclass(frozen=True, slots=True)
class Exposure:
    """Hours below, inside and above a band, and degree-hours (°C h, or % h) short of it and beyond it.

    A degree-hour is one degree outside for one hour: the integral of the distance over time (as growing degree-hours are
    defined; common practice, no source).
    """

    below: float
    inside: float
    above: float
    short: float
    beyond: float

    @property
    def known(self) -> float:
        """Hours about which anything is known."""
        return self.below + self.inside + self.above


def exposure(readings: Sequence[tuple[Millis, float]], low: float, high: float, *, interval: Millis) -> Exposure:
    """What (time, value) in order of time say of a band, straight lines drawn between neighbours.

    Two readings further apart than 2.5 × `interval` have nothing between them; an end that is not limited is ±inf.
    """
    if not low < high or interval <= 0:
        raise BadValue("a band runs from a lower to a higher value, and a probe has an interval")
    heard = [
        ((b[0] - a[0]) / HOUR, a[1], b[1]) for a, b in pairwise(readings) if b[0] - a[0] <= SILENT_AFTER * interval
    ]
    under = [above_zero(hours, low - a, low - b) for hours, a, b in heard]
    over = [above_zero(hours, a - high, b - high) for hours, a, b in heard]
    below, short = (math.fsum(part) for part in zip(*under, strict=True)) if under else (0.0, 0.0)
    above, beyond = (math.fsum(part) for part in zip(*over, strict=True)) if over else (0.0, 0.0)
    total = math.fsum(hours for hours, _, _ in heard)
    return Exposure(below, max(0.0, total - below - above), above, short, beyond)


def energy(hours_on: float, watts: float) -> float:
    """What a mat of `watts` uses in `hours_on`, in kWh: power × time (SI Brochure, 9th ed.: 1 kWh = 3.6 MJ) [memory]."""
    if hours_on < 0 or watts < 0:
        raise BadValue("neither hours nor watts are less than nothing")
    return hours_on * watts / 1000
