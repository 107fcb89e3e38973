"""Keeping addresses out of logs and errors: every part of a secret that could open something becomes stars."""

from __future__ import annotations

import logging
import re
import traceback
from collections.abc import Iterable
from urllib.parse import parse_qsl, unquote, urlsplit

from monitor.addresses import STARS, Secret

LONG_ENOUGH = 8
"""Shorter pieces of a path or a query are words (`hooks`, `yes`) that stand in honest sentences too."""


def fragments(secret: Secret) -> frozenset[str]:
    """Every text whose appearance would give the secret away: the whole, and the parts of a URL that are keys.

    User and password whatever their length; a host without a dot (many services put their token there), path
    segments and query values from eight characters on; each as written and decoded.
    """
    text = secret.reveal().strip()
    try:
        parts = urlsplit(text)
    except ValueError:
        return _with_decoded([text])
    login, _, host = parts.netloc.rpartition("@")
    keys = [p for p in login.split(":") if p]
    named = re.split(r"[:/]", host, maxsplit=1)[0]
    tokens = [] if "." in named or named == "localhost" else [named]
    tokens += parts.path.split("/")
    tokens += [value for _, value in parse_qsl(parts.query)]
    return _with_decoded([text, *keys, *(t for t in tokens if len(t) >= LONG_ENOUGH)])


def _with_decoded(texts: Iterable[str]) -> frozenset[str]:
    return frozenset(form for text in texts for form in (text, unquote(text)) if form)


def starred(text: str, parts: Iterable[str]) -> str:
    """The text with every part replaced by stars, the longest first, whatever its case.

    A short part (a user called `us`) is looked for as a word of its own: stars inside other words would say
    more about it than they hide.
    """
    for part in sorted(parts, key=len, reverse=True):
        word = re.escape(part) if len(part) >= LONG_ENOUGH else rf"(?<!\w){re.escape(part)}(?!\w)"
        text = re.sub(word, STARS, text, flags=re.IGNORECASE)
    return text


class Redacting(logging.Filter):
    """A filter for log handlers: no record passes with a known secret in its words or its traceback."""

    def __init__(self, secrets: Iterable[Secret]) -> None:
        super().__init__()
        self._parts = frozenset[str]().union(*(fragments(s) for s in secrets))

    def also(self, secrets: Iterable[Secret]) -> None:
        """Hide these too, from the next record on. What was a secret once stays one."""
        self._parts = self._parts.union(*(fragments(s) for s in secrets))

    def filter(self, record: logging.LogRecord) -> bool:
        """Put stars into the record; it always passes."""
        record.msg, record.args = starred(record.getMessage(), self._parts), ()
        if record.exc_info and not record.exc_text:
            record.exc_text = "".join(traceback.format_exception(*record.exc_info)).rstrip("\n")
        if record.exc_text:
            record.exc_text = starred(record.exc_text, self._parts)
        return True
