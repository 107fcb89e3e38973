"""What the keeper asks for from outside the daemon: left as requests, applied at the start of the next round."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from difflib import get_close_matches

from monitor.alarms.cycle import Alarm
from monitor.errors import RequestError
from monitor.readings import Millis
from monitor.rules import Rules
from monitor.store.promises import Store

NOBODY = "keeper"
"""Who answers where the settings name no people and nobody says who it is."""
LONGEST_NOTE = 1000
"""Characters of what somebody says beside a request."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What was left, by whom, and about which alarm as it stood then."""

    request: int
    at: Millis
    alarm: Alarm
    what: str
    who: str
    note: str


def ask(store: Store, rules: Rules, *, what: str, alarm: int, who: str | None, note: str, at: Millis) -> Asked:
    """Leave `seen` or `done` for a standing alarm. Raises RequestError, having left nothing, when nobody of that
    name or no such alarm is there, or the note is too long.
    """
    person = _who(rules, who)
    if len(note) > LONGEST_NOTE:
        raise RequestError(f"at most {LONGEST_NOTE} characters are kept at once, and this is {len(note)}")
    standing = store.heard_of(alarm)
    if standing is None:
        raise RequestError(_not_standing(alarm, store))
    request = store.ask(at, person, what, alarm, note)
    return Asked(request, at, standing, what, person, note)


def _not_standing(alarm: int, store: Store) -> str:
    if alarm < store.load().next_alarm:
        return f"alarm {alarm} is over, so there is nothing to answer; `vermistat why {alarm}` tells its story"
    return f"no alarm has had the number {alarm} so far; `vermistat alarms` lists those that stand"


def _who(rules: Rules, who: str | None) -> str:
    people = rules.people
    if not people:
        return who or NOBODY
    if who is None:
        if len(people) == 1:
            return next(iter(people))
        raise RequestError(f"say who you are with --as: {', '.join(people)}")
    if who not in people:
        raise RequestError(f"the settings know nobody called {who}; {_nearest(who, people)}")
    return who


def _nearest(who: str, people: Collection[str]) -> str:
    near = get_close_matches(who, people, n=1)
    return f"did you mean {near[0]}?" if near else f"known are {', '.join(people)}"
