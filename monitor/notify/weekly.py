"""When somebody's week is told: once, in the morning of a Monday unless the settings say otherwise.

It is decided as everything else that is told: by moments that are remembered, so that a restart changes nothing. What the
week says is written when it is sent (`reports`): a round has no time to read a week of readings.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, time, timedelta

from monitor import words
from monitor.advice.daytime import moment
from monitor.notify.desk import Desk
from monitor.notify.duty import away_until
from monitor.notify.hours import sleeping
from monitor.notify.notices import Notice, Slot
from monitor.readings import HOUR, Millis
from monitor.rules import Person, Rules, Weekly

WITHIN: Millis = 26 * HOUR
"""So long one that was missed is still told: a day, and the morning after it (proposal)."""

USUAL = time(7, 30)
"""When it is told to somebody who has no hours (proposal)."""

_DAYS = range(-8, 2)


@dataclass(frozen=True, slots=True)
class Due:
    """A week that begins with the Monday `first`, to be told since `at`; `missed` when that is too long ago."""

    person: str
    channels: tuple[str, ...]
    at: Millis
    first: date
    missed: bool = False


def week_before(at: Millis, tz: str) -> date:
    """The Monday of the newest week that is over."""
    today = words.local(at, tz).date()
    return today - timedelta(days=today.weekday() + 7)


def seven_days(first: date, tz: str) -> tuple[Millis, ...]:
    """The eight midnights of a week: 167 or 169 hours where the clocks change."""
    return tuple(moment(first + timedelta(days=n), time(), tz) for n in range(8))


def due(rules: Rules, decided: Mapping[str, Millis], now: Millis) -> Iterator[Due]:
    """What is to be told, or counts as missed, in order of its moment; `decided` says by person which moment came last.

    While somebody sleeps or is away nothing of theirs is due: it waits until they are there, as long as it is not missed.
    """
    tz = rules.site.timezone
    for person in rules.people.values():
        there = not sleeping(person, now, tz) and away_until(person, now, tz) is None
        for at, channels in sorted(_moments(person, rules, now).items()):
            before = decided.get(person.id)
            if before is not None and at <= before <= now:
                continue
            missed = now > _ends(at, tz)
            if there or missed:
                yield Due(person.id, channels, at, week_before(at, tz), missed)


def _ends(at: Millis, tz: str) -> Millis:
    """Until when one is told: never when another week is over by then."""
    today = words.local(at, tz).date()
    return min(at + WITHIN, moment(today + timedelta(days=7 - today.weekday()), time(), tz) - 1)


def _moments(person: Person, rules: Rules, now: Millis) -> dict[Millis, tuple[str, ...]]:
    """The newest moment of each of a person's channels that tells the week, with those that share it."""
    found: dict[Millis, tuple[str, ...]] = {}
    for channel in person.channels:
        if (weekly := rules.weekly.get(channel)) is not None:
            at = max(one for one in _of_weeks(weekly, person, now, rules.site.timezone) if one <= now)
            found[at] = (*found.get(at, ()), channel)
    return found


def _of_weeks(weekly: Weekly, person: Person, now: Millis, tz: str) -> Iterator[Millis]:
    today = words.local(now, tz).date()
    clock = weekly.clock or person.up or USUAL
    for n in _DAYS:
        day = today + timedelta(days=n)
        if day.weekday() == weekly.weekday:
            yield moment(day, clock, tz)


def next_moments(rules: Rules, after: Millis) -> Iterator[Millis]:
    """The next time at which each person's week is due, for clocks that are moved by hand."""
    tz = rules.site.timezone
    for person in rules.people.values():
        for weekly in {rules.weekly[c] for c in person.channels if c in rules.weekly}:
            later = (at for n in (0, 7) for at in _of_weeks(weekly, person, after + n * 24 * HOUR, tz))
            yield min(at for at in later if at > after)


def tell_weeks(desk: Desk, heard: Mapping[date, bool]) -> None:
    """A notice for each week that is due. `heard` says of each week (by its Monday) whether there is any reading of it:
    one without is told to nobody; one that is not in it is left for the next round.
    """
    if desk.clock_unsure:
        return
    for one in list(due(desk.rules, desk.weeks, desk.now)):
        if not one.missed and one.first not in heard:
            continue
        desk.weeks[one.person] = one.at
        if not one.missed and heard[one.first]:
            desk.notices.append(_notice(desk, one))
            desk.next_notice += 1


def _notice(desk: Desk, one: Due) -> Notice:
    lines = (
        f"{desk.rules.site.name}: the week of {words.week_days(one.first)}.",
        "How each bin was, and what to look at next.",
        f"`vermistat week --of {one.first}` shows it again.",
    )
    return Notice(desk.next_notice, one.person, "", one.channels, desk.now, lines, (), (), slot=Slot.WEEK)
