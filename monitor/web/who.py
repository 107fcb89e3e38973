"""Which of the household's people sits before the page: chosen once in a browser, and kept there."""

from __future__ import annotations

from collections.abc import Mapping

from starlette.requests import Request
from starlette.responses import Response

from monitor.errors import RequestError
from monitor.keeper import who_asks
from monitor.web.showing import desk_of, render

COOKIE = "vermistat_who"
FIELD = "who"
KEPT_FOR = 365 * 86_400
"""Seconds that a browser remembers it."""


def who_of(request: Request, form: Mapping[str, str] | None = None) -> str | None:
    """Who asks: by the form, else by what this browser remembers, else where there can be no doubt; None when there is."""
    told = (form or {}).get(FIELD) or request.cookies.get(COOKIE)
    rules = desk_of(request).rules()
    for name in (told, None):
        try:
            return who_asks(rules, name if rules.people else None)
        except RequestError:
            continue
    return None


def remembered(request: Request, answer: Response, who: str) -> Response:
    """The same answer, which has the browser remember who it was; nothing where there can be no doubt."""
    if len(desk_of(request).rules().people) > 1:
        secure = request.app.state.secure
        answer.set_cookie(COOKIE, who, max_age=KEPT_FOR, httponly=True, samesite="lax", secure=secure)
    return answer


def ask_who(request: Request, form: Mapping[str, str]) -> Response:
    """The page that asks who it is and does then what `form` asked for at this very address."""
    people = list(desk_of(request).rules().people)
    fields = [(name, value) for name, value in form.items() if name != FIELD]
    return render(request, "who.html", people=people, fields=fields, action=str(request.url.path), field=FIELD)
