"""Writing into the diary from outside the daemon: an entry is left as a request, and stands from the next round on."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

from monitor.asked import written
from monitor.deeds import Said, said
from monitor.diary import EVERY, Deed, Entry
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
    return leave(store, rules, what=said(rules, words), who=who, when=when, corrects=corrects, at=at)


def leave(
    store: Store,
    rules: Rules,
    *,
    what: Said,
    who: str | None,
    when: str | None,
    corrects: int | None,
    at: Millis,
) -> Jotted:
    """As `jot`, of what has been understood already."""
    person = who_asks(rules, who)
    check_note(what.text)
    happened = at if when is None else moment(when, rules.site.timezone, at)
    was = None if corrects is None else corrected(store, corrects)
    told = {
        "deed": what.deed,
        "subject": what.subject,
        "ago": at - happened,  # a span, so that it stays true when the clock turns out to have been off
        "amount": what.amount,
        "unit": what.unit,
        "corrects": corrects,
        "was": was,
    }
    body = json.dumps({key: value for key, value in told.items() if value not in (None, "")})
    number = store.ask(at, person, "diary", note=what.text, body=body)
    return Jotted(written(Request(number, at, person, "diary", 0, what.text, body)), number)


def corrected(store: Store, number: int) -> tuple[str, Millis] | None:
    """Looks for what is to be corrected: of a squeezed handful whose it was and when, so that it speaks for its bed no
    longer; None for any other. Raises RequestError for a number that no entry has.
    """
    waiting = {request.id: request for request in store.asked() if request.what in WRITE}
    mine = [entry for entry in store.diary(EVERY) if number and entry.number == number]
    if not mine and number not in waiting:
        raise RequestError(f"the diary has no entry {number}; `vermistat diary` shows their numbers")
    found = [(entry.subject, entry.at) for entry in mine if entry.deed is Deed.SQUEEZED]
    if not mine and waiting[number].what == "squeeze":
        body = json.loads(waiting[number].body)
        found = [(str(body["of"]), waiting[number].at - int(body["ago"]))]
    return found[0] if found else None


WRITE = ("diary", "done", "working", "squeeze")
"""The requests that become diary entries."""
