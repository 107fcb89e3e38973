"""When a round is due although nothing is heard: for clocks that are moved by hand, and for going over the past."""

from __future__ import annotations

from collections.abc import Iterator

from monitor.checks.memory import nothing_of
from monitor.checks.probes import deadline
from monitor.judge import REFRESH, Book, Stood
from monitor.notify.escalate import deadlines
from monitor.notify.evening import moments
from monitor.notify.weekly import next_moments
from monitor.readings import Millis
from monitor.rules import Probe


def next_deadline(stood: Stood, book: Book, *, after: Millis, before: Millis) -> Millis | None:
    """The next time between the two at which somebody's evening or morning comes, an answer to harm has been waited
    for in vain, a shelf or a work ends, or a probe has been silent for too long.
    """
    due = (at for at in _deadlines(stood, book, after) if after < at < before)
    return min(due, default=None)


def _deadlines(stood: Stood, book: Book, after: Millis) -> Iterator[Millis]:
    rules = book.rules
    for person in rules.people.values():
        yield from moments(person, after, rules.site.timezone)
    yield from next_moments(rules, after)
    yield from deadlines(stood.ledger.calls, rules)
    yield from (s.until for s in stood.shelves.values())
    yield from (w.until for w in stood.works.values())
    for probe in book.probes.values():
        if (at := silent_at(stood, probe)) is not None:
            yield at


def silent_at(stood: Stood, probe: Probe) -> Millis | None:
    """When a probe that says nothing more counts as silent; None when nobody waits for it."""
    memory = stood.memory.get(probe.id) or nothing_of(probe)
    return deadline(probe, memory, stood.known_since.get(probe.id))


def refreshed_at(stood: Stood) -> Iterator[Millis]:
    """When each standing advice is made anew."""
    places = {a.key.subject.place for a in stood.alarms.values() if a.advised}
    yield from (a.valid_until - REFRESH for place, a in stood.advice.items() if place in places)
