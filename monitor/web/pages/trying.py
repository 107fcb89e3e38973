"""Other limits tried on the days behind us, and accepted: which alarms there would have been, before anything changes."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from monitor import words
from monitor.accepting import accept
from monitor.charts.layout import NARROW, WIDE
from monitor.charts.svg import draw
from monitor.errors import RequestError, SettingsError, StoreError
from monitor.readings import Measures
from monitor.reports.charting import past_of_bin
from monitor.reports.replaying import LineShape, ReplayShape, Twice, facts_of, lines_of
from monitor.reports.saying import Saying
from monitor.reports.sight import sight_of_days
from monitor.reports.tried_picture import tried_picture
from monitor.rules import Bin, Rules
from monitor.settings.wishes import Wish, Wished, bins_that_differ, held_in_words, profiles_of, wish_of, wished
from monitor.web.desk import Desk
from monitor.web.showing import back, desk_of, form_of, render
from monitor.web.who import ask_who, remembered, who_of

HERE = "/limits/try"
DAYS = (7, 30, 90)
USUAL_DAYS = 30
LONGEST = 200
"""Characters of a value."""
WAITS = 20.0
"""s that somebody waits for another's try. Each takes a core for seconds, so one is made at a time."""
_ONE = threading.Lock()

LABELS = {
    "comfort": "Comfort band",
    "harm.below": "Harm below",
    "harm.above": "Harm above",
    "deadband": "Back inside by so much before it is over",
    "comfort_delay": "Outside comfort for so long before it is told",
    "off_delay": "Back inside for so long before it is over",
}


@dataclass(frozen=True, slots=True)
class Row:
    """One limit that can be tried: its name in the settings, its words, and what holds now."""

    limit: str
    label: str
    value: str
    lasting: str

    @property
    def id(self) -> str:
        """What its field is called in the page."""
        return f"{self.limit}-{self.lasting}".replace(".", "-").replace(" ", "-")


@dataclass(frozen=True, slots=True)
class Tried:
    """What another limit would have told, and which line of which file says so."""

    said: str
    digest: str
    days: int
    facts: ReplayShape
    lines: list[LineShape]
    wish: Wish
    picture: tuple[Markup, ...]
    """Wide and narrow; none where nothing was measured."""

    @property
    def figures(self) -> list[tuple[str, str, str]]:
        """(what, by the limits in force, by the other)."""
        now, other = self.facts["now"], self.facts["others"]
        return [
            ("Alarms", f"{now['alarms']}", f"{other['alarms']}"),
            ("Hours in alarm", f"{now['hours']:g}", f"{other['hours']:g}"),
            ("Notices", f"{now['notices']}", f"{other['notices']}"),
            ("Of them by night", f"{now['woken']}", f"{other['woken']}"),
        ]


def look(request: Request) -> Response:
    """The limits of a bin, each with a field; and what was tried in one of them."""
    desk, asked = desk_of(request), request.query_params
    limit = asked.get("limit", "")
    rules = desk.rules()
    name = limit.partition(".")[0] if limit else asked.get("of", "")
    bed = rules.bins.get(name) or next(iter(rules.bins.values()))
    tried, wrong, status = None, "", 200
    if limit:
        try:
            tried = _try_alone(desk, _text(asked), days=_days(asked.get("days", "")))
        except (RequestError, SettingsError) as error:
            wrong, status = _in_words(error), 400
        except TimeoutError as error:
            wrong, status = str(error), 503
        except StoreError as error:
            wrong, status = words.sentence(error), 503
    rows = list(rows_of(bed, rules))
    # what was typed stands in its field again
    typed = {(limit, asked.get("lasting", "")): asked.get("value", "")} if limit else {}
    return render(
        request,
        "trying.html",
        status=status,
        bed=bed,
        bins=list(rules.bins.values()),
        groups=[
            (
                str(measure).capitalize(),
                [
                    (row, typed.get((row.limit, row.lasting), row.value))
                    for row in rows
                    if f".{measure}." in row.limit
                ],
            )
            for measure in (Measures.TEMPERATURE, Measures.MOISTURE)
        ],
        tried=tried,
        wrong=wrong,
        all_days=DAYS,
        days=_days(asked.get("days", "")),
    )


def _text(asked: Mapping[str, str]) -> str:
    value, lasting = asked.get("value", "").strip(), asked.get("lasting", "").strip()
    if len(value) > LONGEST:
        raise RequestError("that is too long for a limit")
    return f"{asked.get('limit', '')}={value}{f' lasting {lasting}' if lasting else ''}"


def _days(text: str) -> int:
    return int(text) if text in map(str, DAYS) else USUAL_DAYS


def _in_words(error: RequestError | SettingsError) -> str:
    """One mistake as a sentence, without the file: that is not what was typed here."""
    if isinstance(error, SettingsError) and error.mistakes:
        return error.mistakes[0].split(": ", 1)[-1]
    said = str(error)
    return f"{said[:1].upper()}{said[1:]}{'' if said.endswith(('.', '?')) else '.'}"


def rows_of(bed: Bin, rules: Rules) -> Iterator[Row]:
    """Every limit of a bin as a whole."""
    for measure, limits in bed.limits.items():
        if measure not in (Measures.TEMPERATURE, Measures.MOISTURE):
            continue
        for key, label in LABELS.items():
            for value, lasting in held_in_words(limits, measure, key, units=rules.site.units):
                said = f"{label}, lasting {lasting}" if lasting else label
                yield Row(f"{bed.id}.{measure}.{key}", said, value, lasting)


def _try_alone(desk: Desk, text: str, *, days: int) -> Tried:
    """`try_it`, one at a time. Raises TimeoutError, with what to say, where others take too long."""
    if not _ONE.acquire(timeout=WAITS):
        raise TimeoutError("Other limits are being tried just now, one at a time. Try it again in a minute.")
    try:
        return try_it(desk, text, days=days)
    finally:
        _ONE.release()


def try_it(desk: Desk, text: str, *, days: int) -> Tried:
    """Judge the days behind us once more. Raises RequestError or SettingsError for what cannot be."""
    would = _would(desk, text)
    rules, others = desk.rules(), would.settings.rules
    theirs = bins_that_differ(rules, others)
    beds = [bed for bed in rules.bins if bed in theirs]
    both = desk.twice(others, days, beds)
    facts, wish = facts_of(both, rules, other=text), would.wishes[0]
    drawn = tuple(_drawn(desk, would, both, wish.measure, days=days))
    return Tried(text, desk.settings().digest, days, facts, lines_of(would), wish, drawn)


def _drawn(desk: Desk, would: Wished, both: Twice, measures: Measures, *, days: int) -> Iterator[Markup]:
    """The first bin whose limits would be others, as it was in these days."""
    if not both.beds:
        return
    rules = desk.rules()
    bed, seen = rules.bins[both.beds[0]], sight_of_days(days, both.at, rules.site.timezone)
    past = past_of_bin(desk.store, rules, bed, seen, now=both.at)
    chart = tried_picture(past, would.settings.rules.bins[bed.id], both, measures, Saying(rules, both.at))
    if chart is None:
        return
    for size, name in ((WIDE, "wide"), (NARROW, "narrow")):
        yield Markup(draw(chart, size, classes=name))  # noqa: S704 (escaped as it was drawn)


def _would(desk: Desk, text: str) -> Wished:
    settings = desk.settings()
    return wished(settings, [wish_of(text, settings.rules, profiles_of(settings))], environ=os.environ)


def take(request: Request) -> Response:
    """Write what was tried into the keeper's file."""
    form = form_of(request)
    who = who_of(request, form)
    if who is None:
        return ask_who(request, form)
    desk, text = desk_of(request), form.get("set", "")
    if form.get("digest") != desk.settings().digest:
        raise HTTPException(
            409, "The settings have changed since this was tried. Try it again before you accept it."
        )
    try:
        would = _would(desk, text)
        done = accept(desk.store, desk.rules(), would, who=who, why=form.get("why", "").strip(), at=desk.now())
    except (RequestError, SettingsError) as error:
        raise HTTPException(409, _in_words(error)) from None
    desk.soon(done.request)
    kept = words.joined([path.name for path in done.kept])
    changed = (
        "It is in force." if desk.settings().digest == would.settings.digest else "The next round takes it up."
    )
    request.app.state.told.say(request.state.visit, f"Written. {changed} The earlier file is kept as {kept}.")
    return remembered(request, back(request, f"{HERE}?of={text.partition('.')[0]}"), who)


ROUTES = [Route(HERE, look), Route(HERE, take, methods=["POST"])]
