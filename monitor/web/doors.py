"""Who may read and who may act: the passphrase, or a notice's link for its one alarm."""

from __future__ import annotations

import json
import re
import threading
from collections.abc import Callable
from urllib.parse import parse_qs, quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import cookie_parser
from starlette.responses import RedirectResponse
from starlette.types import ASGIApp, Receive, Scope, Send

from monitor.addresses import Asking, Page
from monitor.clock import Patience
from monitor.notify.links import Link, opened
from monitor.readings import Millis
from monitor.store.promises import Standing
from monitor.web.desk import Desk
from monitor.web.passphrase import Passphrase, place_of
from monitor.web.problem import problem

COOKIE = "vermistat_keeper"
BY = "by"
"""The name under which a link's seal stands in an address."""
USED = "link"
"""The kind of standing document that says that a link was used."""
OPEN = ("/static/", "/enter")
PROGRAMS = ("/api", "/metrics", "/events")
"""What is asked by programs: they are told 401 instead of being led to the page that asks."""
READS = ("GET", "HEAD", "OPTIONS")
_ALARM = re.compile(r"/alarms/(\d{1,9})(?:/answer)?")


class Doors:
    """What is needed to come in. Without a passphrase everything is open to whoever reaches the page."""

    def __init__(
        self, desk: Desk, where: Page, *, key: bytes, patience: Callable[[], float] | None = None
    ) -> None:
        self._desk, self._key = desk, key
        self._is_open = where.passphrase is None and not where.asks
        self._reading_is_open = self._is_open or where.asks_for is Asking.ACTING
        self.passphrase = (
            Passphrase(where.passphrase, key, patience=patience or Patience().now) if where.passphrase else None
        )
        self._lock = threading.Lock()

    def is_keeper(self, visit: str, cookie: str) -> bool:
        """Whether this browser has said the passphrase, or need not."""
        if self.passphrase is None:
            return self._is_open
        return self.passphrase.knows(visit, cookie, self._desk.now())

    def reads(self, *, keeper: bool) -> bool:
        """Whether a reader who has or has not said it may look."""
        return keeper or self._reading_is_open

    # links

    def link(self, seal: str, alarm: int) -> Link | None:
        """The link of this seal if it opens this alarm: ours, in time, unused, of somebody who is still there."""
        link = opened(seal, self._key)
        if link is None or link.alarm != alarm or self._desk.now() >= link.until:
            return None
        known = link.person in self._desk.rules().people
        return link if known and not self._is_used(link) else None

    def _is_used(self, link: Link) -> bool:
        return (USED, link.id) in self._desk.store.load().standing

    def once(self, link: Link, act: Callable[[], object]) -> bool:
        """Do what a link is for and remember that it was used; false when it was before. What `act` raises leaves it
        unused.
        """
        with self._lock:
            if self._is_used(link):
                return False
            act()
            old = [Standing(USED, key, None) for key in self._over()]
            self._desk.store.settle([*old, Standing(USED, link.id, json.dumps({"until": link.until}))])
            return True

    def _over(self) -> list[str]:
        now = self._desk.now()
        standing = self._desk.store.load().standing
        return [key for (kind, key), body in standing.items() if kind == USED and _until(body) <= now]


def _until(body: str) -> Millis:
    return int(json.loads(body).get("until", 0))


class Door:
    """Lets in, or says what is missing. Stands behind `Guard`, which knows the visit."""

    def __init__(self, app: ASGIApp, *, doors: Doors) -> None:
        self._app, self._doors = app, doors

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or hand it on."""
        if scope["type"] == "http":
            keeper = self._is_keeper(scope)
            scope["state"]["keeper"] = keeper
            if not self._may(scope, keeper=keeper) and not await self._is_program(scope):
                await _refusal(scope)(scope, receive, send)
                return
        await self._app(scope, receive, send)

    def _is_keeper(self, scope: Scope) -> bool:
        cookies = cookie_parser(Headers(scope=scope).get("cookie", ""))
        return self._doors.is_keeper(scope["state"]["visit"], cookies.get(COOKIE, ""))

    def _may(self, scope: Scope, *, keeper: bool) -> bool:
        path: str = scope["path"]
        reads = scope["method"] in READS
        if keeper or path.startswith(OPEN) or (reads and self._doors.reads(keeper=keeper)):
            return True
        found = _ALARM.fullmatch(path)
        return found is not None and self._doors.link(seal_of(scope), int(found[1])) is not None

    async def _is_program(self, scope: Scope) -> bool:
        """Whether a program says the passphrase with its question; reckoned where others do not wait for it."""
        kind, _, told = Headers(scope=scope).get("authorization", "").partition(" ")
        word, path = self._doors.passphrase, scope["path"]
        if word is None or kind.lower() != "bearer" or not path.startswith(PROGRAMS):
            return False
        place = place_of(scope["client"][0] if scope.get("client") else None)
        text = told.strip().encode("latin-1").decode("utf-8", "replace")
        return await run_in_threadpool(word.is_told_by_program, text, place)


def seal_of(scope: Scope) -> str:
    """What stands in the address as the seal of a link; empty without one."""
    told: bytes = scope.get("query_string", b"")
    query = parse_qs(told.decode("latin-1"))
    return query.get(BY, [""])[0]


def _refusal(scope: Scope) -> ASGIApp:
    path: str = scope["path"]
    if path.startswith(PROGRAMS):
        said = "This needs the keeper's passphrase: send it as `Authorization: Bearer …`."
        return problem(401, said, {"WWW-Authenticate": 'Bearer realm="vermistat"'})
    if scope["method"] not in READS:
        return RedirectResponse("/enter?to=/", 303)
    used = "&used=1" if seal_of(scope) else ""
    return RedirectResponse(f"/enter?to={quote(path, safe='/')}{used}", 303)
