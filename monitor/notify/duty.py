"""Who hears of what, and who is there: whose turn it is to be told.

Somebody named as another's `then` stands in for them: told first-hand when they are away, and otherwise only of
harm that they do not answer (`notify.escalate`). What a stand-in's own `hears` names they hear of in any case. Where two
stand in for each other both are told first-hand. When everybody is away, harm still goes to the last of the chain.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, time, timedelta

from monitor import words
from monitor.advice.acts import Order
from monitor.advice.daytime import moment
from monitor.checks.findings import Kind, Subject
from monitor.readings import Millis
from monitor.rules import Person, Rules

_MIDNIGHT = time(0)


def hears(person: Person, subject: Subject, rules: Rules) -> bool:
    """Whether a person hears of a subject; the daemon's own troubles everybody hears of."""
    if person.hears is None or not subject.place:
        return True
    return subject.place in person.hears or bool(person.hears & _beds_of(subject, rules))


def hears_order(person: Person, place: str, order: Order, rules: Rules, now: Millis) -> bool:
    """Whether an order is about something that the person hears of, or stands in for now."""
    who = [person, *(p for p in before(person, rules) if away_until(p, now, rules.site.timezone) is not None)]
    return any(_order_for(one, place, order) for one in who)


def _order_for(person: Person, place: str, order: Order) -> bool:
    if person.hears is None or not place or place in person.hears or not order.bins:
        return True
    return bool(person.hears & set(order.bins))


def _beds_of(subject: Subject, rules: Rules) -> frozenset[str]:
    """The bins a subject is about: its own, those on a mat, those whose air a place's probe measures."""
    if subject.kind in (Kind.BIN, Kind.ZONE):
        return frozenset({subject.bed})
    if subject.kind is Kind.MAT:
        return (
            frozenset(bed for bed, _ in rules.mats[subject.id].warms) if subject.id in rules.mats else frozenset()
        )
    owners = {b.id for b in rules.bins.values() for z in b.zones for p in z.probes if p.id == subject.id}
    return frozenset(owners or {b.id for b in rules.bins.values() if b.place == subject.place})


# ── away ──────────────────────────────────────────────────────────────────────────────────────────────────────


def away_until(person: Person, now: Millis, tz: str) -> Millis | None:
    """When an absence ends in which `now` lies; None for somebody who is there.

    It runs from `up` of its first day (nobody leaves in the night before) to `up` of the day after its last.
    """
    ends = [end for begin, end in _absences(person, tz) if begin <= now < end]
    if not ends:
        return None
    end = max(ends)
    later = away_until(person, end, tz)  # one that follows without a night at home
    return later if later is not None else end


def _absences(person: Person, tz: str) -> Iterator[tuple[Millis, Millis]]:
    clock = person.up or _MIDNIGHT
    for first, last in person.away:
        yield moment(first, clock, tz), moment(_after(last), clock, tz)


def _after(day: date) -> date:
    return day if day == date.max else day + timedelta(days=1)


# ── whose turn ────────────────────────────────────────────────────────────────────────────────────────────────


def chain(person: Person, rules: Rules) -> tuple[Person, ...]:
    """Who follows a person, in turn; nobody twice, and not the person."""
    found: dict[str, Person] = {}
    then = person.then
    while then is not None and then != person.id and then not in found and then in rules.people:
        found[then] = rules.people[then]
        then = found[then].then
    return tuple(found.values())


def before(person: Person, rules: Rules) -> tuple[Person, ...]:
    """For whom a person stands in: all who come before them, but for those who stand in for them in turn."""
    mine = {one.id for one in chain(person, rules)}
    return tuple(
        other
        for other in rules.people.values()
        if other.id not in mine and other is not person and person in chain(other, rules)
    )


def not_their_turn(person: Person, subject: Subject, rules: Rules, now: Millis) -> str | None:
    """Why a person is not told of a subject first-hand, as a sentence; None when they are."""
    tz = rules.site.timezone
    end = away_until(person, now, tz)
    if end is not None:
        return f"{person.id} is away until {words.clock_time(end, tz, now)}."
    replaced = [one for one in before(person, rules) if hears(one, subject, rules)]
    there = next((one for one in replaced if away_until(one, now, tz) is None), None)
    named = person.hears is not None and hears(person, subject, rules)
    if named or (replaced and there is None):
        return None
    if there is not None:
        return f"{person.id} stands in for {there.id}, who is there."
    if not hears(person, subject, rules):
        return f"{person.id} hears only of {words.joined(sorted(person.hears or ()))}."
    return None


def first_hand(subject: Subject, rules: Rules, now: Millis) -> tuple[Person, ...]:
    """Who is told of a subject first-hand now."""
    return tuple(p for p in rules.people.values() if p.channels and not_their_turn(p, subject, rules, now) is None)


def last_resort(subject: Subject, rules: Rules, now: Millis) -> tuple[Person, ...]:
    """Who is told of harm when everybody who hears of it is away: the last of each chain. Empty while somebody is there."""
    if first_hand(subject, rules, now):
        return ()
    hearing = [p for p in rules.people.values() if hears(p, subject, rules)]
    found = [next((one for one in reversed((p, *chain(p, rules))) if one.channels), None) for p in hearing]
    return tuple({one.id: one for one in found if one is not None}.values())
