"""Which stretch of the past a picture shows, and into what it is cut: a day, a week, a month or a year of the site's own days."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from functools import lru_cache
from itertools import pairwise

from monitor import words
from monitor.charts import ticks
from monitor.errors import RequestError
from monitor.readings import HOUR, MINUTE, Millis

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
WEEK = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
FINE: Millis = 5 * MINUTE
"""How wide a column of a day is."""
FIRST, LAST = date(1971, 1, 1), date(2199, 1, 1)
"""Days that anybody can ask for: the years that readings may have (`history`)."""


class Period(StrEnum):
    """How much is shown at once."""

    DAY = "day"
    WEEK = "week"
    MONTH = "month"
    YEAR = "year"


DAYS = {Period.DAY: 1, Period.WEEK: 7, Period.MONTH: 30, Period.YEAR: 365}
"""Whole days of the site's clock, some of which have 23 or 25 hours."""
WHOLE = (Period.MONTH, Period.YEAR)
"""Periods whose columns begin at whole hours of UTC, as the summaries do."""


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table: a stretch and its words."""

    start: Millis
    end: Millis
    words: str


@dataclass(frozen=True, slots=True)
class Sight:
    """start <= time < end in the clock of `tz`.

    `edges` cut it into columns: of a day five minutes, of a week hours, of a month three hours, of a year days. Those of a
    month and a year begin at whole hours of UTC, which in time zones of half hours is up to 45 minutes early.
    `first` is the day it begins with, None for the last 24 hours; `newest` is whether it was asked for up to now.
    """

    period: Period
    tz: str
    start: Millis
    end: Millis
    edges: tuple[Millis, ...]
    first: date | None
    newest: bool = False

    @property
    def earlier(self) -> date:
        """The first day of what comes before."""
        day = self.first or words.local(self.start, self.tz).date()
        return max(FIRST, day - timedelta(days=DAYS[self.period] if self.first else 0))

    def later(self, now: Millis) -> date | None:
        """The first day of what comes after, None where that lies ahead of `now`."""
        if self.first is None or self.end > now:
            return None
        return self.first + timedelta(days=DAYS[self.period])

    @property
    def rows(self) -> list[Row]:
        """The table's lines: hours of a day, days of a week or month, months of a year."""
        if self.period is Period.DAY:
            starts = sorted({self.start, *ticks.hours(self.start, self.end, self.tz, every=1)})
            return [Row(a, b, words.clock_time(a, self.tz, a)) for a, b in pairwise([*starts, self.end])]
        starts = list(_days(self.start, self.end, self.tz))
        if self.period is Period.YEAR:
            starts = [at for at in starts if at == self.start or words.local(at, self.tz).day == 1]
        return [Row(a, b, self._said(a)) for a, b in pairwise([*starts, self.end])]

    def _said(self, at: Millis) -> str:
        day = words.local(at, self.tz).date()
        if self.period is Period.YEAR:
            since = f" from the {day.day}." if day.day != 1 else ""
            return f"{MONTHS[day.month - 1]} {day.year}{since}"
        return f"{WEEK[day.weekday()]} {day.day} {MONTHS[day.month - 1]}"

    @property
    def words(self) -> str:
        """What is shown: "Wed 25 Nov 2026", "Thu 19 Nov to Wed 25 Nov 2026", "24 hours to 25 Nov 14:00"."""
        if self.first is None:
            return (
                f"24 hours to {words.clock_time(self.end, self.tz, self.end)} on {words.day_of(self.end, self.tz)}"
            )
        last = words.day_of(self.end - 1, self.tz)
        if self.period is Period.DAY:
            return last
        first = words.day_of(self.start, self.tz)
        year = f" {words.local(self.end - 1, self.tz).year}"
        return f"{first.removesuffix(year)} to {last}"

    @property
    def times(self) -> list[tuple[Millis, str]]:
        """What stands along the foot of a picture."""
        if self.period is Period.DAY:
            found = ticks.hours(self.start, self.end, self.tz, every=3)
            return [(at, words.hours(words.local(at, self.tz), self.tz)) for at in found]
        days = [(at, words.local(at, self.tz).date()) for at in _days(self.start, self.end, self.tz)]
        if self.period is Period.WEEK:
            return [(at, f"{WEEK[day.weekday()]} {day.day}") for at, day in days]
        if self.period is Period.MONTH:
            return [(at, f"{day.day} {MONTHS[day.month - 1]}") for at, day in days if day.weekday() == 0]
        firsts = [(at, day) for at, day in days if day.day == 1]
        return [(at, MONTHS[day.month - 1] + (f" {day.year}" if day.month == 1 else "")) for at, day in firsts]


@lru_cache(16)
def _days(start: Millis, end: Millis, tz: str) -> tuple[Millis, ...]:
    """Several bins are shown of one time; finding a year's midnights takes as long as reading its numbers."""
    return tuple(ticks.days(start, end, tz))


def sight(period: Period, now: Millis, tz: str, first: date | None = None) -> Sight:
    """What is seen of a period that begins with a day; of none given, up to now."""
    if first is None and period is Period.DAY:
        end = (now // HOUR + 1) * HOUR
        return Sight(period, tz, end - 24 * HOUR, end, tuple(range(end - 24 * HOUR, end + 1, FINE)), None, True)
    newest = first is None
    first = first or words.local(now, tz).date() - timedelta(days=DAYS[period] - 1)
    last = first + timedelta(days=DAYS[period])
    start, end = ticks.midnight(first, tz), ticks.midnight(last, tz)
    return Sight(period, tz, start, end, _edges(period, start, end, tz), first, newest)


def sight_of_days(days: int, now: Millis, tz: str) -> Sight:
    """So many days up to now: of up to a week cut into hours, of more into three hours."""
    if days <= DAYS[Period.WEEK]:
        return sight(Period.WEEK, now, tz)
    today = words.local(now, tz).date()
    first = today - timedelta(days=days - 1)
    start, end = ticks.midnight(first, tz), ticks.midnight(today + timedelta(days=1), tz)
    return Sight(Period.MONTH, tz, start, end, _edges(Period.MONTH, start, end, tz), first, newest=True)


def asked(period: str, first: str, now: Millis, tz: str) -> Sight:
    """What somebody asks to see in words, such as "week" and "2026-11-19"; empty is the week up to now. Raises RequestError."""
    try:
        which = Period(period or "week")
    except ValueError:
        raise RequestError(f"a picture shows a {words.joined(list(Period))}, no {period}") from None
    if not first:
        return sight(which, now, tz)
    try:
        day = date.fromisoformat(first)
    except ValueError:
        raise RequestError(f"{first} is no day; write it like 2026-11-19") from None
    if not FIRST <= day <= LAST:
        raise RequestError(f"no bed has anything from {first}; ask for a day from 1971 to 2198")
    return sight(which, now, tz, day)


@lru_cache(16)
def _edges(period: Period, start: Millis, end: Millis, tz: str) -> tuple[Millis, ...]:
    if period is Period.DAY:
        return tuple(sorted({*range(start, end, FINE), end}))
    days = _days(start, end, tz)
    if period is Period.WEEK:
        return tuple(sorted({start, end, *days, *range(-(-start // HOUR) * HOUR, end, HOUR)}))
    inner = days if period is Period.YEAR else ticks.hours(start, end, tz, every=3)
    return tuple(sorted({at // HOUR * HOUR for at in [start, *inner, end]}))
