"""What another limit would have told, drawn over what was measured: both bands, and each episode in the row of who has it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from monitor.alarms.review import Activation
from monitor.charts.chart import Band, Chart, Kind, Lane, Mark, Span
from monitor.readings import Measures, Millis
from monitor.reports.charting import PastOfBin
from monitor.reports.picturing import axis_of, picture_of
from monitor.reports.replaying import Twice, episode_words
from monitor.reports.saying import RAW, Saying, limit_words
from monitor.rules import Bin

ROWS = (("only now", Kind.ENDED), ("by both", Kind.OVER), ("only tried", Kind.BEGAN))
"""What the rows of episodes are called, and with which mark each of its episodes begins."""


THIN = 1e-4
"""Of an axis: a band that is a line to the eye, since comfort in the one is no comfort in the other."""


def tried_picture(past: PastOfBin, tried: Bin, both: Twice, measures: Measures, saying: Saying) -> Chart | None:
    """One quantity of a bin, with `tried` as the bin with the other limits; None where nothing of it was measured."""
    mine = tuple(s for s in past.series if s.measures is measures and s.unit != RAW and s.cells)
    if not mine:
        return None
    bare = replace(past, series=mine, steps=(), entries=(), mats=())
    chart, other = (picture_of(replace(bare, bed=bed), saying) for bed in (past.bed, tried))
    (panel,), (theirs,) = chart.panels, other.panels
    low, high = min(panel.low, theirs.low), max(panel.high, theirs.high)
    edges = _edges(panel.bands, theirs.bands, mine[0].unit, (high - low) * THIN, saying)
    axis = axis_of(low, high, mine[0].unit, saying.units)
    lanes = tuple(_lanes(past, both, measures, saying))
    words = [chart.words, *(band.words + "." for band in edges), *(f"{x.name}: {len(x.spans)}." for x in lanes)]
    # Of two words that would touch the first is said: what is tried is what the picture is about.
    panel = replace(panel, low=low, high=high, values=axis, bands=(*edges, *panel.bands))
    return replace(chart, panels=(panel,), lanes=lanes, words=" ".join(words))


def _edges(held: Sequence[Band], tried: Sequence[Band], unit: str, thin: float, saying: Saying) -> list[Band]:
    """The limits that only the tried have, each as a line with its words."""
    known = {(b.kind, side, at) for b in held for side, at in (("from", b.low), ("to", b.high))}
    found = []
    for band in tried:
        for side, at in (("from", band.low), ("to", band.high)):
            if math.isfinite(at) and (band.kind, side, at) not in known:
                named = (
                    band.words if band.kind == "harm" else f"comfort {side} {limit_words(at, unit, saying.units)}"
                )
                found.append(Band(band.kind, at, at + thin, f"tried: {named}"))
    return found


def _lanes(past: PastOfBin, both: Twice, measures: Measures, saying: Saying) -> Iterator[Lane]:
    start, end = past.sight.start, past.now
    for (name, kind), found in zip(ROWS, (both.gone, both.kept, both.new), strict=True):
        mine = [e for e in found if _is_of(e, past.bed, measures) and (e.ended is None or e.ended > start)]
        yield Lane(name, _marks(mine, kind, start, saying), tuple(_span(e, start, end, saying) for e in mine))


def _is_of(one: Activation, bed: Bin, measures: Measures) -> bool:
    heat = one.key.condition in ("cold", "hot")
    return one.key.subject.id.partition(".")[0] == bed.id and heat is (measures is Measures.TEMPERATURE)


def _marks(found: Sequence[Activation], kind: Kind, start: Millis, saying: Saying) -> tuple[Mark, ...]:
    return tuple(Mark(e.began, kind, episode_words(e, saying)) for e in found if e.began >= start)


def _span(one: Activation, start: Millis, end: Millis, saying: Saying) -> Span:
    began = max(one.began, start)
    return Span(began, max(one.ended or end, began + 1), episode_words(one, saying))
