"""Food and water of one bin, as `vermistat care` tells it."""

from __future__ import annotations

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from monitor.readings import MINUTE, Millis
from monitor.reports.caring import CareShape, care_facts
from monitor.web.kept import diary_stands
from monitor.web.showing import desk_of, render

RECKONED: Millis = 5 * MINUTE
"""How long it is shown: it looks back on a third of a year, and nothing of it moves faster but by what people do."""


def care(request: Request) -> Response:
    """The page."""
    desk, name = desk_of(request), request.path_params["bin"]
    bed = desk.rules().bins.get(name)
    if bed is None:
        raise HTTPException(404, "There is no such bin in the settings.")
    rules, at = desk.rules(), desk.now()

    def reckoned() -> CareShape:
        (facts,) = care_facts(desk.store, rules, at, beds=[name])["bins"]
        return facts

    of = rules.version, at // RECKONED, diary_stands(desk.store)
    facts = request.app.state.cares.get(name, of, reckoned)
    return render(request, "care.html", bed=bed, care=facts)


ROUTES = [Route("/bins/{bin}/care", care)]
