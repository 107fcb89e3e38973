"""One question to a web address, and what came of it (RFC 9110)."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass
from email.utils import parsedate_to_datetime
from urllib.parse import urljoin, urlsplit

import urllib3

from monitor import __version__
from monitor.addresses import Outdoors
from monitor.intake.outdoors import LONGEST, Hours, read
from monitor.intake.payloads.parts import Refused
from monitor.readings import DAY, SECOND, Millis, RefusalKind

WAITS = urllib3.Timeout(connect=10.0, read=20.0)
WHOLE = 60.0
"""Seconds for all of an answer."""
REDIRECTS = 3
"""So often we follow where it sends us (ours: one is usual, a circle has no end)."""

logging.getLogger("urllib3").setLevel(logging.ERROR)  # it tells whole addresses, and one may hold a key


@dataclass(frozen=True, slots=True)
class Answer:
    """What came: the hours, or None when nothing has changed; or why nothing could be used, and when it may be asked again."""

    hours: Hours | None = None
    wrong: str = ""
    after: Millis | None = None


class Asker:
    """Asks one address. Remembers what it was told last, so that the same need not be sent again (RFC 9110 §13)."""

    def __init__(self, where: Outdoors, patience: Callable[[], float]) -> None:
        self._where, self._patience = where, patience
        self._known: dict[str, str] = {}
        self._pool = urllib3.PoolManager(
            num_pools=2, retries=urllib3.Retry(total=0, respect_retry_after_header=False), timeout=WAITS
        )

    def ask(self, now: Millis) -> Answer:
        """One question. Raises nothing; no sentence holds the address, which may be a secret."""
        url = self._where.url.reveal() if self._where.url else ""
        try:
            for _ in range(1 + REDIRECTS):
                answer = self._request(url)
                try:
                    location = answer.get_redirect_location()
                    if not location:
                        return self._read(answer, now)
                    url = _onwards(url, location)
                finally:
                    answer.close()
        except Refused as refused:
            return Answer(wrong=refused.reason)
        except (urllib3.exceptions.HTTPError, OSError) as error:
            return Answer(wrong=_in_words(error))
        return Answer(wrong="it sends us on too often")

    def _request(self, url: str) -> urllib3.BaseHTTPResponse:
        headers = {"Accept": "application/json", "User-Agent": f"vermistat/{__version__}", **self._known}
        return self._pool.request("GET", url, headers=headers, preload_content=False, redirect=False)

    def _read(self, answer: urllib3.BaseHTTPResponse, now: Millis) -> Answer:
        if answer.status == 304:
            return Answer()
        if answer.status != 200:
            return Answer(
                wrong=f"it answers with {answer.status}", after=_after(answer.headers.get("Retry-After"), now)
            )
        body, ends = b"", self._patience() + WHOLE
        while part := answer.read1(65536):
            body += part
            if len(body) > LONGEST:
                return Answer(wrong=f"it sends more than {LONGEST:,} bytes")
            if self._patience() > ends:
                return Answer(wrong=f"it has not sent all of it within {WHOLE:.0f} s")
        if not body:
            return Answer(wrong="it answers with nothing")
        hours = read(body, self._where, now)
        names = {"ETag": "If-None-Match", "Last-Modified": "If-Modified-Since"}
        self._known = {ours: answer.headers[name] for name, ours in names.items() if name in answer.headers}
        return Answer(hours)

    def forget(self) -> None:
        """What was sent could not be kept: ask for all of it."""
        self._known = {}


def _onwards(url: str, location: str) -> str:
    """Where it sends us. Raises Refused where we do not go: what was asked for in secret is not asked for in the open."""
    try:
        there = urljoin(url, location)
        parts = urlsplit(there)
        known = parts.scheme in ("http", "https") and bool(parts.hostname)
    except ValueError:
        known = False
    if not known:
        raise Refused(RefusalKind.NOT_THERE, "it sends us on to what is no web address")
    if parts.scheme == "http" and urlsplit(url).scheme.lower() == "https":
        said = "it sends us on from https to http, where everybody on the way could read the address and change what comes"
        raise Refused(RefusalKind.NOT_THERE, said)
    return there


_WRONG: tuple[tuple[type[Exception], str], ...] = (
    (urllib3.exceptions.NameResolutionError, "its name is not known"),
    (urllib3.exceptions.NewConnectionError, "nothing answers there"),  # which urllib3 counts among the time-outs
    (urllib3.exceptions.TimeoutError, "it does not answer in time"),
    (urllib3.exceptions.SSLError, "its certificate is not trusted"),
    (urllib3.exceptions.LocationValueError, "its address cannot be read"),
    (urllib3.exceptions.DecodeError, "what it sends is packed so that it cannot be unpacked"),
)


def _in_words(error: Exception) -> str:
    """What went wrong, without the address."""
    cause = error.reason if isinstance(error, urllib3.exceptions.MaxRetryError) and error.reason else error
    return next((said for kind, said in _WRONG if isinstance(cause, kind)), "the connection broke")


def _after(text: str | None, now: Millis) -> Millis | None:
    """Retry-After in ms (RFC 9110 §10.2.3): seconds, or a date."""
    if text is None:
        return None
    if text.strip().isascii() and text.strip().isdigit():
        return min(int(text) * SECOND, 7 * DAY)
    try:
        return min(max(0, round(parsedate_to_datetime(text).timestamp() * SECOND) - now), 7 * DAY)
    except (ValueError, TypeError):
        return None
