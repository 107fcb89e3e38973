"""What holds for each bin and zone, and where it comes from."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from monitor.reports.holding import holdings
from monitor.reports.limiting import bed_limits, marks
from monitor.web.showing import desk_of, render


def limits(request: Request) -> Response:
    """Every limit in force."""
    desk = desk_of(request)
    settings, at = desk.settings(), desk.now()
    found = holdings(settings.rules, settings.written, at)
    return render(request, "limits.html", beds=bed_limits(settings.rules, found), marks=marks(found))


ROUTES = [Route("/limits", limits)]
