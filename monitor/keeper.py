"""What the keeper asks for from outside the daemon: left as requests, applied at the start of the next round."""

from __future__ import annotations

import json
from collections.abc import Collection
from dataclasses import dataclass
from difflib import get_close_matches

from monitor import words
from monitor.alarms.cycle import Alarm
from monitor.alarms.holds import key_of, shelf_key, shelves_in, works_in
from monitor.alarms.quiet import LONGEST_WORK, USUAL_WORK, longest_shelf
from monitor.checks.findings import AlarmKey
from monitor.errors import RequestError
from monitor.notify.hours import next_up
from monitor.readings import HOUR, Millis
from monitor.reckoning import CLOCK_RIGHT, FLOOR
from monitor.rules import Rules
from monitor.store.promises import Request, Store

NOBODY = "keeper"
"""Who answers where the settings name no people and nobody says who it is."""
LONGEST_NOTE = 1000
"""Characters of what somebody says beside a request."""
LATER: Millis = 4 * HOUR
"""How long `later` lasts for somebody without hours of sleep (proposal)."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What was left, by whom, and about what: an alarm as it stood then, a key alone where none stands, or a bin.

    `until` is when it will end by itself, None for what does not.
    """

    request: int
    at: Millis
    what: str
    who: str
    note: str
    number: int = 0
    alarm: Alarm | None = None
    key: AlarmKey | None = None
    bed: str | None = None
    until: Millis | None = None
    shortened: bool = False
    """Whether less was left than was meant, because it would have been too long."""


def ask(store: Store, rules: Rules, *, what: str, alarm: int, who: str | None, note: str, at: Millis) -> Asked:
    """Leave `seen` or `done` for a standing alarm. Raises RequestError, having left nothing, when nobody of that
    name or no such alarm is there, or the note is too long.
    """
    person, standing = who_asks(rules, who), _standing(store, alarm, note)
    request = store.ask(at, person, what, alarm, note)
    return Asked(request, at, what, person, note, alarm, standing, standing.key)


def shelve(
    store: Store, rules: Rules, *, alarm: int, until: Millis, who: str | None, note: str, at: Millis
) -> Asked:
    """Leave `shelve`: put a standing alarm aside until a time. Raises RequestError, having left nothing, as `ask` does and
    for a time that is over or further than the alarm's priority allows.
    """
    person, standing = who_asks(rules, who), _standing(store, alarm, note)
    longest = longest_shelf(standing)
    if until <= at:
        raise RequestError("that time is over; name one that is still to come")
    if until - at > longest:
        said = f"alarm {alarm} may be shelved for {words.duration(longest)} at most, by its priority"
        raise RequestError(f"{said}: that is until {words.clock_time(at + longest, rules.site.timezone, at)}")
    return _put_aside(store, "shelve", standing, person, at=at, until=until, note=note)


def later(
    store: Store, rules: Rules, *, alarm: int, until: Millis | None, who: str | None, note: str, at: Millis
) -> Asked:
    """Leave `later`: a shelf until a time, else until the person next gets up, no longer than the priority allows.
    Raises RequestError as `ask` does, and for a time that is over.
    """
    person, standing = who_asks(rules, who), _standing(store, alarm, note)
    if until is not None and until <= at:
        raise RequestError("that time is over; name one that is still to come")
    wanted = _next_up(rules, person, at) if until is None else until
    longest = at + longest_shelf(standing)
    shortened = wanted > longest
    return _put_aside(
        store, "later", standing, person, at=at, until=min(wanted, longest), note=note, shortened=shortened
    )


def _next_up(rules: Rules, person: str, at: Millis) -> Millis:
    """When the person next gets up, an hour on at least; LATER for whom no hours are known."""
    known = rules.people.get(person)
    up = next_up(known, at + HOUR, rules.site.timezone) if known else at
    return up if up > at + HOUR else at + LATER


def _put_aside(
    store: Store,
    what: str,
    alarm: Alarm,
    who: str,
    *,
    at: Millis,
    until: Millis,
    note: str,
    shortened: bool = False,
) -> Asked:
    request = store.ask(at, who, what, alarm.number, note, body=json.dumps({"for": until - at}))
    return Asked(request, at, what, who, note, alarm.number, alarm, alarm.key, until=until, shortened=shortened)


def unshelve(store: Store, rules: Rules, *, alarm: int, who: str | None, note: str, at: Millis) -> Asked:
    """Leave `unshelve` for an alarm that is shelved or about to be: by its number, or by that for which the shelf was put
    there. Raises RequestError, having left nothing, as `ask` does and when no shelf has to do with that number.
    """
    person = who_asks(rules, who)
    check_note(note)
    standing, shelves = store.heard_of(alarm), shelves_in(store.load().standing)
    mine = standing and shelf_key(standing.key)
    found = next((key for key, shelf in shelves.items() if alarm == shelf.number or key == mine), None)
    if found is None and not any(r.alarm == alarm and r.what in ("shelve", "later") for r in store.asked()):
        raise RequestError(f"alarm {alarm} is not shelved; `vermistat alarms` lists what is")
    request = store.ask(at, person, "unshelve", alarm, note)
    key = standing.key if standing else key_of(found) if found else None
    return Asked(request, at, "unshelve", person, note, alarm, standing, key)


def work(
    store: Store, rules: Rules, *, bed: str, length: Millis | None, who: str | None, note: str, at: Millis
) -> Asked:
    """Leave `working`: somebody works in a bin for a while, or is done (0). Raises RequestError, having left nothing, for a
    bin that nobody knows, for longer than work may last, and for `done` where nobody works.
    """
    person = who_asks(rules, who)
    check_note(note)
    if bed not in rules.bins:
        raise RequestError(f"the settings know no bin called {bed}; {_nearest(bed, rules.bins)}")
    length = USUAL_WORK if length is None else length
    if length > LONGEST_WORK:
        raise RequestError(
            f"work in a bin may last {words.duration(LONGEST_WORK)} at most; say it anew if it does"
        )
    if (
        not length
        and bed not in works_in(store.load().standing)
        and not any(_begins(r, bed) for r in store.asked())
    ):
        raise RequestError(f"nobody works in {bed}, so there is nothing to end")
    request = store.ask(at, person, "working", 0, note, body=json.dumps({"bin": bed, "for": length}))
    return Asked(request, at, "working", person, note, bed=bed, until=at + length if length else None)


def clock_is_right(store: Store, rules: Rules, *, who: str | None, wall: Millis, at: Millis) -> int:
    """Leave word that the machine's clock, which says `wall`, is right. Raises RequestError, having left nothing, when
    nobody of that name is there, or for a clock that shows a time from before this program.
    """
    person = who_asks(rules, who)
    if wall < FLOOR:
        shown = words.local(wall, rules.site.timezone)
        raise RequestError(
            f"this machine's clock says {shown:%Y-%m-%d %H:%M}, which is long ago: set it first, with"
            " `sudo date --set`, or let it reach the network"
        )
    return store.ask(at, person, CLOCK_RIGHT, 0)


def _begins(request: Request, bed: str) -> bool:
    return request.what == "working" and json.loads(request.body).get("bin") == bed


def _standing(store: Store, alarm: int, note: str) -> Alarm:
    check_note(note)
    standing = store.heard_of(alarm)
    if standing is None:
        raise RequestError(_not_standing(alarm, store))
    return standing


def check_note(note: str) -> None:
    """Raises RequestError for words that are too long to be kept."""
    if len(note) > LONGEST_NOTE:
        raise RequestError(f"at most {LONGEST_NOTE} characters are kept at once, and this is {len(note)}")


def _not_standing(alarm: int, store: Store) -> str:
    if alarm < store.load().next_alarm:
        return f"alarm {alarm} is over, so there is nothing to answer; `vermistat why {alarm}` tells its story"
    return f"no alarm has had the number {alarm} so far; `vermistat alarms` lists those that stand"


def who_asks(rules: Rules, who: str | None) -> str:
    """Who somebody is: by the name they give, else where there can be no doubt. Raises RequestError."""
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


def _nearest(name: str, known: Collection[str]) -> str:
    near = get_close_matches(name, known, n=1)
    return f"did you mean {near[0]}?" if near else f"known are {', '.join(known)}"
