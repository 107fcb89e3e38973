"""What telling remembers between rounds: which slots were decided, which acts were said, which nights were alike, who was
called for harm. Kept as standing documents, so that a restart changes nothing.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from monitor.advice.acts import Order
from monitor.readings import Millis

Queue = tuple[str, str]
"""A person and a place."""
Value = TypeVar("Value")


@dataclass(frozen=True, slots=True)
class Said:
    """One act as a person has last read of it: when, whether it hurried, and for which alarms."""

    at: Millis
    urgent: bool
    alarms: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Habit:
    """A condition that comes on every night, or never goes: `nights` of them, the newest `last` (ISO day), from
    noon to noon. `acts` is what there was to do in earlier nights, `tonight` in the newest. `worst` is the furthest
    value of earlier nights and `low` that of the newest; `told` when each person was last reminded of it.
    """

    nights: int
    last: str
    place: str
    bound: float | None = None
    acts: tuple[str, ...] = ()
    tonight: tuple[str, ...] = ()
    worst: float | None = None
    low: float | None = None
    words: str = ""
    caution: str = ""
    set_to: tuple[float, ...] = ()
    told: tuple[tuple[str, Millis], ...] = ()


@dataclass(frozen=True, slots=True)
class Call:
    """Harm that waits, or waited, for somebody's eyes: who was asked, in turn, and when."""

    alarm: int
    about: str
    """The alarm's key, as `alarms.holds.shelf_key` writes it."""
    asked: tuple[tuple[str, Millis], ...]
    answered: bool = False

    def asks(self, person: str) -> bool:
        """Whether a person was asked."""
        return any(who == person for who, _ in self.asked)


@dataclass(frozen=True, slots=True)
class Ledger:
    """All of it. `evenings`, `mornings`, `lives` (signs of life) and `weeks`: by person, the last such moment decided. `said` by
    queue and by act (`act_key`), `habits` by `alarms.holds.shelf_key`, `calls` by alarm number.
    """

    evenings: Mapping[str, Millis] = field(default_factory=dict)
    mornings: Mapping[str, Millis] = field(default_factory=dict)
    lives: Mapping[str, Millis] = field(default_factory=dict)
    weeks: Mapping[str, Millis] = field(default_factory=dict)
    said: Mapping[Queue, Mapping[str, Said]] = field(default_factory=dict)
    habits: Mapping[str, Habit] = field(default_factory=dict)
    calls: Mapping[int, Call] = field(default_factory=dict)


EMPTY = Ledger()
NOTHING_SAID = Said(0, urgent=False, alarms=())


def act_key(order: Order) -> str:
    """An act on a target, as it is remembered."""
    return f"{order.act}/{order.target}"


def _times(kept: Mapping[str, str]) -> dict[str, Millis]:
    return {key.partition(":")[2]: json.loads(body) for key, body in kept.items()}


def _said_of(body: str) -> dict[str, Said]:
    return {act: Said(at, urgent, tuple(alarms)) for act, (at, urgent, alarms) in json.loads(body).items()}


def _said_text(said: Mapping[str, Said]) -> str:
    return json.dumps({act: [one.at, one.urgent, one.alarms] for act, one in said.items()})


def _queue(key: str) -> Queue:
    person, _, place = key.partition(":")[2].partition("/")
    return person, place


def _habit_of(body: str) -> Habit:
    found: dict[str, Any] = json.loads(body)
    lists = {k: tuple(found[k]) for k in ("acts", "tonight", "set_to")}
    return Habit(**{**found, **lists, "told": tuple((who, at) for who, at in found["told"])})


def _habit_text(habit: Habit) -> str:
    return json.dumps({name: getattr(habit, name) for name in Habit.__slots__}, ensure_ascii=False)


def _call_of(key: str, body: str) -> Call:
    alarm, asked, answered = json.loads(body)
    return Call(alarm, key, tuple((who, at) for who, at in asked), answered)


def _call_text(call: Call) -> str:
    return json.dumps([call.alarm, call.asked, call.answered])


def _by_key(calls: Mapping[int, Call]) -> dict[str, Call]:
    return {call.about: call for call in calls.values()}


def ledger_of(kept: Mapping[str, Mapping[str, str]]) -> Ledger:
    """The ledger of the documents of a store, by kind and key."""
    return Ledger(
        evenings=_times(kept.get("evening", {})),
        mornings=_times(kept.get("morning", {})),
        lives=_times(kept.get("life", {})),
        weeks=_times(kept.get("week", {})),
        said={_queue(key): _said_of(body) for key, body in kept.get("said", {}).items()},
        habits={key: _habit_of(body) for key, body in kept.get("habit", {}).items()},
        calls={c.alarm: c for key, body in kept.get("call", {}).items() for c in (_call_of(key, body),)},
    )


_MOMENTS = (("evening", "evenings"), ("morning", "mornings"), ("life", "lives"), ("week", "weeks"))


def changes(before: Ledger, after: Ledger) -> Iterator[tuple[str, str, str | None]]:
    """The documents that are other now: kind, key and body; None for one that goes."""
    if before is after:
        return
    for kind, name in _MOMENTS:
        yield from _changed(
            kind, getattr(before, name), getattr(after, name), key="person:{}".format, text=json.dumps
        )
    yield from _changed("said", before.said, after.said, key=lambda q: f"person:{q[0]}/{q[1]}", text=_said_text)
    yield from _changed("habit", before.habits, after.habits, key=str, text=_habit_text)
    yield from _changed("call", _by_key(before.calls), _by_key(after.calls), key=str, text=_call_text)


def _changed(
    kind: str,
    before: Mapping[Any, Value],
    after: Mapping[Any, Value],
    *,
    key: Callable[[Any], str],
    text: Callable[[Value], str],
) -> Iterator[tuple[str, str, str | None]]:
    yield from ((kind, key(k), text(one)) for k, one in after.items() if before.get(k) != one)
    yield from ((kind, key(k), None) for k in before if k not in after)
