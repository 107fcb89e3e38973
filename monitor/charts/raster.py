"""One chart as PNG with letters: for mail programs, which show no SVG. Always light: no mail knows its reader's."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from monitor.charts import colours
from monitor.charts.chart import Band, Chart, Fan, Lane, Line, Mark
from monitor.charts.colours import FAN, LIGHT, NIGHT, SPREAD, Colour, mixed
from monitor.charts.layout import KeyItem, Layout, Measure, nights_in, words_of_bands
from monitor.charts.letters import STAND, wide, write
from monitor.charts.png import Canvas
from monitor.charts.shapes import DASHES, SHAPES, Way
from monitor.charts.svg import SIZE
from monitor.readings import Millis

DENSITY = 2
"""Dots for each px: a mail shows the picture at half its size, so that a phone shows it sharp."""
SCALE = 3
"""Dots for each dot of a letter."""
MAIL = Measure(width=540.0, panel=190.0, letter=7.6, row=20.0, title=True, marks=44)
"""540 px fit a mail's usual width; a letter is 5 × 7 dots of 1½ px."""


def _palette() -> tuple[list[Colour], dict[str, int]]:
    inks = LIGHT
    named: dict[str, Colour] = {
        "paper": inks.paper, "ink": inks.ink, "soft": inks.soft, "grid": inks.grid,
        "comfort": inks.comfort, "comfort-edge": inks.comfort_edge, "harm": inks.harm, "harm-edge": inks.harm_edge,
    }  # fmt: skip
    named |= {f"{n}-night": mixed(named[n], inks.night, NIGHT) for n in ("paper", "comfort", "harm")}
    for n, line in enumerate(inks.lines):
        named |= {f"line-{n}": line, f"spread-{n}": mixed(inks.comfort, line, SPREAD)}
        named |= {f"fan-{n}": mixed(inks.comfort, line, FAN)}
    return list(named.values()), {name: place for place, name in enumerate(named)}


PALETTE, PLACE = _palette()


def picture(chart: Chart, size: Measure = MAIL) -> bytes:
    """The chart as PNG, the same bytes for the same chart. Its words belong beside it: a picture cannot be read out."""
    where = Layout(chart, size)
    canvas = Canvas(round(size.width * DENSITY), math.ceil(where.height * DENSITY), PALETTE)
    drawing = _Drawing(canvas, where)
    if size.title:
        drawing.text(4, size.row * 0.6, chart.name)
    for n in range(len(chart.panels)):
        drawing.panel(n)
    for n, lane in enumerate(where.chart.lanes):
        drawing.lane(n, lane)
    drawing.times()
    for item in where.key:
        drawing.key(item)
    return canvas.png()


@dataclass(frozen=True, slots=True)
class _Drawing:
    canvas: Canvas
    where: Layout

    # in px ---------------------------------------------------------------------------------------------------

    def box(self, left: float, top: float, right: float, foot: float, *, ink: str) -> None:
        dots = [round(v * DENSITY) for v in (left, top, right, foot)]
        self.canvas.box(dots[0], dots[1], dots[2], dots[3], colour=PLACE[ink])

    def rule(
        self, left: float, y: float, right: float, *, ink: str, thick: int = 1, dash: Sequence[float] = ()
    ) -> None:
        self.stroke([(left, y), (right, y)], ink=ink, thick=thick, dash=dash)

    def stroke(
        self, points: Sequence[tuple[float, float]], *, ink: str, thick: int, dash: Sequence[float] = ()
    ) -> None:
        dots = [(x * DENSITY, y * DENSITY) for x, y in points]
        for a, b in _dashed(dots, [d * DENSITY for d in dash]):
            start, end = (round(a[0]), round(a[1])), (round(b[0]), round(b[1]))
            self.canvas.line(start, end, colour=PLACE[ink], thick=thick)

    def text(self, x: float, middle: float, words: str, *, ink: str = "ink", hang: float = 0.0) -> None:
        """`hang` is the share of its width that lies left of x."""
        left = round(x * DENSITY - hang * wide(words, SCALE))
        left = max(0, min(left, self.canvas.width - wide(words, SCALE)))
        top = round(middle * DENSITY - SCALE * STAND / 2)
        write(self.canvas, (left, top), words, colour=PLACE[ink], scale=SCALE)

    def shape(self, mark: Mark, x: float, y: float) -> None:
        one = SHAPES[mark.kind]
        corners = [(x + SIZE * a, y + SIZE * b) for a, b in one.corners]
        dots = [(a * DENSITY, b * DENSITY) for a, b in corners]
        if one.way is not Way.STROKE:
            self.canvas.polygon(dots, colour=PLACE["ink" if one.way is Way.FULL else "paper"])
            corners = [*corners, corners[0]]
        self.stroke(corners, ink="ink", thick=3)

    # a panel -------------------------------------------------------------------------------------------------

    def panel(self, n: int) -> None:
        where, panel = self.where, self.where.chart.panels[n]
        top, foot = where.panels[n]
        self.text(where.left, top - 9, panel.name, ink="soft")
        self.ground(n, where.left, where.right, "")
        for dusk, dawn in nights_in(where.chart):
            self.ground(n, where.x(dusk), where.x(dawn), "-night")
        for y, words in where.values(n):
            self.rule(where.left, y, where.right, ink="grid")
            self.text(where.left - 5, y, words, ink="soft", hang=1)
        for line in panel.lines:
            self.spread(n, line)
        for band in panel.bands:
            self.edges(n, band)
        for fan in panel.fans:
            self.fan(n, fan)
        for line in panel.lines:
            self.line(n, line)
        for y, kind, words in words_of_bands(where, n):
            wide_px = wide(words, SCALE) / DENSITY
            self.box(where.left + 2, y - 7, where.left + 8 + wide_px, y + 6, ink=kind)
            self.text(where.left + 5, y, words, ink=f"{kind}-edge")
        self.stroke([(where.left, top), (where.left, foot), (where.right, foot)], ink="soft", thick=2)

    def ground(self, n: int, left: float, right: float, night: str) -> None:
        where, panel = self.where, self.where.chart.panels[n]
        top, foot = where.panels[n]
        self.box(left, top, right, foot, ink=f"paper{night}")
        for band in panel.bands:
            low, high = max(band.low, panel.low), min(band.high, panel.high)
            if low < high:
                self.box(left, where.y(n, high), right, where.y(n, low), ink=f"{band.kind}{night}")

    def edges(self, n: int, band: Band) -> None:
        where, panel = self.where, self.where.chart.panels[n]
        dash = (1.5, 2.5) if band.kind == "harm" else ()
        for value in (band.low, band.high):
            if math.isfinite(value) and panel.low <= value <= panel.high:
                self.rule(where.left, where.y(n, value), where.right, ink=f"{band.kind}-edge", thick=2, dash=dash)

    def spread(self, n: int, line: Line) -> None:
        where, ink = self.where, f"spread-{line.style % len(LIGHT.lines)}"
        for piece in line.pieces:
            at = [where.x(point.at) for point in piece]
            for k, point in enumerate(piece):
                if point.low < point.high:
                    left = (at[k - 1] + at[k]) / 2 if k else at[k] - 1
                    right = (at[k] + at[k + 1]) / 2 if k + 1 < len(at) else at[k] + 1
                    high, low = where.y(n, point.high), where.y(n, point.low)
                    self.box(left, high, right, max(low, high + 0.5), ink=ink)

    def line(self, n: int, line: Line) -> None:
        style = line.style % len(LIGHT.lines)
        for piece in line.pieces:
            points = [(self.where.x(point.at), self.where.y(n, point.mean)) for point in piece]
            if len(points) == 1:
                (x, y) = points[0]
                self.box(x - 1.5, y - 1.5, x + 1.5, y + 1.5, ink=f"line-{style}")
            else:
                self.stroke(points, ink=f"line-{style}", thick=4, dash=DASHES[style])

    def fan(self, n: int, fan: Fan) -> None:
        style = fan.style % len(LIGHT.lines)
        y = self._y(n)
        upper = [(self.where.x(one.at), y(one.high)) for one in fan.likely]
        lower = [(self.where.x(one.at), y(one.low)) for one in fan.likely]
        corners = [(a * DENSITY, b * DENSITY) for a, b in [*upper, *reversed(lower)]]
        self.canvas.polygon(corners, colour=PLACE[f"fan-{style}"])
        middle = [(self.where.x(one.at), y(one.middle)) for one in fan.likely]
        if len(middle) > 1:
            self.stroke(middle, ink=f"line-{style}", thick=3, dash=(3, 3))

    def _y(self, n: int) -> Callable[[float], float]:
        return lambda value: self.where.y(n, value)

    # the rest ------------------------------------------------------------------------------------------------

    def lane(self, n: int, lane: Lane) -> None:
        where, y = self.where, self.where.lanes[n]
        self.text(where.left - 5, y, lane.name, ink="soft", hang=1)
        self.rule(where.left, y, where.right, ink="grid")
        for span in lane.spans:
            if span.end > where.chart.start and span.start < where.chart.end:
                left = where.x(span.start)
                self.box(left, y - 3, max(left + 1, where.x(span.end)), y + 3, ink="soft")
        for x, mark in where.marks(n):
            self.shape(mark, x, y)
            if mark.count > 1:
                self.text(x + 8, y, str(mark.count), ink="soft")

    def times(self) -> None:
        where = self.where
        for x, middle, words in where.times():
            self.stroke([(x, where.axis), (x, where.axis + 4)], ink="soft", thick=2)
            self.text(middle, where.axis + 13, words, hang=0.5)
        now: tuple[Millis, str] | None = where.chart.now
        if now is not None and where.chart.start < now[0] < where.chart.end:
            x = where.x(now[0])
            self.stroke([(x, where.top), (x, where.axis)], ink="soft", thick=3, dash=(1, 3))

    def key(self, item: KeyItem) -> None:
        if item.line is not None:
            style = item.line % len(colours.LIGHT.lines)
            dash = DASHES[style]
            self.rule(item.x, item.y, item.x + 28, ink=f"line-{style}", thick=4, dash=dash)
            self.text(item.x + 34, item.y, item.words)
        elif item.kind is not None:
            self.shape(Mark(0, item.kind, ""), item.x + 6, item.y)
            self.text(item.x + 17, item.y, item.words)


Spot = tuple[float, float]


def _dashed(points: Sequence[Spot], dash: Sequence[float]) -> list[tuple[Spot, Spot]]:
    """The straight pieces of a line through these points that are inked; without a dash all of it."""
    pieces = list(pairwise(points))
    if not dash:
        return pieces
    found: list[tuple[Spot, Spot]] = []
    place, left = 0, dash[0]
    for (x, y), (to_x, to_y) in pieces:
        length = math.hypot(to_x - x, to_y - y)
        done = 0.0
        while done < length:
            step = min(left, length - done)
            if place % 2 == 0:
                a, b = done / length, (done + step) / length
                found.append(((x + (to_x - x) * a, y + (to_y - y) * a), (x + (to_x - x) * b, y + (to_y - y) * b)))
            done, left = done + step, left - step
            if left <= 1e-9:
                place += 1
                left = dash[place % len(dash)]
    return found
