"""Food and water of one bin, as `vermistat care` tells it."""

from __future__ import annotations

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from monitor.reports.caring import care_facts
from monitor.web.showing import desk_of, render


def care(request: Request) -> Response:
    """The page."""
    desk, name = desk_of(request), request.path_params["bin"]
    bed = desk.rules().bins.get(name)
    if bed is None:
        raise HTTPException(404, "There is no such bin in the settings.")
    (facts,) = care_facts(desk.store, desk.rules(), desk.now(), beds=[name])["bins"]
    return render(request, "care.html", bed=bed, care=facts)


ROUTES = [Route("/bins/{bin}/care", care)]
