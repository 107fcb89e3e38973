"""What stands before every page: whom we are called by, what a browser may load, and that a form is our own."""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
import logging
import secrets
import socket
from collections.abc import Collection
from http.cookies import CookieError, SimpleCookie
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from monitor.addresses import Page
from monitor.web.problem import problem

log = logging.getLogger(__name__)

COOKIE = "vermistat_sheet"
FIELD = "ours"
"""The hidden field of each form by which we know it again."""
READS = ("GET", "HEAD", "OPTIONS")
LARGEST = 256 * 1024
"""Bytes of what is sent: a form of ours has a few thousand at most."""
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; form-action 'self';"
    " frame-ancestors 'none'; base-uri 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}


def names_of(where: Page) -> frozenset[str]:
    """The names by which a browser may call us. A number is always right: only a name can be pointed here by others."""
    told = urlsplit(where.address).hostname if where.address else None
    machine = socket.gethostname().lower()
    return frozenset(
        filter(None, ("localhost", where.host.lower(), machine, f"{machine.split('.')[0]}.local", told))
    )


def is_called(host: str, names: Collection[str]) -> bool:
    """Whether a Host header names us (against DNS rebinding)."""
    try:
        name = urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return False
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return name.rstrip(".") in names
    return True


def token_of(key: bytes, visit: str) -> str:
    """What a form of this visit carries."""
    return hmac.new(key, b"form:" + visit.encode(), hashlib.sha256).hexdigest()


def is_ours(request: Request, told: str) -> bool:
    """Whether a form with this token was made for this visit."""
    return hmac.compare_digest(token_of(request.app.state.key, request.state.visit), told)


class Guard:
    """Refuses strange names and forms from elsewhere, knows a visit again by its cookie, and sets what every answer says."""

    def __init__(self, app: ASGIApp, *, names: frozenset[str], secure: bool) -> None:
        self._app, self._names, self._secure = app, names, secure

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or hand it on."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        visit, known = _visit(headers)
        scope.setdefault("state", {})["visit"] = visit

        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                out = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    out.setdefault(name, value)
                out.setdefault("Cache-Control", "no-store")
                if not known:
                    out.append("Set-Cookie", self._cookie(visit))
            await send(message)

        refused = self._refused(scope["method"], headers)
        app: ASGIApp = _answer(scope["path"], *refused) if refused else self._app
        await app(scope, receive, sent)

    def _refused(self, method: str, headers: Headers) -> tuple[int, str] | None:
        if not is_called(headers.get("host", ""), self._names):
            return 400, "This page does not go by that name. Write the name into `page: {address: …}`.\n"
        if method not in READS and headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return 403, "This was asked from another page. Open Vermistat's own and ask there.\n"
        if method not in READS and not _is_short(headers):
            return 413, f"At most {LARGEST:,} bytes are taken at once, and their number must be said.\n"
        return None

    def _cookie(self, visit: str) -> str:
        secure = "; Secure" if self._secure else ""
        return f"{COOKIE}={visit}; Path=/; HttpOnly; SameSite=Lax{secure}"


def _is_short(headers: Headers) -> bool:
    """Whether what is sent fits a form: only what says its length is read at all."""
    length = headers.get("content-length", "" if "transfer-encoding" in headers else "0")
    return length.isascii() and length.isdigit() and len(length) < 10 and int(length) <= LARGEST


def _answer(path: str, status: int, said: str) -> Response:
    return problem(status, said.strip()) if path.startswith("/api/") else PlainTextResponse(said, status)


def _visit(headers: Headers) -> tuple[str, bool]:
    """The random name of this browser's visit, and whether it brought it."""
    try:
        kept = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
    except CookieError:
        kept = None
    if kept is not None and len(kept.value) == 43 and kept.value.isascii():
        return kept.value, True
    return secrets.token_urlsafe(32), False
