"""Where the passphrase is said, and where a browser forgets it again."""

from __future__ import annotations

import math

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from monitor.web.doors import COOKIE, Doors
from monitor.web.passphrase import STAYS, place_of
from monitor.web.showing import back, desk_of, form_of, render


def enter(request: Request) -> Response:
    """Asks for it; the right one is remembered, and leads on to where somebody wanted to go."""
    doors: Doors = request.app.state.doors
    to = request.query_params.get("to", "/")
    if doors.passphrase is None:
        return back(request, to)
    if request.method != "POST":
        used = "used" in request.query_params
        return render(request, "enter.html", to=to, wrong="", used=used)
    form = form_of(request)
    place = place_of(request.client.host if request.client else None)
    wait = doors.passphrase.attempt(form.get("passphrase", ""), place)
    if wait is not None:
        return _again(request, form.get("to", "/"), wait)
    answer = back(request, form.get("to", "/"))
    cookie = doors.passphrase.cookie(request.state.visit, desk_of(request).now())
    answer.set_cookie(
        COOKIE, cookie, max_age=STAYS // 1000, httponly=True, samesite="lax", secure=request.app.state.secure
    )
    return answer


def _again(request: Request, to: str, wait: float) -> Response:
    seconds = math.ceil(wait)
    pause = f" Wait {seconds} s before the next try." if seconds else ""
    answer = render(
        request,
        "enter.html",
        status=429 if seconds else 403,
        to=to,
        wrong=f"That is not it.{pause}",
        used=False,
    )
    if seconds:
        answer.headers["Retry-After"] = str(seconds)
    return answer


def leave(request: Request) -> Response:
    """Has the browser forget it."""
    form_of(request)
    answer = back(request, "/")
    answer.delete_cookie(COOKIE, httponly=True, samesite="lax", secure=request.app.state.secure)
    return answer


ROUTES = [Route("/enter", enter, methods=["GET", "POST"]), Route("/leave", leave, methods=["POST"])]
