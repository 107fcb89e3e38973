"""Times of day on the keeper's clock as moments, right over both changes of the clocks."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from monitor.readings import HOUR, SECOND, Millis
from monitor.words import local

MORNING = time(10)
"""Watering is done by then: the bed has the day to settle and warm (proposal)."""

EVENING = time(20)
"""What can wait, but not over the night, is done by then (proposal)."""


@lru_cache(maxsize=1024)
def moment(day: date, clock: time, tz: str) -> Millis:
    """A local date and time of day as UTC ms, by RFC 5545 section 3.3.5.

    A time that does not exist because clocks go forward is read with the offset from before the gap; of
    one that happens twice because they go back, the first counts.
    """
    # fold=0 is both of these rules (PEP 495)
    wall = datetime.combine(day, clock.replace(fold=0, tzinfo=None), ZoneInfo(tz))
    return round(wall.timestamp() * SECOND)


def next_of(clocks: Iterable[time], *, after: Millis, tz: str) -> Millis:
    """The first moment after `after` at which a local clock shows one of these times of day."""
    today = local(after, tz).date()
    times = tuple(clocks)
    moments = (moment(today + timedelta(days=n), clock, tz) for n in (-1, 0, 1, 2) for clock in times)
    return min(at for at in moments if at > after)


def before_the_night(since: Millis, tz: str) -> Millis:
    """By when something that does not hurry is done: the next morning or evening at least two hours on."""
    return next_of((MORNING, EVENING), after=since + 2 * HOUR, tz=tz)


def next_morning(since: Millis, tz: str) -> Millis:
    """By when a bed is watered."""
    return next_of((MORNING,), after=since, tz=tz)
