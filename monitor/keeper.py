"""What the keeper asks for from outside the daemon: left as requests, applied at the start of the next round."""

from __future__ import annotations

from typing import TypedDict

from monitor.errors import RequestError
from monitor.readings import Millis
from monitor.rules import Rules
from monitor.store.promises import Store


class Asked(TypedDict):
    """What was left, and for whom."""

    request: int
    alarm: int
    what: str
    who: str


def ask(store: Store, rules: Rules, *, what: str, alarm: int, who: str | None, note: str, at: Millis) -> Asked:
    """Leave `seen` or `done` for a standing alarm. Raises RequestError when nobody of that name or no such alarm is
    there; nothing is left then.
    """
    person = _who(rules, who)
    if store.heard_of(alarm) is None:
        raise RequestError(f"no alarm {alarm} stands; `vermistat alarms` lists those that do")
    request = store.ask(at, person, what, alarm, note)
    return {"request": request, "alarm": alarm, "what": what, "who": person}


def _who(rules: Rules, who: str | None) -> str:
    if who is None:
        if len(rules.people) == 1:
            return next(iter(rules.people))
        raise RequestError(f"say who you are with --as: {', '.join(rules.people) or 'the settings name nobody'}")
    if who not in rules.people:
        raise RequestError(f"the settings know nobody called {who}; known are {', '.join(rules.people) or 'none'}")
    return who
