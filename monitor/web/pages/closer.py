"""The numbers of any stretch of a bin's past, as fine as it pays: what a closer look is drawn from by scripts."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from monitor import words
from monitor.charts.chart import Panel
from monitor.readings import DAY, HOUR, MINUTE, Millis
from monitor.reports.charting import Cell, Series, past_of_bin
from monitor.reports.picturing import picture_of
from monitor.reports.saying import Saying
from monitor.reports.sight import FINE, Period, Sight, sight
from monitor.rules import Units
from monitor.science.exposure import SILENT_AFTER
from monitor.science.units import fahrenheit, pounds
from monitor.web.showing import desk_of

LONGEST: Millis = 400 * DAY
SHORTEST: Millis = 2 * HOUR
STEPS = ((2 * DAY, FINE), (40 * DAY, HOUR), (130 * DAY, 6 * HOUR))
"""Up to which stretch a column is how wide: at most about a thousand columns. Beyond, a column is a day."""


def closer(request: Request) -> Response:
    """Columns of every probe of a bin from `start` to `end` (Millis): times, and low, mean and high of each, null in gaps."""
    desk = desk_of(request)
    rules, now = desk.rules(), desk.now()
    bed = rules.bins.get(request.path_params["bin"])
    if bed is None:
        raise HTTPException(404, f"The settings know no bin called {words.shorten(request.path_params['bin'])}.")
    seen = _seen(*_ends(request, now), rules.site.timezone)
    past = past_of_bin(desk.store, rules, bed, seen, now=now)
    saying = Saying(rules, now)
    panels = picture_of(past, saying).panels
    return JSONResponse(
        {
            "start": seen.start,
            "end": seen.end,
            "panels": [_panel(panel, [s for s in past.series if _in(s, panel)], saying) for panel in panels],
        }
    )


ROUTES = [Route("/bins/{bin}/closer.json", closer)]


def _ends(request: Request, now: Millis) -> tuple[Millis, Millis]:
    try:
        start, end = (int(request.query_params[name]) for name in ("start", "end"))
    except (KeyError, ValueError):
        raise HTTPException(400, "A closer look wants `start` and `end`, in milliseconds since 1970.") from None
    if not (0 <= start < end <= now + LONGEST and SHORTEST <= end - start <= LONGEST):
        raise HTTPException(400, "A closer look is at two hours at least and thirteen months at most.")
    return start // MINUTE * MINUTE, -(-end // MINUTE) * MINUTE


def _seen(start: Millis, end: Millis, tz: str) -> Sight:
    step = next((step for upto, step in STEPS if end - start <= upto), None)
    if step is None:
        first = words.local(start, tz).date()
        year = sight(Period.YEAR, start, tz, first)
        inner = [edge for edge in year.edges if start < edge < end]
        return Sight(Period.YEAR, tz, start, end, (start, *inner, end), None)
    inner = list(range(-(-start // step) * step, end, step))
    edges = tuple(sorted({start, end, *inner}))
    if step == FINE:
        return Sight(Period.DAY, tz, edges[0] // FINE * FINE, end, edges, None)
    return Sight(Period.WEEK, tz, start, end, edges, None)


def _in(series: Series, panel: Panel) -> bool:
    """Whether a series is drawn in this panel: quantity and unit are in its name."""
    return panel.name.startswith(str(series.measures).capitalize()) and (series.unit == "as sent") == (
        "as sent" in panel.name
    )


def _panel(panel: Panel, mine: Sequence[Series], saying: Saying) -> Mapping[str, object]:
    us = mine[0].unit if mine and saying.units is Units.US else ""
    at = sorted(
        {c.start + (c.end - c.start) // 2 for s in mine for c in s.cells} | {m for s in mine for m in _gaps(s)}
    )
    return {
        "name": panel.name,
        "times": at,
        "low": _shown(panel.low, us),
        "high": _shown(panel.high, us),
        "bands": [
            {"kind": b.kind, "words": b.words, "low": _shown(b.low, us), "high": _shown(b.high, us)}
            for b in panel.bands
        ],
        "lines": [_line(s, at, us=us) for s in mine],
    }


def _gaps(series: Series) -> Iterator[Millis]:
    """A moment inside each silence, at which there is no value: what keeps a line from being drawn across."""
    for a, b in zip(series.cells, series.cells[1:], strict=False):
        if b.start - a.end > SILENT_AFTER * series.interval:
            yield (a.end + b.start) // 2


def _line(series: Series, at: Sequence[Millis], *, us: str) -> Mapping[str, object]:
    cells: dict[Millis, Cell] = {c.start + (c.end - c.start) // 2: c for c in series.cells}
    gaps = set(_gaps(series))
    found: dict[str, list[object]] = {"low": [], "mean": [], "high": []}
    for moment in at:
        cell = cells.get(moment)
        for name, values in found.items():
            # Without a value of its own a line goes on to its next one (undefined, left out), but not across a silence.
            values.append(_shown(getattr(cell, name), us) if cell else None if moment in gaps else "")
    return {"name": series.name, "style": series.style, **found}


def _shown(value: float, us: str) -> float | None:
    """A number as its axis has it; `us` is the canonical unit of what is shown in US units."""
    shown = fahrenheit(value) if us == "°C" else pounds(value) if us == "kg" else value
    return round(shown, 4) if math.isfinite(shown) else None
