"""The alarm cycle of ISA-18.2 / IEC 62682.

Rule 1: every state and every move of an alarm stands in this file.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from monitor.checks.findings import AlarmKey, Evidence
from monitor.readings import Millis
from monitor.rules import Level


class State(StrEnum):
    """Is the condition there, and has anybody seen it? The standard's four states."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned to normal unacknowledged"


class Event(StrEnum):
    """What moves an alarm."""

    RAISED = "raised"
    ROSE = "rose"
    FELL = "fell"
    RETURNED = "returned"
    ACKNOWLEDGED = "acknowledged"
    SUPPRESSED = "suppressed"
    UNSUPPRESSED = "unsuppressed"
    REMOVED = "removed"
    """The subject or the limit is gone: cause `settings changed` or `limits changed`."""


class Priority(StrEnum):
    """Three priorities, as the standard advises; see `priority_of`."""

    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"


@dataclass(frozen=True, slots=True)
class Alarm:
    """One standing alarm. An alarm in state NORMAL is not kept: its absence says so.

    `number` is the occurrence's own number, never used again. Times are the readings' own times, `told_at`
    excepted. `cause` names the alarm that suppresses this one by design.
    """

    key: AlarmKey
    number: int
    state: State
    level: Level | None
    since: Millis
    raised_at: Millis
    changed_at: Millis
    evidence: Evidence
    cause: AlarmKey | None = None

    @property
    def active(self) -> bool:
        """Whether its condition is there."""
        return self.state in (State.UNACKNOWLEDGED, State.ACKNOWLEDGED)

    @property
    def suppressed(self) -> bool:
        """Whether it is evaluated but not told, because another alarm explains it."""
        return self.cause is not None


@dataclass(frozen=True, slots=True)
class Transition:
    """One step of one alarm, a row for ever: history, notice, report and chart mark all read it.

    `at` is the reading's time that caused it, `round_at` the round's now. `cause` is one sentence.
    """

    key: AlarmKey
    number: int
    event: Event
    before: State
    after: State
    level: Level | None
    at: Millis
    round_at: Millis
    cause: str
    who: str | None = None
    evidence: Evidence | None = None
