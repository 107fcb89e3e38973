"""A bin's past as a picture, in the site's units and by its own clock, with the words for those who cannot see it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from monitor import words
from monitor.alarms.cycle import Event, Transition
from monitor.charts import ticks
from monitor.charts.chart import Band, Chart, Fan, Kind, Lane, Line, Mark, Panel, Span
from monitor.charts.curves import Point, stretches
from monitor.diary import Deed
from monitor.readings import Measures, Millis
from monitor.reports.charting import PastOfBin, Series
from monitor.reports.diary import entry_words
from monitor.reports.journal import step_words
from monitor.reports.saying import RAW, Saying, limit_words, value_words
from monitor.reports.sight import Period
from monitor.rules import HARM_DELAY, Level, Limits, Units
from monitor.science.units import POUND, canonical, fahrenheit, pounds

DUSK, DAWN = 22, 6
"""O'clock between which a picture is shaded as night. We know neither the sun at a site nor whose sleep would count, so it
is the same for every bin (our choice)."""
NEAR = 3.0
"""°C or points from a harm limit at which a picture reaches out to show it (our choice)."""
ROOM = 0.06
"""Of the span of its values that an axis reaches beyond them."""
LEAST_SPAN = {"°C": 6.0, "%": 20.0, "kg": 2.0}
"""What an axis covers at least, so that nothing looks like a cliff that is none."""

HAPPENED: Mapping[Event, Kind] = {
    Event.RAISED: Kind.BEGAN,
    Event.ROSE: Kind.HARM,
    Event.FELL: Kind.EASED,
    Event.RETURNED: Kind.OVER,
    Event.ACKNOWLEDGED: Kind.SEEN,
    Event.SUPPRESSED: Kind.SET_ASIDE,
    Event.UNSUPPRESSED: Kind.TAKEN_UP,
    Event.SHELVED: Kind.SET_ASIDE,
    Event.UNSHELVED: Kind.TAKEN_UP,
    Event.OUT_OF_SERVICE: Kind.SET_ASIDE,
    Event.IN_SERVICE: Kind.TAKEN_UP,
    Event.REMOVED: Kind.ENDED,
    Event.RENAMED: Kind.ENDED,
}
DONE: Mapping[Deed, tuple[str, Kind]] = {
    Deed.MAT_ON: ("mats", Kind.MAT_ON),
    Deed.MAT_OFF: ("mats", Kind.MAT_OFF),
    Deed.WATERED: ("water", Kind.WATER),
    Deed.DRAINED: ("water", Kind.DRAINED),
    Deed.FED: ("feed", Kind.FEED),
    Deed.HARVESTED: ("harvest", Kind.HARVEST),
}
"""Which row and which mark a deed has; any other stands under OTHER."""
OTHER = ("other", Kind.OTHER)
LANES = ("alarms", "mats", "water", "feed", "harvest", "other")


def picture_of(past: PastOfBin, saying: Saying, *, fans: Mapping[str, Fan] | None = None) -> Chart:
    """The chart, for `chart.spaced`; `fans` is what is expected of a zone's temperature, by zone."""
    seen = past.sight
    end = max([seen.end, *(one.at for fan in (fans or {}).values() for one in fan.likely)])
    sight = replace(seen, end=end)
    nights = sight.period in (Period.DAY, Period.WEEK, Period.MONTH)
    said = ticks.nights(sight.start, sight.end, sight.tz, dusk=DUSK, dawn=DAWN) if nights else []
    return Chart(
        name=f"{past.bed.name}: {seen.words}" + (", and what is expected" if fans else ""),
        words=" ".join(picture_words(past, saying)),
        start=sight.start,
        end=sight.end,
        panels=tuple(_panels(past, saying, fans or {})),
        lanes=tuple(_lanes(past, saying)),
        nights=said,
        times=sight.times,
        now=(past.now, f"now, {saying.clock(past.now)}"),
    )


# ── panels ────────────────────────────────────────────────────────────────────────────────────────────────────


def _panels(past: PastOfBin, saying: Saying, fans: Mapping[str, Fan]) -> Iterator[Panel]:
    for measures, unit in (
        (Measures.TEMPERATURE, "°C"),
        (Measures.MOISTURE, "%"),
        (Measures.MOISTURE, RAW),
        (Measures.MASS, "kg"),
    ):
        mine = [s for s in past.series if s.measures is measures and s.unit == unit]
        limits = past.bed.limits.get(measures) if unit != RAW else None
        expected = [fan for zone, fan in fans.items() if unit == "°C" and any(s.zone == zone for s in mine)]
        if mine:
            yield _panel(past, saying, mine, unit=unit, limits=limits, fans=expected)


def _panel(
    past: PastOfBin,
    saying: Saying,
    mine: Sequence[Series],
    *,
    unit: str,
    limits: Limits | None,
    fans: Sequence[Fan],
) -> Panel:
    lines = tuple(Line(s.name, s.style, tuple(stretches(list(_points(past, s)), s.interval))) for s in mine)
    values = [v for s in mine for c in s.cells for v in (c.low, c.high)]
    values += [v for fan in fans for one in fan.likely for v in (one.low, one.high)]
    low, high = _ends(values, limits, LEAST_SPAN.get(unit))
    if unit == "%":
        low, high = max(0.0, low), min(100.0, high)
    name = {
        "°C": f"Temperature, {_degree(saying)}",
        "%": "Moisture, %",
        "kg": "Mass, kg" if saying.units is Units.METRIC else "Mass, lb",
    }.get(unit, "Moisture, as sent (no points yet)")
    axis = axis_of(low, high, unit, saying.units)
    return Panel(name, low, high, axis, lines, tuple(_bands(limits, unit, saying)), tuple(fans))


def _points(past: PastOfBin, series: Series) -> Iterator[Point]:
    for cell in series.cells:
        end = max(cell.start, min(cell.end, past.now))
        yield Point(cell.start, end, cell.low, cell.mean, cell.high)


def _ends(values: Sequence[float], limits: Limits | None, least: float | None) -> tuple[float, float]:
    """What an axis covers: all values, comfort, and harm that is near."""
    edges = [b.value for b in (limits.low, limits.high) if b is not None] if limits else []
    every = [*values, *edges]
    low, high = (min(every), max(every)) if every else (0.0, 1.0)
    for harm in limits.harm if limits else ():
        if low - NEAR < harm.bound.value < high + NEAR:
            low, high = min(low, harm.bound.value), max(high, harm.bound.value)
    span = max(high - low, least or 0.0, abs(high) * 0.01, 1e-6)
    middle = (low + high) / 2
    low, high = min(low, middle - span / 2), max(high, middle + span / 2)
    return low - ROOM * span, high + ROOM * span


def axis_of(low: float, high: float, unit: str, units: Units) -> list[tuple[float, str]]:
    """The values that stand at an axis, with their words."""
    if unit == "°C" and units is Units.US:
        found = ticks.values(fahrenheit(low), fahrenheit(high))
        return [(canonical(v, "°F"), _number(v)) for v in found]
    if unit == "kg" and units is Units.US:
        return [(v * POUND, _number(v)) for v in ticks.values(pounds(low), pounds(high))]
    return [(v, _number(v)) for v in ticks.values(low, high)]


def _number(value: float) -> str:
    return f"{value:.10g}".replace("-", words.MINUS)


def _degree(saying: Saying) -> str:
    return "°C" if saying.units is Units.METRIC else "°F"


def _bands(limits: Limits | None, unit: str, saying: Saying) -> Iterator[Band]:
    if limits is None:
        return
    low = limits.low.value if limits.low else -math.inf
    high = limits.high.value if limits.high else math.inf
    if limits.low or limits.high:
        yield Band("comfort", low, high, "comfort")
    for harm in sorted(limits.harm, key=lambda h: h.lasting):
        side, bound = "below" if harm.below else "above", harm.bound.value
        lasting = "" if harm.lasting <= HARM_DELAY else f" for {words.duration(harm.lasting)}"
        ends = (-math.inf, bound) if harm.below else (bound, math.inf)
        yield Band("harm", *ends, f"harm {side} {limit_words(bound, unit, saying.units)}{lasting}")


# ── what happened ─────────────────────────────────────────────────────────────────────────────────────────────


def _lanes(past: PastOfBin, saying: Saying) -> Iterator[Lane]:
    marks: dict[str, list[Mark]] = {name: [] for name in LANES}
    marks["alarms"] = [
        Mark(s.at, kind_of(s), f"{saying.clock(s.at)}: {step_words(s, saying)}") for s in past.steps
    ]
    for entry in past.entries:
        lane, kind = DONE.get(entry.deed, OTHER)
        marks[lane].append(Mark(entry.at, kind, f"{saying.clock(entry.at)}: {entry_words(entry, saying)}"))
    spans = [Span(on.start, on.end, on_words(past, n, saying)) for n, on in enumerate(past.mats)]
    for name in LANES:
        mine = spans if name == "mats" else []
        if marks[name] or mine:
            yield Lane(name, tuple(marks[name]), tuple(mine))


def kind_of(step: Transition) -> Kind:
    """Which mark a step of an alarm has: one that begins as harm has harm's."""
    harm = step.event is Event.RAISED and step.level is Level.HARM
    return Kind.HARM if harm else HAPPENED[step.event]


def on_words(past: PastOfBin, n: int, saying: Saying) -> str:
    """When a mat was on, and who says so."""
    on = past.mats[n]
    share = f" {100 * on.share:.0f} % of the time" if on.share < 0.95 else ""
    by = "its plug" if on.by_plug else "the diary"
    return f"{on.mat}: on{share} from {saying.clock(on.start)} to {saying.clock(on.end)}, by {by}"


def happenings(past: PastOfBin, saying: Saying) -> list[tuple[Millis, Kind | None, str]]:
    """Everything that a mark or a bar stands for, in order of time, as sentences; what the diary says of a mat is told once."""
    found: list[tuple[Millis, Kind | None, str]] = [(s.at, kind_of(s), step_words(s, saying)) for s in past.steps]
    found += [(e.at, DONE.get(e.deed, OTHER)[1], entry_words(e, saying)) for e in past.entries]
    found += [(on.start, None, on_words(past, n, saying)) for n, on in enumerate(past.mats) if on.by_plug]
    return sorted(found, key=lambda one: one[0])


# ── in words ──────────────────────────────────────────────────────────────────────────────────────────────────


def picture_words(past: PastOfBin, saying: Saying) -> Iterator[str]:
    """What the picture shows, a sentence for each line."""
    for series in past.series:
        what = str(series.measures).capitalize()
        if not series.cells:
            yield f"{what}, {series.name}: nothing was heard."
            continue
        low, high = min(c.low for c in series.cells), max(c.high for c in series.cells)
        mean = math.fsum(c.mean * c.count for c in series.cells) / sum(c.count for c in series.cells)
        least, most, usual = (_said(v, series.unit, saying) for v in (low, high, mean))
        yield f"{what}, {series.name}: {least} to {most}, on average {usual}."
    if past.steps:
        yield f"{words.amount(len(past.steps), 'step')} of alarms."


def _said(value: float, unit: str, saying: Saying) -> str:
    """What is only as it was sent has no steps of its own: four digits are more than such a probe is good for."""
    return f"{value:.4g} {RAW}" if unit == RAW else value_words(value, unit, saying.units)
