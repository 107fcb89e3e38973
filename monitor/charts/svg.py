"""One chart as SVG: shapes with classes and no colours, so that light, dark and forced colours are the style sheet's."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from html import escape

from monitor.charts import colours
from monitor.charts.chart import Band, Chart, Fan, Kind, Lane, Line, Mark
from monitor.charts.curves import Point
from monitor.charts.layout import WIDE, KeyItem, Layout, Measure, nights_in, words_of_bands
from monitor.charts.shapes import SHAPES, Way

SIZE = 5.0
"""Half the width of a mark, px."""


def draw(chart: Chart, size: Measure = WIDE, *, alone: bool = False, classes: str = "") -> str:
    """The chart as one `<svg>` element, the same text for the same chart; all words are escaped.

    `alone`: for a file of its own, with its style sheet inside. `classes` are further ones of the element.
    """
    where = Layout(chart, size)
    width, height = f"{size.width:g}", f"{where.height:g}"
    named = " ".join(filter(None, ("chart", classes)))
    own = f' width="{width}" height="{height}"' if alone else ""
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{escape(named)}" role="img" viewBox="0 0 {width} {height}"{own}>',
        f"<title>{escape(chart.name)}</title><desc>{escape(chart.words)}</desc>",
        f"<style>{colours.sheet()}</style>" if alone else "",
        f'<rect class="paper" x="0" y="0" width="{width}" height="{height}"/>',
        *(_heading(chart, size) if size.title else ()),
        *(part for n in range(len(chart.panels)) for part in _panel(where, n)),
        *(part for n, lane in enumerate(where.chart.lanes) for part in _lane(where, n, lane)),
        *_times(where),
        *(part for item in where.key for part in _key(item)),
        "</svg>",
    ]
    return "".join(parts)


def _heading(chart: Chart, size: Measure) -> Iterator[str]:
    yield f'<text class="name" x="4" y="{size.row * 0.9:.1f}">{escape(chart.name)}</text>'


# ── a panel ───────────────────────────────────────────────────────────────────────────────────────────────────


def _panel(where: Layout, n: int) -> Iterator[str]:
    panel = where.chart.panels[n]
    top, foot = where.panels[n]
    yield f'<g class="panel"><text class="word" x="{where.left:.1f}" y="{top - 5:.1f}">{escape(panel.name)}</text>'
    for band in panel.bands:
        yield _box(band.kind, where.left, _edge(where, n, band.high), where.right, _edge(where, n, band.low))
    for dusk, dawn in nights_in(where.chart):
        yield _box("night", where.x(dusk), top, where.x(dawn), foot)
    for y, words in where.values(n):
        yield f'<path class="grid" d="M{where.left:.1f} {y:.1f}H{where.right:.1f}"/>'
        if words:
            yield f'<text class="value" text-anchor="end" x="{where.left - 5:.1f}" y="{y + 4:.1f}">{escape(words)}</text>'
    for band in panel.bands:
        yield from _edges(where, n, band)
    for fan in panel.fans:
        yield from _fan(where, n, fan)
    for line in panel.lines:
        yield from _line(where, n, line)
    for y, kind, words in words_of_bands(where, n):
        yield f'<text class="halo {kind}-word" x="{where.left + 5:.1f}" y="{y + 4:.1f}">{escape(words)}</text>'
    yield f'<path class="axis" d="M{where.left:.1f} {top:.1f}V{foot:.1f}H{where.right:.1f}"/></g>'


def _edge(where: Layout, n: int, value: float) -> float:
    panel = where.chart.panels[n]
    return where.y(n, min(max(value, panel.low), panel.high))


def _box(kind: str, left: float, top: float, right: float, foot: float) -> str:
    size = f'width="{max(0.0, right - left):.1f}" height="{max(0.0, foot - top):.1f}"'
    return f'<rect class="{kind}" x="{left:.1f}" y="{top:.1f}" {size}/>'


def _edges(where: Layout, n: int, band: Band) -> Iterator[str]:
    panel = where.chart.panels[n]
    for value in (band.low, band.high):
        if math.isfinite(value) and panel.low <= value <= panel.high:
            y = where.y(n, value)
            yield f'<path class="{band.kind}-edge" d="M{where.left:.1f} {y:.1f}H{where.right:.1f}"/>'


def _line(where: Layout, n: int, line: Line) -> Iterator[str]:
    yield f'<g class="line line-{line.style % len(colours.LIGHT.lines)}"><title>{escape(line.name)}</title>'
    for piece in line.pieces:
        at = [where.x(point.at) for point in piece]
        if len(piece) == 1:
            # A lone point has no length: without a dot and a little width it would not be seen.
            yield f'<circle r="2" cx="{at[0]:.1f}" cy="{where.y(n, piece[0].mean):.1f}"/>'
            yield from _spread(where, n, (*piece, *piece), at=[at[0] - 1, at[0] + 1])
            continue
        yield from _spread(where, n, piece, at=at)
        means = " ".join(f"{x:.1f},{where.y(n, point.mean):.1f}" for x, point in zip(at, piece, strict=True))
        yield f'<polyline class="mean" points="{means}"/>'
    yield "</g>"


def _spread(where: Layout, n: int, piece: Sequence[Point], *, at: Sequence[float]) -> Iterator[str]:
    if any(point.low < point.high for point in piece):
        upper = [f"{x:.1f},{where.y(n, point.high):.1f}" for x, point in zip(at, piece, strict=True)]
        lower = [f"{x:.1f},{where.y(n, point.low):.1f}" for x, point in zip(at, piece, strict=True)]
        yield f'<polygon class="spread" points="{" ".join([*upper, *reversed(lower)])}"/>'


def _fan(where: Layout, n: int, fan: Fan) -> Iterator[str]:
    if not fan.likely:
        return
    at = [where.x(one.at) for one in fan.likely]
    upper = [f"{x:.1f},{where.y(n, one.high):.1f}" for x, one in zip(at, fan.likely, strict=True)]
    lower = [f"{x:.1f},{where.y(n, one.low):.1f}" for x, one in zip(at, fan.likely, strict=True)]
    middle = " ".join(f"{x:.1f},{where.y(n, one.middle):.1f}" for x, one in zip(at, fan.likely, strict=True))
    yield f'<g class="line line-{fan.style % len(colours.LIGHT.lines)}"><title>{escape(fan.name)}</title>'
    yield f'<polygon class="fan" points="{" ".join([*upper, *reversed(lower)])}"/>'
    yield f'<polyline class="middle" points="{middle}"/></g>'


# ── what happened, when, and the key ──────────────────────────────────────────────────────────────────────────


def _lane(where: Layout, n: int, lane: Lane) -> Iterator[str]:
    y, chart = where.lanes[n], where.chart
    place = f'text-anchor="end" x="{where.left - 5:.1f}" y="{y + 4:.1f}"'
    yield f'<g class="lane"><text class="word" {place}>{escape(lane.name)}</text>'
    yield f'<path class="grid" d="M{where.left:.1f} {y:.1f}H{where.right:.1f}"/>'
    for span in lane.spans:
        if span.end > chart.start and span.start < chart.end:
            left, right = where.x(span.start), where.x(span.end)
            size = f'width="{max(1.0, right - left):.1f}" height="6"'
            words = f"<title>{escape(span.words)}</title>"
            yield f'<rect class="span" x="{left:.1f}" y="{y - 3:.1f}" {size}>{words}</rect>'
    for x, mark in where.marks(n):
        yield _mark(mark, x, y)
    yield "</g>"


def _mark(mark: Mark, x: float, y: float) -> str:
    words = f"<title>{escape(mark.words)}</title>"
    more = f'<text class="word" x="{x + 8:.1f}" y="{y + 4:.1f}">{mark.count}</text>'
    return f"<g>{words}{shape(mark, x, y)}{more if mark.count > 1 else ''}</g>"


def shape(mark: Mark, x: float, y: float) -> str:
    """A mark's shape with its middle at (x, y)."""
    one = SHAPES[mark.kind]
    corners = [(x + SIZE * a, y + SIZE * b) for a, b in one.corners]
    path = "M" + "L".join(f"{a:.1f} {b:.1f}" for a, b in corners) + ("" if one.way is Way.STROKE else "Z")
    return f'<path class="mark {one.way}" d="{path}"/>'


def sample(kind: Kind) -> str:
    """A mark's shape by itself, for a line of text that says in words what it is."""
    return (
        f'<svg class="chart sample" aria-hidden="true" viewBox="0 0 14 14">{shape(Mark(0, kind, ""), 7, 7)}</svg>'
    )


def _times(where: Layout) -> Iterator[str]:
    for x, middle, words in where.times():
        yield f'<path class="tick" d="M{x:.1f} {where.axis:.1f}v4"/>'
        if words:
            y = where.axis + 17
            yield f'<text class="time" text-anchor="middle" x="{middle:.1f}" y="{y:.1f}">{escape(words)}</text>'
    now = where.chart.now
    if now is not None and where.chart.start < now[0] < where.chart.end:
        x = where.x(now[0])
        words = f"<title>{escape(now[1])}</title>"
        yield f'<path class="now" d="M{x:.1f} {where.top:.1f}V{where.axis:.1f}">{words}</path>'


def _key(item: KeyItem) -> Sequence[str]:
    words = f'y="{item.y + 4:.1f}">{escape(item.words)}</text>'
    if item.line is not None:
        line = f'<polyline class="mean" points="{item.x:.1f},{item.y:.1f} {item.x + 28:.1f},{item.y:.1f}"/>'
        style = item.line % len(colours.LIGHT.lines)
        return [f'<g class="line line-{style}">{line}<text x="{item.x + 34:.1f}" {words}</g>']
    if item.kind is None:
        return []
    return [shape(Mark(0, item.kind, ""), item.x + 6, item.y), f'<text x="{item.x + 17:.1f}" {words}']
