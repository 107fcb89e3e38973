"""One question to a web address, and what came of it (RFC 9110)."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass
from email.utils import parsedate_to_datetime

import urllib3

from monitor import __version__
from monitor.addresses import Outdoors
from monitor.intake.outdoors import LONGEST, Hours, read
from monitor.intake.payloads.parts import Refused
from monitor.readings import DAY, SECOND, Millis

WAITS = urllib3.Timeout(connect=10.0, read=20.0)
WHOLE = 60.0
"""Seconds for all of an answer."""
REDIRECTS = 3

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
            num_pools=2,
            retries=urllib3.Retry(
                total=REDIRECTS, redirect=REDIRECTS, connect=0, read=0, other=0, respect_retry_after_header=False
            ),
            timeout=WAITS,
        )

    def ask(self, now: Millis) -> Answer:
        """One request. Raises nothing; no sentence holds the address, which may be a secret."""
        headers = {"Accept": "application/json", "User-Agent": f"vermistat/{__version__}", **self._known}
        try:
            answer = self._pool.request("GET", self._where.url or "", headers=headers, preload_content=False)
        except urllib3.exceptions.HTTPError as error:
            return Answer(wrong=_in_words(error))
        try:
            return self._read(answer, now)
        except (urllib3.exceptions.HTTPError, OSError) as error:
            return Answer(wrong=_in_words(error))
        finally:
            answer.close()

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
        try:
            hours = read(body, self._where, now)
        except Refused as refused:
            return Answer(wrong=refused.reason)
        names = {"ETag": "If-None-Match", "Last-Modified": "If-Modified-Since"}
        self._known = {ours: answer.headers[name] for name, ours in names.items() if name in answer.headers}
        return Answer(hours)

    def forget(self) -> None:
        """What was sent could not be kept: ask for all of it."""
        self._known = {}


def _in_words(error: Exception) -> str:
    """What went wrong, without the address."""
    cause = error.reason if isinstance(error, urllib3.exceptions.MaxRetryError) and error.reason else error
    if isinstance(cause, urllib3.exceptions.NameResolutionError):
        return "its name is not known"
    if isinstance(cause, urllib3.exceptions.NewConnectionError):  # which urllib3 counts among the time-outs
        return "nothing answers there"
    if isinstance(cause, urllib3.exceptions.TimeoutError):
        return "it does not answer in time"
    if isinstance(cause, urllib3.exceptions.SSLError):
        return "its certificate is not trusted"
    if isinstance(cause, urllib3.exceptions.ResponseError):
        return "it sends us on too often"
    return "the connection broke"


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
