"""One bin: its past as a picture over a day, week, month or year, the same as a table, and both to take away."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from urllib.parse import urlencode

from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from monitor import words
from monitor.charts.layout import NARROW, WIDE
from monitor.charts.raster import picture
from monitor.charts.shapes import DASHES
from monitor.charts.svg import draw, sample
from monitor.errors import RequestError
from monitor.readings import HOUR
from monitor.reports import expecting
from monitor.reports.charting import PastOfBin, Series, merged, past_of_bin
from monitor.reports.facts import now_facts
from monitor.reports.picturing import happenings, picture_of, picture_words
from monitor.reports.saying import Saying, value_words, zone_words
from monitor.reports.sight import WHOLE, Period, Sight, asked
from monitor.rules import Bin, Units
from monitor.science.units import fahrenheit, pounds
from monitor.web.pages.ahead import told
from monitor.web.showing import desk_of, render

MOST = 60
"""So many happenings are listed on a page."""
COLUMNS = ("bin", "zone", "probe", "measures", "unit", "from", "to", "readings", "lowest", "mean", "highest")
"""What the file of numbers names its columns."""
OWN_STYLE = "default-src 'none'; style-src 'unsafe-inline'"
"""A picture as a file of its own brings its style sheet along; nothing else in it may do anything."""


@dataclass(frozen=True, slots=True)
class Table:
    """One quantity: what its columns are called, and its rows."""

    name: str
    zones: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    said: str = "lowest to highest, and mean"
    """What stands in a cell."""


@dataclass(frozen=True, slots=True)
class Link:
    """Another period, or another time of the same."""

    words: str
    href: str
    here: bool = False


def bin_page(request: Request) -> Response:
    """The page."""
    past, saying = _past(request)
    desk, bed, sight = desk_of(request), past.bed, past.sight
    alone = replace(saying.rules, bins={bed.id: bed})
    (how,) = now_facts(desk.store, alone, saying.at)["bins"]
    zones = _expected(request, past)
    events, chart = happenings(past, saying), picture_of(past, saying, fans=expecting.fans(bed, zones))
    return render(
        request,
        "bin.html",
        bed=bed,
        sentence=how["sentence"],
        sight=sight,
        periods=[Link(str(p), _at(bed, p, sight), here=p is sight.period) for p in Period],
        steps=list(_steps(bed, sight, past.now)),
        wide=Markup(draw(chart, WIDE, classes="wide")),  # noqa: S704 (escaped there)
        narrow=Markup(draw(chart, NARROW, classes="narrow")),  # noqa: S704
        told=[*picture_words(past, saying), *([BEHIND_NOW] if zones else [])],
        expected=[(zone_words(bed, name) or bed.name, zone["sentences"]) for name, zone in zones.items()],
        tables=[*tables(past, saying), *_hours_ahead(bed, zones, saying)],
        events=[
            (saying.clock(at), Markup(sample(kind)) if kind else "", said)  # noqa: S704 (a shape alone)
            for at, kind, said in events[-MOST:]
        ],
        more=max(0, len(events) - MOST),
        away=[Link(name, _file(bed, sight, file)) for name, file in FILES],
        closer=sight.period in (Period.MONTH, Period.YEAR),
        dashes=json.dumps(DASHES),
        empty=not any(s.cells for s in past.series),
    )


BEHIND_NOW = "Behind the dotted line at now: what is expected, and the range that holds in eight of ten cases."
AHEAD = (Period.DAY, Period.WEEK)
"""What is seen beside the next 24 hours; in a month they would be as wide as a letter."""


def _expected(request: Request, past: PastOfBin) -> expecting.Zones:
    """What is told of the hours ahead, where a picture that reaches up to now shows them."""
    if not past.sight.newest or past.sight.period not in AHEAD:
        return {}
    return told(request, past.bed)


def _hours_ahead(bed: Bin, zones: expecting.Zones, saying: Saying) -> Iterator[Table]:
    if zones:
        names = tuple(zone_words(bed, name) or bed.name for name in zones)
        unit = _unit("°C", saying)
        yield Table(
            f"Expected temperature, {unit}", names, tuple(expecting.rows(zones, saying)), "likely, 10 to 90 %"
        )


def _opening(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]


FILES = (("numbers (CSV)", "numbers.csv"), ("picture (SVG)", "chart.svg"), ("picture (PNG)", "chart.png"))


def chart_svg(request: Request) -> Response:
    """The picture as a file that stays sharp at any size, with its own light and dark."""
    past, saying = _past(request)
    drawn = draw(picture_of(past, saying), WIDE, alone=True)
    return _sent(past, drawn.encode(), "image/svg+xml", "svg", {"Content-Security-Policy": OWN_STYLE})


def chart_png(request: Request) -> Response:
    """The picture for mail and for whatever shows no SVG."""
    past, saying = _past(request)
    return _sent(past, picture(picture_of(past, saying)), "image/png", "png", {})


def numbers_csv(request: Request) -> Response:
    """The numbers behind the picture, in the site's units and by its clock (RFC 4180 [memory])."""
    past, saying = _past(request)
    text = io.StringIO()
    rows = csv.writer(text)
    rows.writerow(COLUMNS)
    rows.writerows(_numbers(past, saying))
    return _sent(past, text.getvalue().encode(), "text/csv", "csv", {})


ROUTES = [
    Route("/bins/{bin}", bin_page),
    Route("/bins/{bin}/chart.svg", chart_svg),
    Route("/bins/{bin}/chart.png", chart_png),
    Route("/bins/{bin}/numbers.csv", numbers_csv),
]


# ── what is asked for ─────────────────────────────────────────────────────────────────────────────────────────


def _past(request: Request) -> tuple[PastOfBin, Saying]:
    """What a request asks to see. Raises HTTPException: 404 for a bin nobody knows, 400 for a time that is none."""
    desk = desk_of(request)
    rules, now = desk.rules(), desk.now()
    bed = rules.bins.get(request.path_params["bin"])
    if bed is None:
        raise HTTPException(404, f"The settings know no bin called {words.shorten(request.path_params['bin'])}.")
    try:
        sight = asked(
            request.query_params.get("period", ""), request.query_params.get("from", ""), now, rules.site.timezone
        )
    except RequestError as error:
        said = words.shorten(str(error), 200)
        raise HTTPException(400, f"{_opening(said)}.") from None
    return past_of_bin(desk.store, rules, bed, sight, now=now), Saying(rules, now)


def _at(bed: Bin, period: Period, sight: Sight, *, first: str | None = None) -> str:
    """The address of another sight; without `first` that of the day it begins with now, or up to now."""
    query = {"period": str(period)}
    if first is None and sight.first is not None and not sight.newest:
        first = sight.first.isoformat()
    return f"/bins/{bed.id}?{urlencode(query | ({'from': first} if first else {}))}"


def _steps(bed: Bin, sight: Sight, now: int) -> Iterator[Link]:
    yield Link(f"Earlier {sight.period}", _at(bed, sight.period, sight, first=sight.earlier.isoformat()))
    later = sight.later(now)
    if later is not None:
        yield Link(f"Later {sight.period}", _at(bed, sight.period, sight, first=later.isoformat()))
    if not sight.newest:
        yield Link("Up to now", f"/bins/{bed.id}?{urlencode({'period': str(sight.period)})}")


def _file(bed: Bin, sight: Sight, name: str) -> str:
    first = {} if sight.newest or sight.first is None else {"from": sight.first.isoformat()}
    return f"/bins/{bed.id}/{name}?{urlencode({'period': str(sight.period)} | first)}"


def _sent(past: PastOfBin, body: bytes, kind: str, end: str, more: dict[str, str]) -> Response:
    day = words.local(past.sight.start, past.sight.tz).date().isoformat()
    name = f"{past.bed.id}-{past.sight.period}-{day}.{end}"
    plain = "".join(c for c in name if c.isascii() and (c.isalnum() or c in "-._"))
    return Response(body, media_type=kind, headers={"Content-Disposition": f'inline; filename="{plain}"', **more})


# ── numbers ───────────────────────────────────────────────────────────────────────────────────────────────────


def tables(past: PastOfBin, saying: Saying) -> Iterator[Table]:
    """The same numbers as the picture's, a table for each quantity."""
    for measures, unit in dict.fromkeys((s.measures, s.unit) for s in past.series):
        mine = [s for s in past.series if (s.measures, s.unit) == (measures, unit)]
        rows = past.sight.rows
        edges = [*(row.start for row in rows), rows[-1].end]
        if past.sight.period in WHOLE:
            edges = [at // HOUR * HOUR for at in edges]  # as its columns are
        columns = [{cell.start: cell for cell in merged(s.cells, edges)} for s in mine]
        found = []
        for row, (start, end) in zip(rows, pairwise(edges), strict=True):
            cells = [next((c for at, c in column.items() if start <= at < end), None) for column in columns]
            said = [
                _cell_words(s, c.low, c.mean, c.high, saying) if c else "–"
                for s, c in zip(mine, cells, strict=True)
            ]
            if any(cells):
                found.append((row.words, tuple(said)))
        name = f"{str(measures).capitalize()}, {_unit(unit, saying)}"
        yield Table(name, tuple(s.name for s in mine), tuple(found))


def _cell_words(series: Series, low: float, mean: float, high: float, saying: Saying) -> str:
    least, middle, most = (_bare(v, series.unit, saying) for v in (low, mean, high))
    return middle if least == most else f"{least} to {most}, mean {middle}"


def _bare(value: float, unit: str, saying: Saying) -> str:
    return value_words(value, unit, saying.units).rsplit(" ", 1)[0] if unit != "as sent" else f"{value:.4g}"


def _unit(unit: str, saying: Saying) -> str:
    return {"°C": "°F", "kg": "lb"}.get(unit, unit) if saying.units is Units.US else unit


def _numbers(past: PastOfBin, saying: Saying) -> Iterator[Sequence[object]]:
    tz = past.sight.tz
    for one in past.series:
        us = {"°C": fahrenheit, "kg": pounds}.get(one.unit) if saying.units is Units.US else None
        for cell in one.cells:
            low, mean, high = (us(v) if us else v for v in (cell.low, cell.mean, cell.high))
            times = [words.local(at, tz).isoformat() for at in (cell.start, cell.end)]
            head = (past.bed.id, one.zone, one.probe, str(one.measures), _unit(one.unit, saying))
            yield (*head, *times, cell.count, f"{low:.4f}", f"{mean:.4f}", f"{high:.4f}")
