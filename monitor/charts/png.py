"""A picture of coloured dots as PNG, without any library but zlib: for mail programs, which show no SVG."""

from __future__ import annotations

import math
import struct
import zlib
from collections.abc import Iterator, Sequence

from monitor.errors import BadValue

Colour = tuple[int, int, int]
_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_MOST = 4096
"""Dots along one side: a chart needs a few hundred, and 16 million bytes are what a small board can spare."""


class Canvas:
    """A field of dots, (0, 0) at the upper left, each one of up to 256 colours; what lies outside is left out."""

    def __init__(self, width: int, height: int, palette: Sequence[Colour]) -> None:
        """Filled with the first colour of `palette`; colours are named by their place in it."""
        if not 1 <= width <= _MOST or not 1 <= height <= _MOST or not 1 <= len(palette) <= 256:
            raise BadValue("a picture has 1 to 4096 dots along each side and 1 to 256 colours")
        self.width, self.height = width, height
        self.palette = tuple(palette)
        self._rows = [bytearray(width) for _ in range(height)]

    def dot(self, x: int, y: int, colour: int) -> None:
        """One dot."""
        self.box(x, y, x + 1, y + 1, colour=colour)

    def box(self, left: int, top: int, right: int, foot: int, *, colour: int) -> None:
        """All dots with left <= x < right and top <= y < foot."""
        if not 0 <= colour < len(self.palette):
            raise BadValue("a colour is one of the palette's")
        left, right = max(0, left), min(self.width, right)
        if left < right:
            for row in self._rows[max(0, top) : max(0, min(self.height, foot))]:
                row[left:right] = bytes([colour]) * (right - left)

    def line(self, start: tuple[int, int], end: tuple[int, int], *, colour: int, thick: int = 1) -> None:
        """A straight line of squares `thick` dots wide, both ends included."""
        (x, y), (to_x, to_y) = start, end
        steps = max(abs(to_x - x), abs(to_y - y), 1)
        for k in range(steps + 1):
            left, top = x + round((to_x - x) * k / steps), y + round((to_y - y) * k / steps)
            self.box(
                left - thick // 2,
                top - thick // 2,
                left - thick // 2 + thick,
                top - thick // 2 + thick,
                colour=colour,
            )

    def polygon(self, corners: Sequence[tuple[float, float]], *, colour: int) -> None:
        """All dots whose middle lies inside a closed line through these corners (even-odd rule)."""
        if len(corners) < 3:
            return
        top, foot = min(y for _, y in corners), max(y for _, y in corners)
        for y in range(max(0, math.floor(top)), min(self.height, math.ceil(foot) + 1)):
            cuts = sorted(_cuts(corners, y + 0.5))
            for left, right in zip(cuts[::2], cuts[1::2], strict=True):
                self.box(math.ceil(left - 0.5), y, math.ceil(right - 0.5), y + 1, colour=colour)

    def png(self) -> bytes:
        """The picture as PNG with a palette (ISO/IEC 15948, clauses 5 and 11): the same bytes for the same dots."""
        head = struct.pack(">IIBBBBB", self.width, self.height, 8, 3, 0, 0, 0)
        rows = b"".join(b"\0" + row for row in self._rows)
        colours = b"".join(bytes(colour) for colour in self.palette)
        parts = ((b"IHDR", head), (b"PLTE", colours), (b"IDAT", zlib.compress(rows, 9)), (b"IEND", b""))
        return _SIGNATURE + b"".join(_chunk(kind, data) for kind, data in parts)


def _cuts(corners: Sequence[tuple[float, float]], y: float) -> Iterator[float]:
    """Where a horizontal line crosses the edges; at a corner only the edge that goes on downwards counts."""
    for (x, a), (to_x, b) in zip(corners, [*corners[1:], corners[0]], strict=True):
        if (a <= y) != (b <= y):
            yield x + (y - a) * (to_x - x) / (b - a)


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
