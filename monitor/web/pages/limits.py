"""What holds for each bin and zone, where it comes from, and what people's verdicts on notices would change of it."""

from __future__ import annotations

import os
from dataclasses import dataclass
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from monitor import words
from monitor.reports.holding import holdings
from monitor.reports.limiting import bed_limits, marks
from monitor.reports.saying import Saying
from monitor.reports.verdicts import ChangeShape, change_words, counted_text, verdict_facts
from monitor.web.kept import diary_stands
from monitor.web.showing import desk_of, render


@dataclass(frozen=True, slots=True)
class Verdicts:
    """What was called useful or needless in 30 days, a sentence each; the one change of the month and where to try it."""

    said: tuple[str, ...]
    change: str
    href: str


def limits(request: Request) -> Response:
    """Every limit in force."""
    desk = desk_of(request)
    settings, at = desk.settings(), desk.now()
    found = holdings(settings.rules, settings.written, at)
    return render(
        request,
        "limits.html",
        beds=bed_limits(settings.rules, found),
        marks=marks(found),
        verdicts=_verdicts(request),
    )


def _verdicts(request: Request) -> Verdicts:
    """Reckoned once a day, and anew with every word in the diary: a month is judged again for the change."""
    desk = desk_of(request)
    settings, at = desk.settings(), desk.now()
    saying = Saying(settings.rules, at)
    today = words.local(at, settings.rules.site.timezone).date()

    def reckoned() -> Verdicts:
        facts = verdict_facts(desk.store, settings, at, environ=os.environ)
        change = facts["change"]
        return Verdicts(
            tuple(counted_text(facts, saying)),
            f"{change_words(change)}." if change else "",
            _tried(change) if change else "",
        )

    of = settings.digest, today, diary_stands(desk.store)
    found: Verdicts = request.app.state.verdicts.get("all", of, reckoned)
    return found


def _tried(change: ChangeShape) -> str:
    limit, _, value = change["set"].partition("=")
    return f"/limits/try?{urlencode({'limit': limit, 'value': value, 'days': '30'})}"


ROUTES = [Route("/limits", limits)]
