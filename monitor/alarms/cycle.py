"""The alarm cycle of ISA-18.2 / IEC 62682.

Rule 1: every state and every move of an alarm stands in this file. Whether a condition is there at all is decided
before (`checks.delays`), whether another alarm explains it after (`alarms.causes`), whether somebody has put it aside or
works in its bin last of all (`alarms.quiet`): five small tables, not a large one.

What the standard leaves to the philosophy of a site, and what ours says:

- *Who must acknowledge.* Harm waits for somebody's eyes even when it is over. Comfort, probes and the daemon do
  not ("acknowledgement not required", an option of the alarm's class): a keeper who never presses a button would
  otherwise collect what has long been well. The class follows the worst level since the last acknowledgement, for
  heat passes through comfort on its way back.
- *Work in the bin* of an alarm takes the need away: what came and went under somebody's hands was never told.
- *Re-alarm.* Back again while nobody has seen that it was gone (D to B) is the same alarm: it keeps its number,
  and its number is not free before it is normal. It gets its new time and is told as raised.
- *A rise of level* is news and clears the acknowledgement; a fall keeps it.
- *A shelf that ends* makes what still stands unacknowledged again; while it lies it moves nothing.
- *Latching* is an option that no alarm here takes: there is nothing to reset on a worm bed.
- An acknowledgement is applied before the findings of its round: what it acknowledges existed before it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from monitor.alarms.holds import Shelf, Work
from monitor.checks.findings import AlarmKey, Evidence, Finding
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
    SHELVED = "shelved"
    UNSHELVED = "unshelved"
    OUT_OF_SERVICE = "out of service"
    IN_SERVICE = "back in service"
    REMOVED = "removed"
    """The subject or the limit is gone: cause `settings changed` or `limits changed`."""
    RENAMED = "renamed"
    """Its subject goes on under another id; the state does not move."""


class Priority(StrEnum):
    """Three priorities, as the standard advises; see `priority_of`."""

    LOW = "low"
    MEDIUM = "medium"
    HIGH = "high"


@dataclass(frozen=True, slots=True)
class Alarm:
    """One standing alarm. An alarm in state NORMAL is not kept: its absence says so.

    `number` is the occurrence's own number, never used again. Times are the readings' own times, `told_at`
    excepted. `cause` names the alarm that suppresses this one by design; `shelf` and `work` are what people have
    laid over it. All three are as of its last round.
    """

    key: AlarmKey
    number: int
    state: State
    level: Level | None
    """None once it has returned: the level of a condition that is not there."""
    since: Millis
    raised_at: Millis
    changed_at: Millis
    evidence: Evidence
    cause: AlarmKey | None = None
    worst: Level | None = None
    """The worst level since it was last acknowledged: what somebody has still to see."""
    shelf: Shelf | None = None
    work: Work | None = None

    @property
    def active(self) -> bool:
        """Whether its condition is there."""
        return self.state in (State.UNACKNOWLEDGED, State.ACKNOWLEDGED)

    @property
    def suppressed(self) -> bool:
        """Whether it is evaluated but not told: explained by another alarm, shelved, or out of service."""
        return self.cause is not None or self.shelf is not None or self.work is not None

    @property
    def advised(self) -> bool:
        """Whether it counts for what is to be done. What is shelved does: the bed is as it is."""
        return self.active and self.cause is None and self.work is None


@dataclass(frozen=True, slots=True)
class Transition:
    """One step of one alarm, a row for ever: history, notice, report and chart mark all read it.

    `at` is the reading's time that caused it, `round_at` the round's now. `cause` is one sentence. `level` is
    the one after the step; where the condition has gone, the one it came from (the worst unacknowledged).
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
    note: str = ""
    """What whoever did it said, in their own words."""
    until: Millis | None = None
    """When a shelf or a work ends that begins with this step."""


Moves = Mapping[tuple[State, Event], State]

MOVES: Moves = {
    (State.NORMAL, Event.RAISED): State.UNACKNOWLEDGED,
    (State.UNACKNOWLEDGED, Event.ACKNOWLEDGED): State.ACKNOWLEDGED,
    (State.UNACKNOWLEDGED, Event.ROSE): State.UNACKNOWLEDGED,
    (State.UNACKNOWLEDGED, Event.FELL): State.UNACKNOWLEDGED,
    (State.UNACKNOWLEDGED, Event.RETURNED): State.RETURNED,
    (State.UNACKNOWLEDGED, Event.REMOVED): State.NORMAL,
    (State.UNACKNOWLEDGED, Event.UNSHELVED): State.UNACKNOWLEDGED,
    (State.ACKNOWLEDGED, Event.ROSE): State.UNACKNOWLEDGED,
    (State.ACKNOWLEDGED, Event.FELL): State.ACKNOWLEDGED,
    (State.ACKNOWLEDGED, Event.RETURNED): State.NORMAL,
    (State.ACKNOWLEDGED, Event.REMOVED): State.NORMAL,
    (State.ACKNOWLEDGED, Event.UNSHELVED): State.UNACKNOWLEDGED,
    (State.RETURNED, Event.ACKNOWLEDGED): State.NORMAL,
    (State.RETURNED, Event.RAISED): State.UNACKNOWLEDGED,
    (State.RETURNED, Event.REMOVED): State.NORMAL,
    (State.RETURNED, Event.UNSHELVED): State.RETURNED,
}
"""Moves by an event. A pair that is absent is not possible: nothing changes."""

SETTLES: Mapping[State, State] = {State.RETURNED: State.NORMAL}
"""Moves by the state itself, taken in the same step by an alarm that needs no acknowledgement."""

NEEDS_ACKNOWLEDGEMENT: Mapping[Level, bool] = {Level.COMFORT: False, Level.HARM: True}
"""The alarm's class, by the worst level that nobody has acknowledged."""

Stepped = tuple[Alarm | None, tuple[Transition, ...]]
"""The alarm after a step, None when it is normal, and what is recorded of the step."""


def step(alarm: Alarm | None, finding: Finding, *, round_at: Millis, next_number: int) -> Stepped:
    """An alarm (None: normal) after a finding about it. `next_number` is used up when it becomes a new alarm's.

    A finding that says what is known already changes nothing: the very same alarm and no transition.
    """
    event = event_of(alarm, finding)
    if event is None or (_state(alarm), event) not in MOVES:
        return alarm, ()
    changed = _CHANGES[event](alarm, finding) if alarm else None
    after = changed or _new(finding, next_number)
    return _moved(
        alarm,
        after,
        event=event,
        at=finding.at,
        round_at=round_at,
        cause=_words(alarm, finding, event),
        evidence=finding.evidence,
    )


def acknowledge(alarm: Alarm, who: str, *, at: Millis, round_at: Millis, note: str = "") -> Stepped:
    """An alarm after somebody has seen it, and what they said. One that is seen already does not change."""
    if (alarm.state, Event.ACKNOWLEDGED) not in MOVES:
        return alarm, ()
    after = replace(alarm, worst=None, changed_at=at)
    cause = f"Seen by {who}."
    event = Event.ACKNOWLEDGED
    return _moved(alarm, after, event=event, at=at, round_at=round_at, cause=cause, who=who, note=note)


def unshelve(
    alarm: Alarm, cause: str, *, who: str | None, at: Millis, round_at: Millis, note: str = ""
) -> tuple[Alarm, Transition]:
    """An alarm off its shelf: what was seen before it was put there, or under it, is to be seen anew."""
    after = replace(alarm, shelf=None, worst=alarm.worst or alarm.level)
    event = Event.UNSHELVED
    stands, (row,) = _moved(alarm, after, event=event, at=at, round_at=round_at, cause=cause, who=who, note=note)
    return stands or after, row


def remove(alarm: Alarm, cause: str, *, round_at: Millis) -> tuple[Transition, ...]:
    """The end of an alarm whose subject, limit or ground is gone; `cause` is `settings changed`, `limits changed`, or says it.

    No reading says so, so its time is the round's.
    """
    _, rows = _moved(alarm, alarm, event=Event.REMOVED, at=round_at, round_at=round_at, cause=cause)
    return rows


def rename(alarm: Alarm, renamed: Alarm, *, round_at: Millis) -> Transition:
    """What is recorded when the subject of an alarm goes on under another id: nothing has moved."""
    return Transition(
        key=renamed.key,
        number=alarm.number,
        event=Event.RENAMED,
        before=alarm.state,
        after=alarm.state,
        level=alarm.level or alarm.worst,
        at=round_at,
        round_at=round_at,
        cause=f"Settings changed: {alarm.key.subject} is called {renamed.key.subject} now.",
    )


def event_of(alarm: Alarm | None, finding: Finding) -> Event | None:
    """What a finding means to an alarm; None when it says nothing new."""
    if alarm is None or alarm.state is State.RETURNED:
        return Event.RAISED if finding.level else None
    if finding.level is None:
        return Event.RETURNED
    if finding.level is alarm.level:
        return None
    return Event.ROSE if finding.level is Level.HARM else Event.FELL


def needs_acknowledgement(alarm: Alarm) -> bool:
    """Whether somebody must see it before it may be normal again; not what somebody's own hands have made."""
    return alarm.worst is not None and alarm.work is None and NEEDS_ACKNOWLEDGEMENT[alarm.worst]


def _unseen(alarm: Alarm) -> bool:
    return alarm.state is State.UNACKNOWLEDGED and needs_acknowledgement(alarm)


def _moved(
    alarm: Alarm | None,
    after: Alarm,
    *,
    event: Event,
    at: Millis,
    round_at: Millis,
    cause: str,
    who: str | None = None,
    evidence: Evidence | None = None,
    note: str = "",
) -> Stepped:
    state = MOVES[_state(alarm), event]
    if not needs_acknowledgement(after):
        state = SETTLES.get(state, state)
    gone = (alarm.worst or alarm.level) if alarm else None
    row = Transition(
        key=after.key,
        number=after.number,
        event=event,
        before=_state(alarm),
        after=state,
        level=after.level or gone,
        at=at,
        round_at=round_at,
        cause=cause,
        who=who,
        evidence=evidence,
        note=note,
    )
    return (None if state is State.NORMAL else replace(after, state=state)), (row,)


def _state(alarm: Alarm | None) -> State:
    return alarm.state if alarm else State.NORMAL


def _new(finding: Finding, number: int) -> Alarm:
    return Alarm(
        key=finding.key,
        number=number,
        state=State.NORMAL,
        level=finding.level,
        since=finding.since,
        raised_at=finding.at,
        changed_at=finding.at,
        evidence=finding.evidence,
        worst=finding.level,
    )


def _raised_again(alarm: Alarm, finding: Finding) -> Alarm:
    worst = Level.HARM if alarm.worst is Level.HARM else finding.level
    return replace(_new(finding, alarm.number), worst=worst)


def _rose(alarm: Alarm, finding: Finding) -> Alarm:
    return replace(_fell(alarm, finding), worst=finding.level)


def _fell(alarm: Alarm, finding: Finding) -> Alarm:
    # what was worse and unseen stays to be seen; what was seen at its worst needs no second look
    return replace(alarm, level=finding.level, changed_at=finding.at, evidence=finding.evidence)


def _returned(alarm: Alarm, finding: Finding) -> Alarm:
    return replace(alarm, level=None, changed_at=finding.at, worst=alarm.worst or alarm.level)


_CHANGES: Mapping[Event, Callable[[Alarm, Finding], Alarm]] = {
    Event.RAISED: _raised_again,
    Event.ROSE: _rose,
    Event.FELL: _fell,
    Event.RETURNED: _returned,
}


def _words(alarm: Alarm | None, finding: Finding, event: Event) -> str:
    """The cause as a sentence without quantities of the bed: whoever writes for a keeper has them as evidence."""
    again = " again, before anybody had seen that it was over" if alarm and event is Event.RAISED else ""
    told = {
        Event.RAISED: f"is there at the level of {finding.level}{again}",
        Event.ROSE: f"rose to {finding.level}",
        Event.FELL: f"fell to {finding.level}",
        Event.RETURNED: "is over" + (", and nobody has seen it yet" if alarm and _unseen(alarm) else ""),
    }[event]
    why = "" if finding.evidence.bound is not None else f": {finding.evidence.arithmetic}"
    return f"{str(finding.key.condition).capitalize()} {told}{why}."
