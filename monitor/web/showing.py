"""From facts to HTML, and from forms to what was meant: what every page does alike."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from typing import cast
from urllib.parse import urlsplit

import jinja2
from anyio import from_thread
from markupsafe import Markup, escape
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from monitor import words
from monitor.web.desk import Desk
from monitor.web.guard import FIELD, is_ours, token_of

HERE = Path(__file__).parent
PLACES = (("/", "Now"), ("/week", "Week"), ("/diary", "Diary"), ("/limits", "Limits"), ("/probes", "Probes"))
"""What the head of each page leads to."""
MOST_FIELDS = 200

_pages = jinja2.Environment(
    loader=jinja2.FileSystemLoader(HERE / "templates"),
    autoescape=True,
    undefined=jinja2.StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


_COMMAND, _UNIT = re.compile(r"`([^`]+)`"), re.compile(r"(?<=\d) (?=(?:°[CF]|%|h|min|s|L|kg|kWh|W)(?!\w))")


def said(text: str) -> Markup:
    """A sentence as a page shows it: its commands (between backticks) as such, a number never parted from its unit."""
    kept = _UNIT.sub("\N{NO-BREAK SPACE}", str(escape(text)))
    return Markup(_COMMAND.sub(r"<code>\1</code>", kept))  # noqa: S704 (escaped here)


def parted(text: str) -> Markup:
    """The long name of a setting, which a narrow screen may part at its dots and not within a word."""
    return Markup(re.sub(r"(\.(?=[a-z])|(?==))", r"\1<wbr>", str(said(text))))  # noqa: S704 (escaped there)


_pages.filters["said"] = said
_pages.filters["parted"] = parted
_pages.filters["opening"] = lambda text: text[:1].upper() + text[1:]


def desk_of(request: Request) -> Desk:
    """The desk of the daemon that serves this page."""
    return cast(Desk, request.app.state.desk)


def render(request: Request, name: str, *, status: int = 200, **values: object) -> Response:
    """A page out of its template. `name` is a file in templates/; what every page shows comes by itself."""
    return HTMLResponse(_pages.get_template(name).render(**_everywhere(request), **values), status)


def part(request: Request, name: str, **values: object) -> Markup:
    """A piece of a page out of its template, for another one."""
    return Markup(_pages.get_template(name).render(**_everywhere(request), **values))  # noqa: S704 (escaped as it was made)


def _everywhere(request: Request) -> Mapping[str, object]:
    desk = desk_of(request)
    site = desk.rules().site
    now = desk.now()
    return {
        "site": site.name,
        "path": request.url.path,
        "places": PLACES,
        "now": words.clock_time(now, site.timezone, now),
        "static": _static,
        "just_said": lambda: _just_said(request),
        "leave": request.app.state.doors.passphrase is not None and request.state.keeper,
        "csrf": lambda: Markup('<input type="hidden" name="{}" value="{}">').format(
            FIELD, token_of(request.app.state.key, request.state.visit)
        ),
    }


def _just_said(request: Request) -> str:
    """What was done just before, for whoever comes to a page; a live page that renews itself must not take it away."""
    comes = request.headers.get("sec-fetch-mode", "navigate") == "navigate"
    return request.app.state.told.hear(request.state.visit) if comes else ""


@lru_cache
def _digest(name: str) -> str:
    return sha256((HERE / "static" / name).read_bytes()).hexdigest()[:12]


def _static(name: str) -> str:
    """Where a file of ours is, called so that a newer one is never mistaken for it."""
    return f"/static/{name}?{_digest(name)}"


def form_of(request: Request) -> dict[str, str]:
    """What a form of ours holds, without files. Raises HTTPException: 403 when it is not ours, 400 when it is broken."""
    try:
        found = from_thread.run(_read, request)
    except HTTPException:
        raise
    except Exception:
        raise HTTPException(400, "This form arrived broken. Go back and send it again.") from None
    if not is_ours(request, found.pop(FIELD, "")):
        raise HTTPException(
            403, "This page lay open too long, or its cookie is gone. Go back, load it anew, send it again."
        )
    return found


async def _read(request: Request) -> dict[str, str]:
    async with request.form(max_files=0, max_fields=MOST_FIELDS) as form:
        return {name: value for name, value in form.multi_items() if isinstance(value, str)}


def back(_request: Request, url: str) -> Response:
    """On to another page after something was done (303). Only ever to ourselves."""
    parts = urlsplit(url)
    ours = not parts.scheme and not parts.netloc and url.startswith("/") and not url.startswith(("//", "/\\"))
    return RedirectResponse(url if ours else "/", 303)
