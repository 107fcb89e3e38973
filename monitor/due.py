"""When a round is due although nothing is heard: for clocks that are moved by hand, and for going over the past."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from monitor.checks.memory import ProbeMemory, nothing_of, silence
from monitor.checks.probes import deadline
from monitor.judge import REFRESH, Book, Stood
from monitor.notify.escalate import deadlines
from monitor.notify.evening import moments
from monitor.notify.weekly import next_moments
from monitor.readings import Millis
from monitor.rules import Rules


def next_deadline(stood: Stood, book: Book, *, after: Millis, before: Millis) -> Millis | None:
    """The next time between the two at which somebody's evening or morning comes, an answer to harm has been waited
    for in vain, a shelf or a work ends, or a probe has been silent, or without a good reading, for too long.
    """
    due = (*slots(stood, book, after), *silences(stood.memory, stood.known_since, book))
    return min((at for at in due if after < at < before), default=None)


def slots(stood: Stood, book: Book, after: Millis) -> Iterator[Millis]:
    """When something is due that people have to do with: their hours, calls in vain, what they put aside."""
    yield from hours(book.rules, after)
    yield from given(stood, book.rules)


def hours(rules: Rules, after: Millis) -> Iterator[Millis]:
    """When the next hour of each person comes, and the next week is told: always the same until it has come."""
    for person in rules.people.values():
        yield from moments(person, after, rules.site.timezone)
    yield from next_moments(rules, after)


def given(stood: Stood, rules: Rules) -> Iterator[Millis]:
    """When a call has been in vain for too long, and when what somebody put aside or works on is over."""
    yield from deadlines(stood.ledger.calls, rules)
    yield from (s.until for s in stood.shelves.values())
    yield from (w.until for w in stood.works.values())


def silences(memory: Mapping[str, ProbeMemory], known_since: Mapping[str, Millis], book: Book) -> Iterator[Millis]:
    """When each probe that says nothing more counts as silent, and when one that nobody believes has been without a good
    reading for as long; nothing of those that nobody waits for.
    """
    for id_, probe in book.probes.items():
        kept, begin = memory.get(id_) or nothing_of(probe), known_since.get(id_)
        at = deadline(probe, kept, begin)
        if at is not None:
            yield at
        if kept.untrusted_since is not None and (good := kept.trusted_at or begin) is not None:
            yield good + silence(probe, kept if kept.trusted_at is not None else nothing_of(probe))


def refreshed_at(stood: Stood) -> Iterator[Millis]:
    """When each standing advice is made anew."""
    places = {a.key.subject.place for a in stood.alarms.values() if a.advised}
    yield from (a.valid_until - REFRESH for place, a in stood.advice.items() if place in places)
