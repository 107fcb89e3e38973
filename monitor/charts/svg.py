"""One chart as SVG: shapes with classes and no colours, so that light, dark and forced colours are the style sheet's."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from monitor.charts.curves import Point
from monitor.errors import BadValue
from monitor.readings import Millis

LEFT, RIGHT, TOP, BOTTOM = 44.0, 8.0, 16.0, 20.0
"""Room for values at the left, marks at the top and times at the foot, in px."""


@dataclass(frozen=True, slots=True)
class Line:
    """One zone's line: its name, its place in the style sheet (0, 1, …: dash and colour), and its unbroken pieces."""

    name: str
    style: int
    pieces: tuple[tuple[Point, ...], ...]


@dataclass(frozen=True, slots=True)
class Band:
    """A range of values that means something, such as "comfort"; `kind` is its class in the style sheet."""

    kind: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that happened: a letter or sign to see, its class, and what is read out."""

    at: Millis
    kind: str
    sign: str
    words: str


@dataclass(frozen=True, slots=True)
class Chart:
    """What one picture shows, start <= time < end and low to high, with the words for those who cannot see it."""

    name: str
    words: str
    start: Millis
    end: Millis
    low: float
    high: float
    lines: Sequence[Line] = ()
    bands: Sequence[Band] = ()
    nights: Sequence[tuple[Millis, Millis]] = ()
    marks: Sequence[Mark] = ()
    values: Sequence[tuple[float, str]] = ()
    times: Sequence[tuple[Millis, str]] = ()

    def __post_init__(self) -> None:
        if not self.start < self.end or not self.low < self.high:
            raise BadValue("a chart has an earlier and a later end, and a lower and a higher one")


def draw(chart: Chart, *, width: int = 720, height: int = 240) -> str:
    """The chart as one `<svg>` element, the same text for the same chart; all words are escaped."""
    frame = _Frame(chart, width, height)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="chart" role="img" viewBox="0 0 {width} {height}">',
        f"<title>{escape(chart.name)}</title><desc>{escape(chart.words)}</desc>",
        *_ground(frame),
        *_axes(frame),
        *(shape for line in chart.lines for shape in _line(frame, line)),
        *(_mark(frame, mark) for mark in chart.marks if chart.start <= mark.at < chart.end),
        "</svg>",
    ]
    return "".join(parts)


@dataclass(frozen=True, slots=True)
class _Frame:
    chart: Chart
    width: int
    height: int

    def x(self, at: Millis) -> float:
        share = (at - self.chart.start) / (self.chart.end - self.chart.start)
        return LEFT + min(1.0, max(0.0, share)) * (self.width - LEFT - RIGHT)

    def y(self, value: float) -> float:
        share = (value - self.chart.low) / (self.chart.high - self.chart.low)
        return self.height - BOTTOM - min(1.0, max(0.0, share)) * (self.height - TOP - BOTTOM)

    def spot(self, at: Millis, value: float) -> str:
        return f"{self.x(at):.1f},{self.y(value):.1f}"


def _ground(frame: _Frame) -> Iterator[str]:
    left, right = frame.x(frame.chart.start), frame.x(frame.chart.end)
    floor, roof = frame.y(frame.chart.low), frame.y(frame.chart.high)
    for dusk, dawn in frame.chart.nights:
        yield _box("night", frame.x(dusk), roof, frame.x(dawn), floor)
    for band in frame.chart.bands:
        yield _box(escape(band.kind), left, frame.y(band.high), right, frame.y(band.low))


def _box(kind: str, left: float, top: float, right: float, foot: float) -> str:
    size = f'width="{max(0.0, right - left):.1f}" height="{max(0.0, foot - top):.1f}"'
    return f'<rect class="{kind}" x="{left:.1f}" y="{top:.1f}" {size}/>'


def _axes(frame: _Frame) -> Iterator[str]:
    left, right = frame.x(frame.chart.start), frame.x(frame.chart.end)
    floor = frame.y(frame.chart.low)
    for value, words in frame.chart.values:
        y = frame.y(value)
        yield f'<path class="grid" d="M{left:.1f} {y:.1f}H{right:.1f}"/>'
        yield f'<text class="value" text-anchor="end" x="{left - 4:.1f}" y="{y + 4:.1f}">{escape(words)}</text>'
    for at, words in frame.chart.times:
        yield f'<path class="tick" d="M{frame.x(at):.1f} {floor:.1f}v4"/>'
        yield f'<text class="time" text-anchor="middle" x="{frame.x(at):.1f}" y="{floor + 16:.1f}">{escape(words)}</text>'


def _line(frame: _Frame, line: Line) -> Iterator[str]:
    yield f'<g class="line line-{line.style}"><title>{escape(line.name)}</title>'
    for piece in line.pieces:
        if len(piece) == 1:
            # A lone point has no length: without a dot it would not be seen.
            yield f'<circle r="1.5" cx="{frame.x(piece[0].at):.1f}" cy="{frame.y(piece[0].mean):.1f}"/>'
        upper = [frame.spot(point.at, point.high) for point in piece]
        lower = [frame.spot(point.at, point.low) for point in reversed(piece)]
        yield f'<polygon class="spread" points="{" ".join(upper + lower)}"/>'
        means = " ".join(frame.spot(point.at, point.mean) for point in piece)
        yield f'<polyline class="mean" fill="none" points="{means}"/>'
    yield "</g>"


def _mark(frame: _Frame, mark: Mark) -> str:
    place = f'x="{frame.x(mark.at):.1f}" y="{TOP - 4:.1f}"'
    words = f"<title>{escape(mark.words)}</title>{escape(mark.sign)}"
    return f'<text class="mark {escape(mark.kind)}" text-anchor="middle" {place}>{words}</text>'
