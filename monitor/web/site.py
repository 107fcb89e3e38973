"""All pages as one application."""

from __future__ import annotations

import importlib
import pkgutil
from http import HTTPStatus

from markupsafe import Markup
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Mount, Route
from starlette.staticfiles import StaticFiles

from monitor.addresses import Page
from monitor.reports.caring import CareShape
from monitor.reports.expecting import Beds
from monitor.web import pages
from monitor.web.desk import Desk
from monitor.web.doors import Door, Doors
from monitor.web.guard import Guard, names_of
from monitor.web.kept import Kept
from monitor.web.pages.limits import Verdicts
from monitor.web.pages.week import Written
from monitor.web.showing import HERE, render
from monitor.web.told import Told


def site(desk: Desk, where: Page, *, key: bytes) -> Starlette:
    """Everything that is served of this desk. `key` is 32 random bytes that forms and links are signed with."""
    routes, doors = _routes(), Doors(desk, where, key=key)
    secure = bool(where.address and where.address.startswith("https:"))
    app = Starlette(
        routes=[*routes, Mount("/static", _Kept(directory=HERE / "static"))],
        middleware=[
            Middleware(Guard, names=names_of(where), secure=secure),
            Middleware(Door, doors=doors),
            Middleware(GZipMiddleware, minimum_size=1000, compresslevel=5),
        ],
        exception_handlers={HTTPException: _refused, Exception: _broke},
    )
    app.state.desk, app.state.key, app.state.where = desk, key, where
    app.state.doors, app.state.told, app.state.secure = doors, Told(), secure
    app.state.strips = Kept[Markup]()
    app.state.expected = Kept[Beds]()
    app.state.weeks, app.state.cares, app.state.verdicts = Kept[Written](4), Kept[CareShape](24), Kept[Verdicts](1)
    app.state.paths = {route.path for route in routes if isinstance(route, Route)}
    return app


def _routes() -> list[BaseRoute]:
    found: list[BaseRoute] = []
    for module in sorted(one.name for one in pkgutil.iter_modules(pages.__path__)):
        found += getattr(importlib.import_module(f"{pages.__name__}.{module}"), "ROUTES", [])
    return found


class _Kept(StaticFiles):
    """Files of ours, which a browser keeps: each is called by what is in it."""

    def file_response(self, *args: object, **more: object) -> Response:
        answer = super().file_response(*args, **more)  # type: ignore[arg-type]
        answer.headers["Cache-Control"] = "max-age=31536000, immutable"
        return answer


def _refused(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 500
    said = error.detail if isinstance(error, HTTPException) else ""
    plain = said == HTTPStatus(status).phrase
    sentence = "There is nothing at this address." if plain and status == 404 else said
    return render(request, "refused.html", status=status, sentence=sentence)


def _broke(request: Request, _error: Exception) -> Response:
    return render(
        request,
        "refused.html",
        status=500,
        sentence="This page could not be made. The log says why; the watching goes on.",
    )
