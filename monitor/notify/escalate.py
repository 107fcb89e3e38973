"""Harm that nobody answers goes on to whoever is next, there, and awake or worth waking. Nobody is asked twice.

A call begins when harm is told to somebody, and ends when the alarm is seen, put aside, over, or no longer harm. Where
nobody who is told first-hand can be woken for it, whoever stands in for them is asked at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from monitor.alarms.cycle import Alarm, State
from monitor.alarms.holds import shelf_key
from monitor.alarms.priority import CLIMATE
from monitor.notify.duty import away_until, chain, first_hand
from monitor.notify.ledger import Call
from monitor.readings import Millis
from monitor.rules import Level, Person, Rules

_CLIMATE = frozenset(condition for condition, _ in CLIMATE)


def waits(alarm: Alarm) -> bool:
    """Whether an alarm is harm that waits for somebody's eyes."""
    return (
        alarm.state is State.UNACKNOWLEDGED
        and alarm.level is Level.HARM
        and not alarm.suppressed
        and alarm.key.condition in _CLIMATE
    )


def standing(calls: Mapping[int, Call], alarms: Mapping[int, Alarm]) -> dict[int, Call]:
    """The calls about alarms that are still there; answered is each that no longer waits."""
    return {
        n: call if waits(alarm) else replace(call, answered=True)
        for n, call in calls.items()
        if (alarm := alarms.get(n)) is not None
    }


def asking(call: Call | None, alarm: Alarm, person: str, now: Millis) -> Call:
    """The call after somebody was asked; asked once more they are not counted twice."""
    if call is None or call.answered:
        return Call(alarm.number, shelf_key(alarm.key), ((person, now),))
    return call if call.asks(person) else replace(call, asked=(*call.asked, (person, now)))


@dataclass(frozen=True, slots=True)
class Next:
    """Whom to ask now, in whose place, and when those were asked: None when they could not be."""

    person: Person
    instead_of: Person
    asked_at: Millis | None


def next_for(
    alarm: Alarm, call: Call | None, rules: Rules, *, now: Millis, can_hear: Callable[[Person], bool]
) -> Next | None:
    """Whom to ask now about harm that waits; `can_hear` says whether somebody is awake, or worth waking."""
    call = None if call is None or call.answered else call
    for person, at in _unanswered(alarm, call, rules, now):
        found = next(_followers(person, call, rules, now=now, can_hear=can_hear), None)
        if found is not None:
            return Next(found, person, at)
    return None


def _unanswered(
    alarm: Alarm, call: Call | None, rules: Rules, now: Millis
) -> Iterator[tuple[Person, Millis | None]]:
    if call is None:
        yield from ((person, None) for person in first_hand(alarm.key.subject, rules, now))
        return
    for who, at in call.asked:
        person = rules.people.get(who)
        if person is not None and now - at >= person.after:
            yield person, at


def _followers(
    person: Person, call: Call | None, rules: Rules, *, now: Millis, can_hear: Callable[[Person], bool]
) -> Iterator[Person]:
    for one in chain(person, rules):
        if call is not None and call.asks(one.id):
            return  # what comes after them waits for their answer, not for this one's
        if one.channels and away_until(one, now, rules.site.timezone) is None and can_hear(one):
            yield one


def deadlines(calls: Mapping[int, Call], rules: Rules) -> Iterator[Millis]:
    """When the patience with each who was asked, and has not answered, is over."""
    for call in calls.values():
        asked = () if call.answered else call.asked
        yield from (at + rules.people[who].after for who, at in asked if who in rules.people)


def in_one_notice(found: Iterable[tuple[Alarm, Person]]) -> dict[tuple[str, str], list[Alarm]]:
    """What one person is asked about in one place, together."""
    grouped: dict[tuple[str, str], list[Alarm]] = {}
    for alarm, person in found:
        grouped.setdefault((person.id, alarm.key.subject.place), []).append(alarm)
    return grouped
