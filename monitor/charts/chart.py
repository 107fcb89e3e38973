"""What one picture shows, as values: nothing here knows how it is drawn. `svg` and `raster` draw it, `layout` says where."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from monitor.charts.curves import Point
from monitor.errors import BadValue
from monitor.readings import Millis

STYLES = 6
"""Lines that can be told apart by dash and colour; a seventh is drawn as the first and told by its name alone."""


class Kind(StrEnum):
    """What a mark tells of. Each has a shape of its own (`shapes`) and a word, so that no colour is needed."""

    BEGAN = "began"
    HARM = "became harm"
    EASED = "out of harm"
    OVER = "over"
    SEEN = "seen"
    SET_ASIDE = "set aside"
    TAKEN_UP = "taken up again"
    ENDED = "ended otherwise"
    MAT_ON = "mat on"
    MAT_OFF = "mat off"
    WATER = "watered"
    DRAINED = "drained"
    FEED = "fed"
    HARVEST = "harvested"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Line:
    """One zone's line: its name, its place in the style sheet (0, 1, …: dash and colour), and its unbroken pieces."""

    name: str
    style: int
    pieces: tuple[tuple[Point, ...], ...]


@dataclass(frozen=True, slots=True)
class Likely:
    """What a value may be at one moment of the future: in eight of ten cases from `low` to `high` (10 and 90 %)."""

    at: Millis
    low: float
    middle: float
    high: float

    def __post_init__(self) -> None:
        if not -math.inf < self.low <= self.middle <= self.high < math.inf:
            raise BadValue("what is likely lies between its lowest and highest value")


@dataclass(frozen=True, slots=True)
class Fan:
    """What is expected of a zone: drawn in the style of its line, in order of time."""

    name: str
    style: int
    likely: tuple[Likely, ...]


@dataclass(frozen=True, slots=True)
class Band:
    """A range of values that means something: `kind` is `comfort` or `harm`, `words` what stands at its edge.

    An end that is infinite reaches to the edge of the panel and has no line.
    """

    kind: str
    low: float
    high: float
    words: str = ""

    def __post_init__(self) -> None:
        if self.kind not in ("comfort", "harm") or not self.low < self.high:
            raise BadValue("a band is comfort or harm, and runs from a lower to a higher value")


@dataclass(frozen=True, slots=True)
class Panel:
    """One quantity on its own axis from `low` to `high`; `values` are the axis' lines with what stands beside them."""

    name: str
    low: float
    high: float
    values: Sequence[tuple[float, str]] = ()
    lines: Sequence[Line] = ()
    bands: Sequence[Band] = ()
    fans: Sequence[Fan] = ()

    def __post_init__(self) -> None:
        if not -math.inf < self.low < self.high < math.inf:
            raise BadValue("a chart has a lower and a higher end")


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that happened, or `count` things of one kind so near to each other that they are one mark."""

    at: Millis
    kind: Kind
    words: str
    count: int = 1


@dataclass(frozen=True, slots=True)
class Span:
    """Something that lasted, such as a mat that was on."""

    start: Millis
    end: Millis
    words: str


@dataclass(frozen=True, slots=True)
class Lane:
    """A row of its own over the panels for what happened, named at its left."""

    name: str
    marks: Sequence[Mark] = ()
    spans: Sequence[Span] = ()


@dataclass(frozen=True, slots=True)
class Chart:
    """A whole picture, start <= time < end, with the words for those who cannot see it.

    `times` are the moments along the foot with their words; `now`, where it lies inside, is a line of its own.
    """

    name: str
    words: str
    start: Millis
    end: Millis
    panels: Sequence[Panel] = ()
    lanes: Sequence[Lane] = ()
    nights: Sequence[tuple[Millis, Millis]] = ()
    times: Sequence[tuple[Millis, str]] = ()
    now: tuple[Millis, str] | None = None

    def __post_init__(self) -> None:
        if not self.start < self.end:
            raise BadValue("a chart has an earlier and a later end")

    @property
    def kinds(self) -> list[Kind]:
        """Every kind of mark inside it, in the order of `Kind`."""
        there = {m.kind for lane in self.lanes for m in lane.marks if self.start <= m.at < self.end}
        return [kind for kind in Kind if kind in there]


def together(marks: Sequence[Mark], within: Millis) -> list[Mark]:
    """Marks of one kind that begin within a span of each other as one: the first's time, and all their words."""
    found: list[Mark] = []
    last: dict[Kind, int] = {}
    for mark in sorted(marks, key=lambda m: m.at):
        place = last.get(mark.kind)
        if place is not None and mark.at - found[place].at < within:
            one = found[place]
            found[place] = Mark(one.at, one.kind, f"{one.words}; {mark.words}", one.count + mark.count)
        else:
            last[mark.kind] = len(found)
            found.append(mark)
    return found


def spaced(chart: Chart, room: int) -> Chart:
    """The same chart for a picture in which so many marks fit beside each other."""
    within = (chart.end - chart.start) // room
    return replace(
        chart, lanes=tuple(Lane(o.name, tuple(together(o.marks, within)), o.spans) for o in chart.lanes)
    )
