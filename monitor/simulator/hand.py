"""The invented keeper's hand: does what the notices ask, keeps to habits, and writes both down as any keeper would.

Reads the post out of the store and leaves answers and diary entries there, for the next round to take up.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from monitor.advice.acts import Act, Advice, Order
from monitor.advice.daytime import next_of
from monitor.jotting import jot
from monitor.notify.notices import Notice
from monitor.notify.text import may
from monitor.readings import HOUR, MINUTE, Millis
from monitor.rules import Person, Rules
from monitor.simulator.weeks import Habit
from monitor.store.promises import Store

Done = Callable[[Millis, str], None]
"""Is told when something was done, and what, in words."""


@dataclass(frozen=True, slots=True)
class Way:
    """How an order is answered: `what`, how long after, in which words, and by what deed in the beds."""

    what: str
    after: Millis
    note: str
    deed: str | None = None


WAYS: Mapping[tuple[Act, str], Way] = {
    (Act.MAT_ON, "tub-mat"): Way("done", 20 * MINUTE, "the mat is on and warm", "mat on"),
    (Act.MAT_CHECK, "longbox-mat"): Way(
        "done", 45 * MINUTE, "its cable was broken, a new mat lies there", "mat new"
    ),
    (Act.WATER, "longbox"): Way("done", 0, "watered in three pours", "water"),
    (Act.DAMPEN, "longbox"): Way("done", 30 * MINUTE, "watered in three pours", "water"),
}
"""By what is asked and of which mat or bin."""
READ = Way("seen", 20 * MINUTE, "")


@dataclass(frozen=True, slots=True)
class _Due:
    at: Millis
    alarm: int
    way: Way


class Hand:
    """One person who reads their post. `do` moves the beds; `advice` is what stands, by place."""

    def __init__(self, rules: Rules, person: str, *, do: Callable[[str], None], habits: Sequence[Habit]) -> None:
        self._rules, self._person, self._do = rules, rules.people[person], do
        self._habits = list(habits)
        self._due: list[_Due] = []
        self._read = 0
        self.post = 0

    def next(self) -> Millis | None:
        """When something is to be done next."""
        return min([*(d.at for d in self._due), *(h.at for h in self._habits[:1])], default=None)

    def look(self, store: Store, advice: Mapping[str, Advice], now: Millis, done: Done | None = None) -> None:
        """What is due by now is done, and new post is read."""
        while self._habits and self._habits[0].at <= now:
            habit = self._habits.pop(0)
            self._do(habit.deed)
            jot(store, self._rules, words=[habit.words], who=self._person.id, when=None, corrects=None, at=now)
            if done is not None:
                done(now, f"writes: {habit.words}")
        for due in [d for d in self._due if d.at <= now]:
            self._due.remove(due)
            self._answer(store, due, now, done)
        self._takes_up(store, advice)

    def _answer(self, store: Store, due: _Due, now: Millis, done: Done | None) -> None:
        if store.heard_of(due.alarm) is None:
            return
        if due.way.deed is not None:
            self._do(due.way.deed)
        store.ask(now, self._person.id, due.way.what, due.alarm, due.way.note)
        if done is not None and due.way.what == "done":
            done(now, f"answers alarm {due.alarm}: done, {due.way.note}")

    def _takes_up(self, store: Store, advice: Mapping[str, Advice]) -> None:
        mine = {p.notice.number: p.notice for p in store.notices(20) if p.notice.person == self._person.id}
        for number in sorted(n for n in mine if n > self._read):
            self._read, self.post = number, self.post + 1
            there = advice.get(mine[number].place)
            self._due += _replies(mine[number], there.orders if there else (), self._person, self._rules)


def _replies(notice: Notice, orders: Sequence[Order], person: Person, rules: Rules) -> list[_Due]:
    found, deeds = [], set()
    for number in notice.alarms:
        way, at = READ, notice.at + READ.after
        for order in orders:
            one = WAYS.get((order.act, order.target))
            if one is not None and number in order.alarms and may(person, order):
                morning = (
                    next_of((person.up,), after=notice.at, tz=rules.site.timezone) if person.up else notice.at
                )
                way, at = one, notice.at + one.after if one.after else morning + 2 * HOUR
                if one.deed in deeds:
                    way = Way(one.what, one.after, one.note)
                deeds.add(one.deed)
                break
        found.append(_Due(at, number, way))
    return found
