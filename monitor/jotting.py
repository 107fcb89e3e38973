"""Writing into the diary from outside the daemon: an entry is left as a request, and stands from the next round on."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

from monitor.asked import written
from monitor.deeds import said
from monitor.diary import EVERY, Entry
from monitor.errors import RequestError
from monitor.keeper import check_note, who_asks
from monitor.moments import moment
from monitor.readings import Millis
from monitor.rules import Rules
from monitor.store.promises import Request, Store


@dataclass(frozen=True, slots=True)
class Jotted:
    """An entry as it will stand in the diary, and the number by which it can be corrected."""

    entry: Entry
    request: int


def jot(
    store: Store,
    rules: Rules,
    *,
    words: Sequence[str],
    who: str | None,
    when: str | None,
    corrects: int | None,
    at: Millis,
) -> Jotted:
    """Leave a diary entry that somebody writes `at` this time. `when` is when it happened (None: now), `corrects` the
    number of the entry it stands for instead. Raises RequestError, having left nothing, for whatever is not understood.
    """
    person = who_asks(rules, who)
    what = said(rules, words)
    check_note(what.text)
    happened = at if when is None else moment(when, rules.site.timezone, at)
    if corrects is not None:
        _must_be_there(store, corrects)
    told = {
        "deed": what.deed,
        "subject": what.subject,
        "ago": at - happened,  # a span, so that it stays true when the clock turns out to have been off
        "amount": what.amount,
        "unit": what.unit,
        "corrects": corrects,
    }
    body = json.dumps({key: value for key, value in told.items() if value not in (None, "")})
    number = store.ask(at, person, "diary", note=what.text, body=body)
    return Jotted(written(Request(number, at, person, "diary", 0, what.text, body)), number)


def _must_be_there(store: Store, number: int) -> None:
    waiting = {request.id for request in store.asked() if request.what in ("diary", "done", "working")}
    if number not in waiting | {entry.number for entry in store.diary(EVERY) if entry.number}:
        raise RequestError(f"the diary has no entry {number}; `vermistat diary` shows their numbers")
