"""What needs doing, and how every bin is."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from monitor.reports.facts import now_facts
from monitor.web.showing import desk_of, render


def home(request: Request) -> Response:
    """The sheet."""
    desk = desk_of(request)
    return render(request, "home.html", facts=now_facts(desk.store, desk.rules(), desk.now()))


ROUTES = [Route("/", home)]
