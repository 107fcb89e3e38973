"""What happened in a bin over a stretch of time: the numbers and the events that its picture, its table and its files show.

Summaries are read where they are whole (weeks, months, years), readings where they are not (days), so that no extreme is
lost and a year is not half a million rows.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median_low

from monitor.advice.present import on_from
from monitor.alarms.cycle import Transition
from monitor.alarms.quiet import beds_of
from monitor.checks.findings import Kind
from monitor.diary import Entry, in_force, switches
from monitor.readings import Measures, Millis
from monitor.reports.diary import is_about
from monitor.reports.saying import unit_of, zone_words
from monitor.reports.sight import FINE, Period, Sight
from monitor.rules import Bin, Mat, Probe, Rules, plug_id
from monitor.science.correction import corrected
from monitor.science.moisture import moisture_percent
from monitor.store.promises import Bucket, Store

DRAWN = (Measures.TEMPERATURE, Measures.MOISTURE, Measures.MASS)
STEPS, ENTRIES = 10_000, 20_000
"""So many of the newest steps of alarms and entries of the diary are looked through."""


@dataclass(frozen=True, slots=True)
class Cell:
    """What one probe said in one column: how often, lowest, mean, highest, as it is judged (°C, %) or as sent."""

    start: Millis
    end: Millis
    count: int
    low: float
    mean: float
    high: float


@dataclass(frozen=True, slots=True)
class Series:
    """One probe of one zone. `name` is the zone's, with the probe's id where the zone has several; `unit` "°C", "%" or
    "as sent"; `interval` is how often it speaks, as far as its cells tell.
    """

    zone: str
    probe: str
    measures: Measures
    name: str
    style: int
    unit: str
    interval: Millis
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class On:
    """A stretch in which a mat was on; `share` is for which part of it, by its plug, 1.0 by the diary."""

    mat: str
    start: Millis
    end: Millis
    share: float
    by_plug: bool


@dataclass(frozen=True, slots=True)
class PastOfBin:
    """Everything that is known of a bin in a sight."""

    bed: Bin
    sight: Sight
    now: Millis
    series: tuple[Series, ...]
    steps: tuple[Transition, ...]
    entries: tuple[Entry, ...]
    mats: tuple[On, ...]


def past_of_bin(store: Store, rules: Rules, bed: Bin, sight: Sight, *, now: Millis) -> PastOfBin:
    """What the store knows of a bin in a sight."""
    entries = in_force(store.diary(ENTRIES), now)
    mine = [e for e in entries if is_about(rules, bed.id, e)]
    return PastOfBin(
        bed=bed,
        sight=sight,
        now=now,
        series=tuple(series_of(store, bed, sight)),
        steps=tuple(_steps(store, rules, bed, sight)),
        entries=tuple(e for e in mine if sight.start <= e.at < sight.end),
        mats=tuple(on for mat in rules.mats_of(bed.id) for on in _on(store, mat, mine, sight=sight, now=now)),
    )


# ── numbers ───────────────────────────────────────────────────────────────────────────────────────────────────


def series_of(store: Store, bed: Bin, sight: Sight) -> Iterator[Series]:
    """Every probe of a bin that measures its bed, in the order of the settings."""
    for style, zone in enumerate(bed.zones):
        for measures in DRAWN:
            mine = [p for p in zone.probes if p.measures is measures and _stands(p, sight)]
            for probe in mine:
                cells = tuple(_cells(store, probe, sight))
                several = f" ({probe.id})" if len(mine) > 1 else ""
                yield Series(
                    zone=zone.id,
                    probe=probe.id,
                    measures=measures,
                    name=f"{zone_words(bed, zone.id)}{several}",
                    style=style,
                    unit=unit_of(measures, calibrated=probe.judged),
                    interval=probe.every or _interval(cells),
                    cells=cells,
                )


def _stands(probe: Probe, sight: Sight) -> bool:
    return (probe.since or sight.start) < sight.end and sight.start < (probe.until or sight.end)


def _cells(store: Store, probe: Probe, sight: Sight) -> Iterator[Cell]:
    """Its buckets while it stood here; the last edge is where it was moved."""
    start, end = max(sight.start, probe.since or sight.start), min(sight.end, probe.until or sight.end)
    if sight.period is Period.DAY:
        found = store.buckets(probe.id, start, end, FINE)
        return (_judged(probe, b, b.start, min(b.start + FINE, end)) for b in found)
    inner = [edge for edge in sight.edges if start < edge < end]
    first = sight.edges[0] if start == sight.start else start
    edges = [first, *inner, sight.edges[-1] if end == sight.end else end]
    ends = dict(pairwise(edges))
    return (_judged(probe, b, b.start, ends[b.start]) for b in store.spans(probe.id, edges))


def _judged(probe: Probe, bucket: Bucket, start: Millis, end: Millis) -> Cell:
    """As it is judged. A mean through a bent calibration line is that of what was sent, put through it."""
    low, mean, high = (judged(probe, value) for value in (bucket.low, bucket.mean, bucket.high))
    low, high = min(low, high), max(low, high)
    return Cell(start, end, bucket.count, low, min(max(mean, low), high), high)


def judged(probe: Probe, value: float) -> float:
    """A value as it is judged, also beyond its outermost points; as it was sent where it has none."""
    if probe.measures is not Measures.MOISTURE:
        return corrected(value, offset=probe.offset, scale=probe.scale)
    found = moisture_percent(probe, value)
    return value if found is None else found[0]


def _interval(cells: Sequence[Cell]) -> Millis:
    """How often a probe speaks that nobody says it of: the usual column's width shared by the usual number in it."""
    if not cells:
        return FINE
    usual = median_low(c.count for c in cells)
    wide = median_low(c.end - c.start for c in cells)
    if usual > 1 or len(cells) < 2:
        return wide // usual
    return median_low(b.start - a.start for a, b in pairwise(cells))


def merged(cells: Iterable[Cell], edges: Sequence[Millis]) -> list[Cell]:
    """Cells taken together between wider edges: lowest of the lowest, highest of the highest, the mean of all readings."""
    groups: dict[int, list[Cell]] = {}
    for cell in cells:
        groups.setdefault(bisect_right(edges, cell.start) - 1, []).append(cell)
    return [
        _one(group, max(edges[n], group[0].start), min(edges[n + 1], group[-1].end))
        for n, group in sorted(groups.items())
        if 0 <= n < len(edges) - 1
    ]


def _one(group: Sequence[Cell], start: Millis, end: Millis) -> Cell:
    count = sum(c.count for c in group)
    low, high = min(c.low for c in group), max(c.high for c in group)
    mean = math.fsum(c.mean * c.count for c in group) / count
    return Cell(start, end, count, low, min(max(mean, low), high), high)


# ── what happened ─────────────────────────────────────────────────────────────────────────────────────────────


def _steps(store: Store, rules: Rules, bed: Bin, sight: Sight) -> Iterator[Transition]:
    bin_of = {p.id: b.id for b in rules.bins.values() for zone in b.zones for p in zone.probes}
    for step in store.transitions(sight.start, sight.end, STEPS):
        subject = step.key.subject
        own = subject.kind in (Kind.BIN, Kind.ZONE) and subject.bed == bed.id
        if own or bed.id in beds_of(step.key, rules, bin_of):
            yield step


def _on(store: Store, mat: Mat, entries: Sequence[Entry], *, sight: Sight, now: Millis) -> Iterator[On]:
    """When a mat was on: by its plug where that spoke, else by the diary."""
    told = list(_by_plug(store, mat, sight)) if mat.state is not None else None
    if told is None or not told:
        yield from _by_diary(mat, entries, sight, now)
    else:
        yield from told


def _by_plug(store: Store, mat: Mat, sight: Sight) -> Iterator[On]:
    probe = Probe(plug_id(mat.id), Measures.POWER, mat.state) if mat.state is not None else None
    if probe is None:
        return
    least = on_from(mat, probe)
    known = None
    for cell in _cells(store, probe, sight):
        if cell.high < least:
            continue
        share = min(1.0, cell.mean / cell.high)
        if known is not None and known.end == cell.start:
            length, more = known.end - known.start, cell.end - cell.start
            both = (known.share * length + share * more) / (length + more)
            known = On(mat.id, known.start, cell.end, both, True)
        else:
            if known is not None:
                yield known
            known = On(mat.id, cell.start, cell.end, share, True)
    if known is not None:
        yield known


def _by_diary(mat: Mat, entries: Sequence[Entry], sight: Sight, now: Millis) -> Iterator[On]:
    since: Millis | None = None
    for at, on in switches(entries, mat.id):
        if on:
            since = at if since is None else since
        elif since is not None:
            yield from _cut(mat, since, at, sight)
            since = None
    if since is not None:
        yield from _cut(mat, since, now, sight)


def _cut(mat: Mat, start: Millis, end: Millis, sight: Sight) -> Iterator[On]:
    start, end = max(start, sight.start), min(end, sight.end)
    if start < end:
        yield On(mat.id, start, end, 1.0, False)
