"""Two keepers who read their post and do what it asks, each in their own time. Invented throughout."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from monitor.advice.acts import Act, Order
from monitor.advice.daytime import next_of
from monitor.notify.notices import Notice
from monitor.notify.text import may
from monitor.readings import DAY, HOUR, MINUTE, Millis
from monitor.rules import Person
from monitor.simulator.month import MAT_DIES, START

DOZES = (START + (MAT_DIES - 1) * DAY + 21 * HOUR, START + MAT_DIES * DAY + 6 * HOUR)
"""The night in which ana does not hear her phone."""


@dataclass(frozen=True, slots=True)
class Reply:
    """What somebody answers to an alarm, when, and what they do in the bed (`month.DEEDS`)."""

    at: Millis
    who: str
    what: str
    alarm: int
    note: str
    deed: str | None = None


@dataclass(frozen=True, slots=True)
class _Way:
    what: str
    after: Millis
    note: str
    deed: str | None = None


_WAYS: dict[Act, _Way] = {
    Act.MAT_ON: _Way("done", 30 * MINUTE, "the mat is on and warm", "mat"),
    Act.MAT_CHECK: _Way("done", 30 * MINUTE, "the mat is on and warm", "mat"),
    Act.MAT_OFF: _Way("done", 20 * MINUTE, "the mat is off", "mat off"),
    Act.INSULATE: _Way("done", 25 * MINUTE, "two blankets round it"),
    Act.WATER: _Way("done", 0, "three litres in three pours", "water"),
    Act.DAMPEN: _Way("done", 40 * MINUTE, "three litres in three pours", "water"),
    Act.FEED_LESS: _Way("seen", 20 * MINUTE, "half rations"),
    Act.PROBE_CHECK: _Way("seen", 20 * MINUTE, "the chip is dead, a new one is on its way", "chip"),
}
_OTHER = _Way("seen", 20 * MINUTE, "")
CHIP_TAKES: Millis = 2 * DAY


def replies(notice: Notice, orders: Sequence[Order], person: Person, tz: str) -> Iterator[Reply]:
    """What a person answers to each alarm of a notice, by what is advised for it."""
    if person.id == "ana" and DOZES[0] <= notice.at < DOZES[1]:
        return
    for number in notice.alarms:
        mine = next(
            (o for o in orders if number in o.alarms and may(person, o) and o.target != "longbox-mat"), None
        )
        way = _WAYS.get(mine.act, _OTHER) if mine is not None else _OTHER
        at = notice.at + way.after
        if mine is not None and mine.act is Act.WATER:
            at = next_of((person.up,), after=notice.at, tz=tz) + HOUR if person.up else notice.at + HOUR
        yield Reply(at, person.id, way.what, number, way.note, None if way.deed == "chip" else way.deed)
        if way.deed == "chip":
            yield Reply(notice.at + CHIP_TAKES, person.id, "done", number, "a new chip", "chip")
