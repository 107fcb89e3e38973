"""The shape of each kind of mark, as corners in a square from −1 to 1, y downwards: drawn alike in SVG and PNG."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from monitor.charts.chart import Kind

Corner = tuple[float, float]


class Way(StrEnum):
    """How a shape is drawn: filled, as an outline with paper inside, or as an open stroke."""

    FULL = "full"
    HOLLOW = "hollow"
    STROKE = "stroke"


@dataclass(frozen=True, slots=True)
class Shape:
    """One mark: how it is drawn, and its corners."""

    way: Way
    corners: tuple[Corner, ...]


def _round(sides: int = 12, size: float = 0.85) -> tuple[Corner, ...]:
    turns = [2 * math.pi * n / sides for n in range(sides)]
    return tuple((size * math.sin(t), -size * math.cos(t)) for t in turns)


_UP: tuple[Corner, ...] = ((0, -1), (1, 0.8), (-1, 0.8))
_DROP: tuple[Corner, ...] = (
    (0, -1), (0.45, -0.3), (0.7, 0.2), (0.62, 0.6), (0.35, 0.9), (0, 1), (-0.35, 0.9), (-0.62, 0.6), (-0.7, 0.2), (-0.45, -0.3),
)  # fmt: skip

SHAPES: Mapping[Kind, Shape] = {
    Kind.BEGAN: Shape(Way.HOLLOW, _UP),
    Kind.HARM: Shape(Way.FULL, _UP),
    Kind.EASED: Shape(Way.HOLLOW, ((0, 1), (1, -0.8), (-1, -0.8))),
    Kind.OVER: Shape(Way.HOLLOW, _round()),
    Kind.SEEN: Shape(Way.STROKE, ((-0.9, 0.1), (-0.3, 0.8), (0.9, -0.8))),
    Kind.SET_ASIDE: Shape(Way.HOLLOW, ((-0.8, -0.8), (0.8, -0.8), (0.8, 0.8), (-0.8, 0.8))),
    Kind.TAKEN_UP: Shape(Way.STROKE, ((0, 0.9), (0, -0.9), (-0.8, -0.1), (0, -0.9), (0.8, -0.1))),
    Kind.ENDED: Shape(Way.STROKE, ((-0.8, -0.8), (0.8, 0.8), (0, 0), (0.8, -0.8), (-0.8, 0.8))),
    Kind.MAT_ON: Shape(Way.FULL, ((-0.7, -0.9), (0.9, 0), (-0.7, 0.9))),
    Kind.MAT_OFF: Shape(Way.HOLLOW, ((0.7, -0.9), (-0.9, 0), (0.7, 0.9))),
    Kind.WATER: Shape(Way.FULL, _DROP),
    Kind.DRAINED: Shape(Way.HOLLOW, _DROP),
    Kind.FEED: Shape(Way.FULL, ((-0.8, -0.8), (0.8, -0.8), (0.8, 0.8), (-0.8, 0.8))),
    Kind.HARVEST: Shape(Way.FULL, ((0, -1), (0.9, 0), (0, 1), (-0.9, 0))),
    Kind.OTHER: Shape(Way.FULL, _round(8, 0.6)),
}
"""No two are alike in black and white."""

DASHES: tuple[tuple[float, ...], ...] = ((), (7, 3), (2, 3), (9, 3, 2, 3), (14, 4), (4, 2, 1, 2, 1, 2))
"""Stroke and hole lengths of each line's style, in px; none is unbroken."""
