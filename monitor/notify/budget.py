"""How much post somebody gets, counted against what we mean to need. A measure, never a cap: no harm is withheld for it."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from monitor.notify.hours import next_up, sleeping
from monitor.notify.notices import Notice, Slot
from monitor.readings import DAY, Millis
from monitor.rules import Person
from monitor.words import local

A_DAY, IN_A_DAY_AND_NIGHT, A_NIGHT = 1, 6, 1
"""At most so many notices: a day in steady state, in any 24 hours, in one person's hours of sleep (proposals)."""


@dataclass(frozen=True, slots=True)
class Count:
    """One person's post over some days; signs of life, which were asked for, are not counted."""

    person: str
    days: int
    notices: int
    most_in_24_h: int
    most_in_a_night: int
    woken: int
    a_day: Mapping[str, int]
    """By local day (ISO), where there was any."""

    @property
    def kept(self) -> bool:
        """Whether the two bounds that hold for every day are kept."""
        return self.most_in_24_h <= IN_A_DAY_AND_NIGHT and self.most_in_a_night <= A_NIGHT

    @property
    def mean(self) -> float:
        """Notices a day."""
        return self.notices / self.days if self.days else 0.0


def counted(person: Person, post: Iterable[Notice], *, days: int, tz: str) -> Count:
    """A person's post of so many days."""
    mine = [n for n in post if n.person == person.id and n.slot is not Slot.LIFE]
    times = sorted(n.at for n in mine)
    woken = [n.at for n in mine if _in_sleep(person, n, tz)]
    nights = Counter(next_up(person, at, tz) for at in woken)
    return Count(
        person=person.id,
        days=days,
        notices=len(mine),
        most_in_24_h=max((_within_a_day(times, i) for i in range(len(times))), default=0),
        most_in_a_night=max(nights.values(), default=0),
        woken=len(woken),
        a_day=Counter(local(at, tz).date().isoformat() for at in times),
    )


def _within_a_day(times: list[Millis], first: int) -> int:
    return bisect_left(times, times[first] + DAY) - first


def _in_sleep(person: Person, notice: Notice, tz: str) -> bool:
    """The evening's own notice is what somebody goes to bed with."""
    return notice.slot is not Slot.EVENING and sleeping(person, notice.at, tz)


def sentence(count: Count) -> str:
    """One person's counts beside what they are measured by."""
    busiest = max(count.a_day.values(), default=0)
    return (
        f"{count.person}: {count.notices} in {count.days} days, {count.mean:.2f} a day (budget {A_DAY} in steady state; the "
        f"fullest day had {busiest}); at most {count.most_in_24_h} in 24 hours (budget {IN_A_DAY_AND_NIGHT}), at most "
        f"{count.most_in_a_night} in one night's sleep (budget {A_NIGHT}), woken {count.woken} times."
    )
