"""Calibration points out of squeezes of the hand, for want of scales: two that lie far enough apart."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from itertools import product
from statistics import median
from typing import NamedTuple

from monitor.science.squeeze import Band, Feel

LEAST_SPREAD = 0.1
"""Of the larger count: points nearer to each other than this show noise, not water (proposal)."""


class Felt(NamedTuple):
    """A squeezed handful, and what the probe beside it sent at that time."""

    counts: float
    feel: Feel
    band: Band
    day: date


class Proposed(NamedTuple):
    """One point to write down: `either_way` is how many points of moisture it may be off."""

    counts: float
    moisture: float
    either_way: float
    day: date
    hands: int


def proposed(felt: Iterable[Felt]) -> tuple[Proposed, Proposed] | None:
    """The driest and the wettest of what was felt, as points; None while no two bands are apart and far enough in what the
    probe sent. Several handfuls of one feel count by the median of the counts.
    """
    by_feel: dict[Feel, list[Felt]] = defaultdict(list)
    for one in felt:
        by_feel[one.feel].append(one)
    points = {feel: _point(of) for feel, of in by_feel.items()}
    apart = [
        (points[dry], points[wet])
        for dry, wet in product(points, points)
        if by_feel[dry][0].band.high <= by_feel[wet][0].band.low and _spread(points[dry], points[wet])
    ]
    return max(apart, key=lambda pair: pair[1].moisture - pair[0].moisture, default=None)


def _point(felt: list[Felt]) -> Proposed:
    band = felt[0].band
    counts = median(one.counts for one in felt)
    return Proposed(counts, band.middle, (band.high - band.low) / 2, max(one.day for one in felt), len(felt))


def _spread(dry: Proposed, wet: Proposed) -> bool:
    return abs(dry.counts - wet.counts) >= LEAST_SPREAD * max(dry.counts, wet.counts) > 0
