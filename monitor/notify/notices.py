"""What is told to whom, and the reason for each told and each not told."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from monitor.alarms.cycle import Transition
from monitor.readings import Millis


class Slot(StrEnum):
    """When, and so why, a notice was written."""

    AT_ONCE = "at once"
    EVENING = "evening"
    MORNING = "morning"
    NIGHT = "woken"
    PASSED_ON = "passed on"
    LIFE = "sign of life"
    WEEK = "the week"


def _answers(alarms: tuple[int, ...]) -> list[str]:
    """A message is all that a keeper has in hand: without the number nobody could answer it."""
    if not alarms:
        return []
    first, *more = dict.fromkeys(alarms)
    named = f"Alarms {', '.join(map(str, (first, *more)))}" if more else f"Alarm {first}"
    number = "NUMBER" if more else str(first)
    return [f"{named}: `vermistat seen {number}`; why: `vermistat why {number}`."]


@dataclass(frozen=True, slots=True)
class Notice:
    """One message to one person about one place. `lines` as the keeper reads them.

    Line 1 at most 90 characters: bin, act, by when. Line 2: why, in numbers. Line 3: the one caution that
    fits. `more` stands behind "why?". `number` is given by `judge` and never used again.
    """

    number: int
    person: str
    place: str
    channels: tuple[str, ...]
    at: Millis
    lines: tuple[str, ...]
    more: tuple[str, ...]
    alarms: tuple[int, ...]
    woke: bool = False
    slot: Slot = Slot.AT_ONCE

    @property
    def title(self) -> str:
        """The first line."""
        return self.lines[0]

    @property
    def body(self) -> str:
        """Everything after the first line, and last how to answer and where the rest stands."""
        return "\n".join([*self.lines[1:], *_answers(self.alarms)])


class Verdict(StrEnum):
    """Told now, held until somebody is up, or not told at all."""

    TOLD = "told"
    HELD = "held"
    WITHHELD = "not told"


@dataclass(frozen=True, slots=True)
class Decision:
    """Why a person was, or was not, told of one step of one alarm."""

    at: Millis
    person: str
    alarm: int
    event: str
    verdict: Verdict
    reason: str
    until: Millis | None = None
    notice: int | None = None


@dataclass(frozen=True, slots=True)
class Untold:
    """A step that a person has still to hear of; a queue per person and place.

    A past episode, which no alarm tells of, waits as a RETURNED of number 0 with `began`.
    """

    person: str
    place: str
    transition: Transition
    began: Millis | None = None


class Posted(StrEnum):
    """Where one notice stands on one address."""

    WAITING = "waiting"
    SENT = "sent"
    GIVEN_UP = "given up"


@dataclass(frozen=True, slots=True)
class Post:
    """One notice on one address: the unit of sending. `tries` so far, `next_try` by the beds' clock."""

    notice: Notice
    channel: str
    state: Posted = Posted.WAITING
    tries: int = 0
    next_try: Millis = 0
    last_error: str = ""
    sent_at: Millis | None = None
