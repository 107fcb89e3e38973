"""`/api/`: what the commands show, for other programs, and the three answers to an alarm."""

from __future__ import annotations

import json
import logging
import re
import typing
from collections.abc import Callable, Mapping
from datetime import date
from typing import Any, cast

from anyio import from_thread
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from monitor import __version__
from monitor.errors import BadValue, StoreError
from monitor.web.api_facts import ADDRESSES, Address, time_of
from monitor.web.describing import description
from monitor.web.problem import ProblemShape, Refused, problem
from monitor.web.showing import desk_of

log = logging.getLogger(__name__)

LARGEST = 16_384
"""Bytes of what may be sent to us."""
FIRST_YEAR, LAST_YEAR = 1971, 2999
"""Of a day that may be asked for: none so near the ends of the calendar that a week of it has no time."""


# ── from a request to an answer ───────────────────────────────────────────────────────────────────────────────


def _served(address: Address, request: Request) -> Response:
    return _or_problem(request, lambda: _facts(address, request))


def _facts(address: Address, request: Request) -> Response:
    given = _given(address, request)
    if address.takes is not None:
        given["body"] = _body(request, address.takes)
    found = address.facts(desk_of(request), given)
    status, facts = cast(tuple[int, Any], found) if address.takes is not None else (200, found)
    return _json(facts, status)


def _json(facts: Any, status: int = 200) -> Response:
    body = json.dumps(facts, ensure_ascii=False, separators=(",", ":"))
    return Response(body, status, media_type="application/json")


def _or_problem(request: Request, answer: Callable[[], Response]) -> Response:
    try:
        return answer()
    except Refused as refused:
        return problem(refused.status, refused.detail, refused.headers)
    except (StoreError, BadValue) as error:
        log.warning("%s could not be answered: %s", request.url.path, error)
        return problem(503, "What is kept cannot be read just now. The watching goes on.", {"Retry-After": "60"})
    except Exception:
        log.exception("%s could not be answered", request.url.path)
        return problem(500, "This could not be answered. The log says why; the watching goes on.")


def _given(address: Address, request: Request) -> dict[str, Any]:
    known = {one.name: one for one in address.parameters}
    asked = [*request.path_params.items(), *request.query_params.multi_items()]
    given: dict[str, Any] = {}
    for name, text in asked:
        one = known.get(name)
        if one is None or name in given:
            raise Refused(
                400, f"There is no `{_plain(name)}` to ask for here." if one is None else f"`{name}` stands twice."
            )
        given[name] = _READ[one.kind](name, text)
    return given


def _plain(text: str) -> str:
    return re.sub(r"[^\w.-]", "?", text, flags=re.ASCII)[:40]


def _number(name: str, text: str) -> int:
    if not re.fullmatch(r"[1-9][0-9]{0,8}", text):
        raise Refused(404 if name == "number" else 400, f"`{name}` is a number from 1 on.")
    return int(text)


def _days(name: str, text: str) -> float:
    if not re.fullmatch(r"[0-9]{1,6}(\.[0-9]{1,6})?", text) or float(text) <= 0:
        raise Refused(400, f"`{name}` is a number of days above 0.")
    return float(text)


def _day(name: str, text: str) -> date:
    try:
        found = date.fromisoformat(text) if re.fullmatch(r"\d{4}-\d\d-\d\d", text, re.ASCII) else None
    except ValueError:
        found = None
    if found is None or not FIRST_YEAR <= found.year <= LAST_YEAR:
        raise Refused(400, f"`{name}` is a day, such as 2026-11-20.")
    return found


_READ: Mapping[str, Callable[[str, str], Any]] = {
    "text": lambda _name, text: text,
    "number": _number,
    "days": _days,
    "day": _day,
    "time": time_of,
}


def _body(request: Request, takes: type) -> dict[str, str]:
    """What a program sent with an answer: a JSON object of texts. That it must say so keeps other pages' forms out."""
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind != "application/json":
        raise Refused(415, "Send application/json.")
    try:
        found = json.loads(from_thread.run(_bytes, request))
    except (ValueError, RecursionError):
        raise Refused(400, "That is not JSON.") from None
    known = typing.get_type_hints(takes)
    if not isinstance(found, dict) or not all(isinstance(value, str) for value in found.values()):
        raise Refused(400, "Send a JSON object of texts.")
    if unknown := next((name for name in found if name not in known), None):
        raise Refused(400, f"There is no `{_plain(unknown)}` in what may be sent here.")
    return found


async def _bytes(request: Request) -> bytes:
    found = b""
    async for piece in request.stream():
        found += piece
        if len(found) > LARGEST:
            raise Refused(413, f"At most {LARGEST} bytes.")
    return found


# ── the description, and what is not there ────────────────────────────────────────────────────────────────────


def _description(request: Request) -> Response:
    where = request.app.state.where
    told = description(
        ADDRESSES,
        title=f"Vermistat: {desk_of(request).rules().site.name}",
        version=__version__,
        problem=ProblemShape,
        asks=where.passphrase is not None,
    )
    return _json(told)


def _nothing(request: Request) -> Response:
    """An address that is not here, or not in that way."""
    path = request.url.path
    ways = {one.method for one in ADDRESSES if _fits(one.path, path)}
    if path == "/api/description.json":
        ways = {"GET"}
    if not ways:
        return problem(404, "There is nothing at this address; /api/description.json tells of all there are.")
    allowed = ", ".join(sorted(ways | ({"HEAD"} if "GET" in ways else set())))
    return problem(405, f"This address takes {allowed}.", {"Allow": allowed})


def _fits(pattern: str, path: str) -> bool:
    return re.fullmatch(re.sub(r"\{\w+\}", "[^/]+", pattern), path) is not None


def _route(address: Address) -> Route:
    def served(request: Request) -> Response:
        return _served(address, request)

    return Route(address.path, served, methods=[address.method], name=f"api-{address.name}")


ROUTES: list[BaseRoute] = [
    Route("/api/description.json", _description, name="api-description"),
    *(_route(one) for one in ADDRESSES),
    Route(
        "/api/{rest:path}",
        _nothing,
        methods=["GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"],
        name="api-nothing",
    ),
]
