"""The two slots of a day: `evening`, when the night is decided, and `up`, when what waited is told.

What stands and matters tonight is told at `evening` in one notice for a place. What must be done before the next slot is
told when it happens; everything else waits for the slot that it belongs to, and like things wait together.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import time, timedelta

from monitor.advice.acts import AT_NIGHT, Order
from monitor.advice.daytime import moment, next_of
from monitor.alarms.cycle import Alarm
from monitor.checks.findings import Condition
from monitor.notify.hours import next_up
from monitor.readings import MINUTE, Millis
from monitor.rules import Level, Person
from monitor.words import local

LATE: Millis = 30 * MINUTE
"""An evening that is decided later than this (the daemon was down) is told by the wake rule alone (proposal)."""

USUAL = time(20)
"""When somebody without hours of their own is reminded of what goes on for long (proposal)."""

BLIND = frozenset(
    {
        Condition.UNWATCHED,
        Condition.BROKER_LOST,
        Condition.STORE_FAILING,
        Condition.NOTICES_FAILING,
        Condition.CLOCK_UNSURE,
        Condition.STEP_FAILED,
    }
)
"""While one of these stands, nobody would be told of harm in the night: worth a look before it."""

_DAYS = (-2, -1, 0, 1)


def last_evening(person: Person, now: Millis, tz: str) -> Millis:
    """The newest moment up to now at which the person's night is decided."""
    return _last(person.evening or USUAL, now, tz)


def last_up(person: Person, now: Millis, tz: str) -> Millis | None:
    """When the person last got up; None for somebody who never sleeps."""
    if person.evening is None or person.up is None or person.evening == person.up:
        return None
    return _last(person.up, now, tz)


def next_evening(person: Person, after: Millis, tz: str) -> Millis:
    """The first moment after `after` at which the person's night is decided."""
    return next_of((person.evening or USUAL,), after=after, tz=tz)


def _last(clock: time, now: Millis, tz: str) -> Millis:
    today = local(now, tz).date()
    return max(at for n in _DAYS if (at := moment(today + timedelta(days=n), clock, tz)) <= now)


def daily(clock: time, now: Millis, tz: str) -> Millis:
    """The newest moment up to now at which a local clock showed this time of day."""
    return _last(clock, now, tz)


def moments(person: Person, after: Millis, tz: str) -> Iterator[Millis]:
    """The next times at which something is decided for a person although nothing is heard: their slots, and a sign of
    life.
    """
    yield next_evening(person, after, tz)
    if has_hours(person):
        yield next_up(person, after, tz)
    if person.sign_of_life is not None:
        yield next_of((person.sign_of_life,), after=after, tz=tz)


def has_hours(person: Person) -> bool:
    """Whether the person sleeps at all, as far as the settings say."""
    return person.evening is not None and person.up is not None and person.evening != person.up


def slot_after(person: Person, at: Millis, tz: str, *, tonight: bool) -> Millis:
    """When something that can wait is told: by the next evening if it matters tonight, else at the next `up`."""
    up = next_up(person, at, tz)
    return min(up, next_evening(person, at, tz)) if tonight else up


def harm_before(alarm: Alarm, until: Millis, outlook: Mapping[str, Millis]) -> bool:
    """Whether harm is likely in the bin of an alarm before `until`.

    `outlook` says by bin when harm is expected; it is empty as long as no bed has learned to forecast. Then harm is
    likely when the harm band is entered.
    """
    expected = outlook.get(alarm.key.subject.bed)
    return alarm.level is Level.HARM or (expected is not None and expected < until)


def matters_tonight(alarm: Alarm | None, orders: tuple[Order, ...]) -> bool:
    """Whether something is decided before the night: harm, something worth doing tonight, mats that may be off since the
    power was, or blindness.
    """
    if alarm is None:
        return False
    if alarm.level is Level.HARM or alarm.key.condition in BLIND | {Condition.POWER_BACK}:
        return True
    return any(alarm.number in order.alarms and order.act in AT_NIGHT for order in orders)
