"""Where everything of a chart stands, in px: one reckoning for SVG and PNG, so that both say the same."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from monitor.charts.chart import Chart, Kind, Mark, spaced
from monitor.readings import Millis

APART, ASIDE = 11.0, 33.0
"""px between the middles of two marks of a lane, and how far one is moved aside at most so that both are seen."""
GAP = 10.0
"""Room between letters and whatever stands beside them."""


@dataclass(frozen=True, slots=True)
class Measure:
    """How large a picture is drawn: its width, the height of a panel, and the room that letters take, all in px.

    `letter` is the width of a usual letter, `row` the height of a row of letters; `key` is whether a key to the lines
    stands below, `signs` whether one to the marks does as well.
    """

    width: float = 760.0
    panel: float = 190.0
    letter: float = 6.6
    row: float = 18.0
    key: bool = True
    signs: bool = True
    title: bool = False
    marks: int = 64
    """How many marks fit beside each other."""


WIDE = Measure()
NARROW = Measure(width=328.0, panel=170.0, marks=26)
STRIP = Measure(width=328.0, panel=84.0, signs=False, marks=26)


@dataclass(frozen=True, slots=True)
class KeyItem:
    """One entry of the key: where it stands, the style of its line or the kind of its mark, and its words."""

    x: float
    y: float
    line: int | None
    kind: Kind | None
    words: str


class Layout:
    """The places of one chart at one size: x of a time, y of a value in a panel, rows of lanes, ticks that have room."""

    def __init__(self, chart: Chart, size: Measure) -> None:
        chart = spaced(chart, size.marks)
        self.chart, self.size = chart, size
        names = [words for panel in chart.panels for _, words in panel.values]
        longest = max((len(name) for name in [*names, *(lane.name for lane in chart.lanes)]), default=2)
        self.left = longest * size.letter + GAP
        self.right = size.width - 8
        y = size.row * (1.3 if size.title else 0.2)
        self.lanes = [y + size.row * (n + 0.5) for n in range(len(chart.lanes))]
        y += size.row * len(self.lanes) + 4 * bool(self.lanes)
        self.panels: list[tuple[float, float]] = []
        for _ in chart.panels:
            y += size.row
            self.panels.append((y, y + size.panel))
            y += size.panel + 8
        self.axis = self.panels[-1][1] if self.panels else y
        y = self.axis + size.row + 6
        self.key = list(self._key(y)) if size.key else []
        self.height = max((item.y for item in self.key), default=y - size.row) + size.row

    def x(self, at: Millis) -> float:
        """Where a time stands; what lies outside stands at the edge."""
        share = (at - self.chart.start) / (self.chart.end - self.chart.start)
        return self.left + min(1.0, max(0.0, share)) * (self.right - self.left)

    def y(self, panel: int, value: float) -> float:
        """Where a value stands; what lies outside stands at the edge."""
        top, foot = self.panels[panel]
        one = self.chart.panels[panel]
        share = (value - one.low) / (one.high - one.low)
        return foot - min(1.0, max(0.0, share)) * (foot - top)

    @property
    def top(self) -> float:
        """Where the first panel, or the first lane, begins."""
        return self.panels[0][0] if self.panels else 0.0

    def marks(self, lane: int) -> list[tuple[float, Mark]]:
        """The marks of a lane that lie inside and where each stands: at its time, or a little later where another is."""
        found: list[tuple[float, Mark]] = []
        inside = [m for m in self.chart.lanes[lane].marks if self.chart.start <= m.at < self.chart.end]
        for mark in sorted(inside, key=lambda m: m.at):
            x = self.x(mark.at)
            free = found[-1][0] + (APART if found[-1][1].count == 1 else 2 * APART) if found else x
            found.append((min(max(x, free), x + ASIDE, self.right), mark))
        return found

    def times(self) -> list[tuple[float, float, str]]:
        """Ticks: x, x of the middle of its words, words; words that have no room beside their neighbour are left empty."""
        said: list[tuple[float, float, str]] = []
        free = 0.0
        for at, words in self.chart.times:
            x = self.x(at)
            half = len(words) * self.size.letter / 2
            middle = min(max(x, half), self.size.width - half)
            room = middle - half >= free
            said.append((x, middle, words if room else ""))
            free = middle + half + self.size.letter if room else free
        return said

    def values(self, panel: int) -> list[tuple[float, str]]:
        """The axis of a panel: y and words, without words where they would touch."""
        found = [(self.y(panel, value), words) for value, words in self.chart.panels[panel].values]
        steps = [abs(a[0] - b[0]) for a, b in pairwise(found)]
        every = 1 if not steps else max(1, -(-int(self.size.row * 0.8) // max(1, int(min(steps)))))
        return [(y, words if n % every == 0 else "") for n, (y, words) in enumerate(found)]

    def _key(self, y: float) -> Iterator[KeyItem]:
        x, step = 4.0, self.size.row
        for line, kind, words in self._keyed():
            wide = (34 if line is not None else 20) + len(words) * self.size.letter
            if x > 4.0 and x + wide > self.size.width:
                x, y = 4.0, y + step
            yield KeyItem(x, y + step / 2, line, kind, words)
            x += wide + 16

    def _keyed(self) -> Iterator[tuple[int | None, Kind | None, str]]:
        told: set[tuple[int, str]] = set()
        for line in (line for panel in self.chart.panels for line in panel.lines):
            if (line.style, line.name) not in told:
                told.add((line.style, line.name))
                yield line.style, None, line.name
        for kind in self.chart.kinds if self.size.signs else ():
            yield None, kind, str(kind)


def nights_in(chart: Chart) -> list[tuple[Millis, Millis]]:
    """The nights as far as they lie inside."""
    cut = [(max(dusk, chart.start), min(dawn, chart.end)) for dusk, dawn in chart.nights]
    return [(dusk, dawn) for dusk, dawn in cut if dusk < dawn]


def words_of_bands(where: Layout, n: int) -> list[tuple[float, str, str]]:
    """The words of a panel's bands that have room: y of their middle, kind, words. They hang from the band's upper edge, or
    stand on its lower one where it has no upper; of two that would touch the first is said.
    """
    panel, (top, foot) = where.chart.panels[n], where.panels[n]
    row = where.size.row
    found: list[tuple[float, str, str]] = []
    for band in panel.bands:
        low, high = max(band.low, panel.low), min(band.high, panel.high)
        if not band.words or low >= high:
            continue
        stands = band.high > panel.high and band.low > panel.low
        y = where.y(n, low) - row / 2 if stands else where.y(n, high) + row / 2
        y = min(max(y, top + row / 2), foot - row / 2)
        if all(abs(y - other) >= row * 0.7 for other, _, _ in found):
            found.append((y, band.kind, band.words))
    return found
