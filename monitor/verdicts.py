"""Useful or needless: what people call a notice, left for the daemon's next round, which writes it into the diary."""

from __future__ import annotations

import json
from dataclasses import dataclass

from monitor.errors import RequestError
from monitor.keeper import check_note, who_asks
from monitor.readings import Millis
from monitor.rules import Rules
from monitor.store.promises import Store

VERDICT = "verdict"
"""What is asked: `{"useful": true or false, "of": [[alarm, subject, condition], …], "notice": number}`."""
LOOKED_THROUGH = 100_000
"""Posts."""


@dataclass(frozen=True, slots=True)
class Called:
    """What was left: which notice, what it is called, and its first line."""

    request: int
    notice: int
    useful: bool
    who: str
    title: str


def call(
    store: Store, rules: Rules, *, notice: int, useful: bool, who: str | None, note: str, at: Millis
) -> Called:
    """Leave what somebody calls a notice. Raises RequestError, having left nothing, for a number that no notice has had, for one
    about no alarm, and as `keeper.ask` does.
    """
    person = who_asks(rules, who)
    check_note(note)
    found = next((p.notice for p in store.notices(LOOKED_THROUGH) if p.notice.number == notice), None)
    if found is None:
        raise RequestError(f"no notice has had the number {notice}; `vermistat notices` lists them")
    steps = [story.transitions[0] for n in found.alarms if (story := store.story(n)).transitions]
    of = [[step.number, str(step.key.subject), str(step.key.condition)] for step in steps]
    body = json.dumps({"useful": useful, "of": of, "notice": notice})
    request = store.ask(at, person, VERDICT, 0, note, body=body)
    return Called(request, notice, useful, person, found.title)
