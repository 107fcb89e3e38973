"""The condition machine: is a limit broken for long enough, and is it over for long enough?

Rule 1: every phase and every move of it stands in this file. Time comes only with the readings: a delay is the
difference of two readings' own times, never a count, so that a restart, a missed round or a batch of six
hours at once changes nothing.

Words and rules: on-delay, off-delay and deadband as in OPC 10000-9 §B.1.5 [seen]; the limit itself counts
(WHO PQS E006/TR07: 30.0 triggers, 29.9 does not [seen]).
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from monitor.checks.watches import Watch
from monitor.readings import Millis


class PhaseName(StrEnum):
    """How far a condition has come."""

    CLEAR = "clear"
    PENDING = "pending"
    """Beyond the limit, the on-delay not yet full."""
    PRESENT = "present"
    CLEARING = "clearing"
    """Past the deadband, the off-delay not yet full: still there."""


class Sight(StrEnum):
    """What one look at a value, or at the lack of one, says."""

    BEYOND = "beyond the limit"
    BETWEEN = "in the deadband"
    INSIDE = "past the deadband"
    GAP = "nothing known for a while"


@dataclass(frozen=True, slots=True)
class Phase:
    """Where a condition stands. `since` is the reading's time at which this phase began, `began` the one at
    which the limit was first broken. Made again from a store, `name` may be a plain string.
    """

    name: PhaseName
    since: Millis
    began: Millis

    @property
    def present(self) -> bool:
        """Whether the condition counts as being there."""
        return self.name in _THERE


_THERE = (PhaseName.PRESENT, PhaseName.CLEARING)

CLEAR = Phase(PhaseName.CLEAR, 0, 0)
"""The phase of every watch that nothing is kept of."""

MOVES: Mapping[tuple[PhaseName, Sight], PhaseName] = {
    (PhaseName.CLEAR, Sight.BEYOND): PhaseName.PENDING,
    # an on-delay asks for a condition that stays true; the deadband only serves the way back
    (PhaseName.PENDING, Sight.BETWEEN): PhaseName.CLEAR,
    (PhaseName.PENDING, Sight.INSIDE): PhaseName.CLEAR,
    (PhaseName.PENDING, Sight.GAP): PhaseName.CLEAR,
    (PhaseName.PRESENT, Sight.INSIDE): PhaseName.CLEARING,
    # "past the deadband, for the off-delay": a value in the deadband is not past it
    (PhaseName.CLEARING, Sight.BEYOND): PhaseName.PRESENT,
    (PhaseName.CLEARING, Sight.BETWEEN): PhaseName.PRESENT,
    (PhaseName.CLEARING, Sight.GAP): PhaseName.PRESENT,
}
"""Moves by a sight. A pair that is absent moves nothing."""

FULL: Mapping[PhaseName, PhaseName] = {
    PhaseName.PENDING: PhaseName.PRESENT,
    PhaseName.CLEARING: PhaseName.CLEAR,
}
"""Moves by a full delay, taken in the same step; a delay of 0 is full at once."""


def step(watch: Watch, phase: Phase, *, at: Millis, value: float) -> Phase:
    """The phase after a value of that time. The very same object when nothing has moved."""
    moved = _moved(phase, MOVES.get((phase.name, sight(watch, value))), at)
    after = FULL.get(moved.name)
    return _moved(moved, after, at) if after and at - moved.since >= _delay(watch, moved) else moved


def over_gap(phase: Phase, at: Millis) -> Phase:
    """The phase after a while in which nothing was known: no delay is counted across it."""
    return _moved(phase, MOVES.get((phase.name, Sight.GAP)), at)


def sight(watch: Watch, value: float) -> Sight:
    """Where a value lies; the limit and the end of the deadband both count."""
    if beyond(watch, value):
        return Sight.BEYOND
    inside = value >= watch.clear_at if watch.below else value <= watch.clear_at
    return Sight.INSIDE if inside else Sight.BETWEEN


def beyond(watch: Watch, value: float) -> bool:
    """Whether a value is at or beyond the limit."""
    return value <= watch.bound.value if watch.below else value >= watch.bound.value


def _delay(watch: Watch, phase: Phase) -> Millis:
    return watch.on_delay if phase.name == PhaseName.PENDING else watch.off_delay


def _moved(phase: Phase, name: PhaseName | None, at: Millis) -> Phase:
    if name is None:
        return phase
    if name == PhaseName.CLEAR:
        return CLEAR
    if name == PhaseName.PENDING:
        return Phase(name, at, at)
    return Phase(name, at, phase.began)


def phase_text(phase: Phase) -> str:
    """A phase as the store keeps it."""
    return json.dumps([phase.name, phase.since, phase.began])


def phase_of(text: str) -> Phase:
    """The phase of such a text."""
    name, since, began = json.loads(text)
    return Phase(PhaseName(name), since, began)
