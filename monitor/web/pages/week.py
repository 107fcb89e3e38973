"""The week: for each bin a sentence, a picture and its hours, what to look at next, and the weeks before."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from monitor import words
from monitor.charts.layout import NARROW, WIDE
from monitor.charts.svg import draw
from monitor.notify.weekly import week_before
from monitor.readings import HOUR, MINUTE, Millis
from monitor.reports.saying import Saying, millis, value_words
from monitor.reports.sight import FIRST, LAST
from monitor.reports.week import monday_of, week_facts
from monitor.reports.week_picture import week_chart
from monitor.reports.week_shapes import BandShape, WeekBinShape, WeekShape, WeekZoneShape
from monitor.reports.week_text import week_title
from monitor.rules import Units
from monitor.science.units import difference_in
from monitor.web.desk import Desk
from monitor.web.kept import diary_stands
from monitor.web.pages.strips import MOST
from monitor.web.showing import desk_of, render

HOURS = (
    "Lowest", "Lowest at", "Highest", "Highest at",
    "Below comfort", "In comfort", "Above comfort", "In harm", "Silent", "Out of comfort",
)  # fmt: skip
"""What the rows of a bin's table are called; the last is by how much for how long."""
REWRITTEN: Millis = 5 * MINUTE


@dataclass(frozen=True, slots=True)
class Shown:
    """One bin. `places` are its zones with what is measured there, `rows` one of `HOURS` each with a cell for each place."""

    id: str
    name: str
    sentence: str
    heard: bool
    pictures: tuple[Markup, ...]
    places: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class Step:
    """Another week."""

    words: str
    href: str


@dataclass(frozen=True, slots=True)
class Written:
    """What takes long of a week: everything that is said of it, and its pictures."""

    facts: WeekShape
    bins: tuple[Shown, ...]


def week(request: Request) -> Response:
    """The page of the newest week that is over, or of the one that holds `from`. Written once for all who
    read it: what people did and what became of alarms shows at once, a reading within five minutes, and one that comes late into
    a week that is over within an hour.
    """
    desk = desk_of(request)
    rules, at = desk.rules(), desk.now()
    first = _first(request.query_params.get("from", ""), week_before(at, rules.site.timezone))
    today = words.local(at, rules.site.timezone).date()
    every = REWRITTEN if monday_of(today) <= first else HOUR
    of = (
        rules.version, today, at // every, diary_stands(desk.store),
        tuple((step.number, step.event, step.round_at) for step in desk.store.transitions(limit=1)),
    )  # fmt: skip
    written: Written = request.app.state.weeks.get(str(first), of, lambda: _written(desk, first, at))
    facts = written.facts
    return render(
        request,
        "week.html",
        title=week_title(facts),
        facts=facts,
        steps=list(_steps(first, rules.site.timezone, at)),
        looks=[(bed["name"], line) for bed in facts["bins"] for line in bed["look_at"]],
        bins=written.bins,
        first=first,
        hours=_length(facts),
    )


def _written(desk: Desk, first: date, at: Millis) -> Written:
    rules = desk.rules()
    facts, saying = week_facts(desk.store, rules, at, first=first), Saying(rules, at)
    return Written(facts, tuple(_shown(desk, bed, first, saying) for bed in facts["bins"]))


def _first(text: str, newest: date) -> date:
    if not text:
        return newest
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise HTTPException(400, "That is no day; write it like 2026-11-19.") from None
    if not FIRST <= day <= LAST - timedelta(days=14):
        raise HTTPException(400, "No bed has anything from that day.")
    return monday_of(day)


def _steps(first: date, tz: str, at: int) -> Iterator[Step]:
    now = monday_of(words.local(at, tz).date())
    yield Step("The week before", f"/week?from={first - timedelta(days=7)}")
    if first + timedelta(days=7) <= now:
        yield Step("The week after", f"/week?from={first + timedelta(days=7)}")
    if first < now - timedelta(days=14):
        yield Step("The newest whole week", "/week")


def _length(facts: WeekShape) -> str:
    """Worth a word where it is not 168 hours."""
    if not facts["over"]:
        return f"This week is not over: {facts['hours']:.0f} hours of it are told here."
    changed = {167: "forward", 169: "back"}.get(round(facts["hours"]))
    return f"The clocks went {changed} in it: it has {facts['hours']:.0f} hours." if changed else ""


def _shown(desk: Desk, bed: WeekBinShape, first: date, saying: Saying) -> Shown:
    few = len(saying.rules.bins) <= MOST
    chart = (
        week_chart(desk.store, saying.rules, saying.rules.bins[bed["id"]], first=first, at=saying.at)
        if few
        else None
    )
    drawn = [] if chart is None else [draw(chart, WIDE, classes="wide"), draw(chart, NARROW, classes="narrow")]
    return Shown(
        bed["id"],
        bed["name"],
        bed["sentence"],
        any(zone["lowest"] for zone in bed["zones"]),
        tuple(Markup(one) for one in drawn),  # noqa: S704 (escaped as it was drawn)
        tuple(f"{zone['zone']}, {zone['measures']}" for zone in bed["zones"]),
        tuple(_rows(bed["zones"], saying)),
    )


def _rows(zones: Sequence[WeekZoneShape], saying: Saying) -> Iterator[tuple[str, tuple[str, ...]]]:
    columns = [tuple(_cells(zone, saying)) for zone in zones]
    yield from ((name, tuple(column[n] for column in columns)) for n, name in enumerate(HOURS))


def _cells(zone: WeekZoneShape, saying: Saying) -> Iterator[str]:
    comfort, harm = zone["comfort"], zone["harm"]
    for end in (zone["lowest"], zone["highest"]):
        yield value_words(end["value"], zone["unit"], saying.units) if end else "nothing heard"
        yield saying.in_week(millis(end["at"])) if end else ""
    for side in ("below", "inside", "above"):
        yield _hours(comfort[side]) if comfort else "not judged"
    yield _hours(harm["below"] + harm["above"]) if harm else "no limit"
    yield _hours(zone["silent"])
    yield _depth(comfort, zone["unit"], saying)


def _hours(hours: float) -> str:
    return f"{hours:.1f} h"


def _depth(band: BandShape | None, unit: str, saying: Saying) -> str:
    if band is None:
        return "not judged"
    depth = band["short"] + band["beyond"]
    if unit != "°C":
        return f"{depth:.1f} point-hours"
    return f"{depth if saying.units is Units.METRIC else difference_in(depth, '°F'):.1f} degree-hours"


ROUTES = [Route("/week", week)]
