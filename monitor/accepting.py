"""A limit that was tried is accepted: written into the keeper's own file, and the daemon told at whose wish and why."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from monitor.keeper import check_note, who_asks
from monitor.readings import Millis
from monitor.rules import Rules
from monitor.settings.wishes import Wished
from monitor.settings.writing import write
from monitor.store.promises import Request, Store

LIMITS_CHANGED = "limits"
"""What is asked of the daemon: `{"digest": of the settings, "said": [each wish], "subject": whom the first is about}`."""


@dataclass(frozen=True, slots=True)
class Accepted:
    """What was written: the files, where the earlier ones are kept, at whose wish, and the request that says so."""

    files: tuple[Path, ...]
    kept: tuple[Path, ...]
    who: str
    request: int


def accept(store: Store, rules: Rules, wished: Wished, *, who: str | None, why: str, at: Millis) -> Accepted:
    """Write what was wished for, and leave word for the daemon. Raises RequestError, having changed nothing, when nobody of that
    name is there, and as `settings.writing.write` does.
    """
    person = who_asks(rules, who)
    check_note(why)
    kept = write(wished.edits, at)
    body = {
        "digest": wished.settings.digest,
        "said": [wish.said for wish in wished.wishes],
        "subject": wished.wishes[0].subject,
    }
    request = store.ask(at, person, LIMITS_CHANGED, 0, why, body=json.dumps(body))
    return Accepted(tuple(edit.file for edit in wished.edits), tuple(kept), person, request)


def at_whose_wish(asked: Sequence[Request], digest: str) -> tuple[str, str] | None:
    """(who, why) of the newest word that was left about settings of this digest, None when nobody left any."""
    for request in reversed(asked):
        if request.what == LIMITS_CHANGED and _digest_of(request) == digest:
            return request.who, request.note
    return None


def _digest_of(request: Request) -> object:
    try:
        body = json.loads(request.body)
    except ValueError:
        return None
    return body.get("digest") if isinstance(body, dict) else None
