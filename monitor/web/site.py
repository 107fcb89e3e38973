"""All pages as one application."""

from __future__ import annotations

import importlib
from collections.abc import Iterable
from http import HTTPStatus
from typing import TYPE_CHECKING

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Match, Mount, Router
from starlette.staticfiles import StaticFiles
from starlette.types import Receive, Scope, Send

from monitor.addresses import Page
from monitor.web import pages
from monitor.web.desk import Desk
from monitor.web.doors import Door, Doors
from monitor.web.guard import Guard, names_of
from monitor.web.kept import Kept
from monitor.web.showing import HERE, render
from monitor.web.told import Told

if TYPE_CHECKING:
    from markupsafe import Markup

    from monitor.reports.caring import CareShape
    from monitor.reports.expecting import Beds
    from monitor.web.pages.limits import Verdicts
    from monitor.web.pages.week import Written


def site(desk: Desk, where: Page, *, key: bytes) -> Starlette:
    """Everything that is served of this desk. `key` is 32 random bytes that forms and links are signed with."""
    doors = Doors(desk, where, key=key)
    secure = bool(where.address and where.address.startswith("https:"))
    app = Starlette(
        routes=[
            *(_Later(first, modules) for first, modules in pages.OF.items()),
            Mount("/static", _Kept(directory=HERE / "static")),
        ],
        middleware=[
            Middleware(Guard, names=names_of(where), secure=secure),
            Middleware(Door, doors=doors),
            Middleware(GZipMiddleware, minimum_size=1000, compresslevel=5),
        ],
        exception_handlers={HTTPException: _refused, Exception: _broke},
    )
    app.state.desk, app.state.key, app.state.where = desk, key, where
    app.state.doors, app.state.told, app.state.secure = doors, Told(), secure
    strips: Kept[Markup] = Kept()
    expected: Kept[Beds] = Kept()
    weeks: Kept[Written] = Kept(4)
    cares: Kept[CareShape] = Kept(24)
    verdicts: Kept[Verdicts] = Kept(1)
    app.state.strips, app.state.expected = strips, expected
    app.state.weeks, app.state.cares, app.state.verdicts = weeks, cares, verdicts
    return app


class _Later(BaseRoute):
    """Whatever begins with one word, imported when the first of it is asked for."""

    def __init__(self, first: str, modules: Iterable[str]) -> None:
        self._first, self._modules = first, modules
        self._router: Router | None = None

    def matches(self, scope: Scope) -> tuple[Match, Scope]:
        """Whether it begins so; what becomes of it the pages themselves say."""
        mine = scope["type"] == "http" and scope["path"].removeprefix("/").partition("/")[0] == self._first
        return (Match.FULL if mine else Match.NONE), {}

    async def handle(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, with what is imported by now."""
        if self._router is None:
            self._router = await run_in_threadpool(self._imported)
        await self._router(scope, receive, send)

    def _imported(self) -> Router:
        found = [importlib.import_module(f"{pages.__name__}.{module}") for module in self._modules]
        return Router([route for module in found for route in module.ROUTES])


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
