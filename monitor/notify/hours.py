"""When somebody sleeps, by their own clock: right over both changes of the clocks (RFC 5545 section 3.3.5)."""

from __future__ import annotations

from datetime import date, time, timedelta
from functools import lru_cache

from monitor.advice.daytime import moment
from monitor.readings import Millis
from monitor.rules import Person
from monitor.words import local

_DAYS_AROUND = range(-2, 3)


def sleeping(person: Person, now: Millis, tz: str) -> bool:
    """Whether it is between the person's `evening` and `up`. `up` itself is awake; without both nobody sleeps."""
    return any(start <= now < end for start, end in _nights(person, now, tz))


def next_up(person: Person, now: Millis, tz: str) -> Millis:
    """When the person next gets up: the end of this night, or of the coming one. Without hours: now."""
    return min((end for start, end in _nights(person, now, tz) if end > now), default=now)


Nights = tuple[tuple[Millis, Millis], ...]


def _nights(person: Person, now: Millis, tz: str) -> Nights:
    evening, up = person.evening, person.up
    if evening is None or up is None or evening == up:
        return ()
    return _around(local(now, tz).date(), evening, up, tz)


@lru_cache(maxsize=256)
def _around(today: date, evening: time, up: time, tz: str) -> Nights:
    """The nights around a day, from `evening` to the first `up` after it on the clock.

    An evening after midnight ("00:30", up "08:00") begins on the date it ends on. A night that a change of the
    clocks leaves nothing of is none.
    """
    found = []
    for shift in _DAYS_AROUND:
        day = today + timedelta(days=shift)
        start = moment(day, evening, tz)
        end = moment(day if up > evening else day + timedelta(days=1), up, tz)
        if start < end:
            found.append((start, end))
    return tuple(found)
