"""What its mat does in the hours ahead, and how a zone goes on under it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from monitor.bed.room import AHEAD
from monitor.bed.zone import Three

HALF = 0.5
"""Share of an hour from which a mat counts as on in it."""

Duties = tuple[tuple[float, ...], ...]
"""Share on of each of the hours ahead, one list or one a member."""


@dataclass(frozen=True, slots=True)
class Hand:
    """Somebody who looks `looks` hours from now, and each day then, and switches on below one °C and off above another."""

    looks: int
    below: float
    above: float


@dataclass(frozen=True, slots=True)
class Plan:
    """One of: a thermostat's `setpoint` in °C; the `duties` of the hours ahead, from which a `hand` may turn."""

    duties: Duties = ((0.0,) * AHEAD,)
    setpoint: float | None = None
    by_hand: bool = False
    """It may be switched as it usually is, where that is known; `duties` says how it is now."""
    hand: Hand | None = None
    alarm: Duties | None = None
    """What alarms go by, where it is not `duties`: no hand is counted on."""


NO_MAT = Plan()
ALWAYS = Plan(((1.0,) * AHEAD,))


def as_now(duty: float | None) -> Plan:
    """It stays as it was in the last hour."""
    return Plan(((min(1.0, max(0.0, duty or 0.0)),) * AHEAD,))


def by_hand(duty: float | None) -> Plan:
    """Switched by hand, or by nobody knows what: it stays as it was in the last hour, unless another habit is known of it."""
    return replace(as_now(duty), by_hand=True)


def held(setpoint: float) -> Plan:
    """By a thermostat whose probe lies in this zone."""
    return Plan(setpoint=setpoint)


def timed(begins: float, spans: float, *, local_hour: float) -> Plan:
    """By a timer that switches on at `begins` o'clock for `spans` hours; the next hour begins at `local_hour`."""
    return Plan((tuple(timer(begins, spans, local_start=local_hour + step) for step in range(AHEAD)),))


def timer(begins: float, spans: float, *, local_start: float) -> float:
    """Share of the hour from `local_start` o'clock in which a timer from `begins` for `spans` hours is on."""
    since = (local_start - begins) % 24
    today = max(0.0, min(since + 1, spans) - since)
    return min(1.0, today + max(0.0, min(since - 23, spans)))


def switched(on_after: int, *, for_hours: int = AHEAD, before: float = 0.0) -> Plan:
    """As `before` for `on_after` hours, then on for `for_hours`, then off."""
    hours = [before if h < on_after else float(h < on_after + for_hours) for h in range(AHEAD)]
    return Plan((tuple(hours),))


@dataclass(frozen=True, slots=True)
class Path:
    """One member: °C after each of the next 24 hours, and how much the mat was on in each."""

    warmth: tuple[float, ...]
    duties: tuple[float, ...]


def rolled(learned: Three, start: float, rooms: Sequence[Sequence[float]], plan: Plan) -> list[Path]:
    """How the zone goes on from `start` °C, one path a room: the equation solved for each hour of constant air and duty."""
    a, b, c = learned
    keeps = math.exp(-a)
    weight, drift, gain = 1 - keeps, c * (1 - keeps) / a, b * (1 - keeps) / a
    if plan.setpoint is not None:
        return [_held_path(start, room, (keeps, weight, drift, gain), plan.setpoint) for room in rooms]
    if plan.hand is not None:
        now = plan.duties[0][0]
        return [_hand_path(start, room, (keeps, weight, drift, gain), now, plan.hand) for room in rooms]
    paths = []
    for number, room in enumerate(rooms):
        duties = plan.duties[number if len(plan.duties) == len(rooms) else 0]
        at, warmth = start, []
        for air, duty in zip(room, duties, strict=True):
            at = at * keeps + air * weight + drift + gain * duty
            warmth.append(at)
        paths.append(Path(tuple(warmth), duties))
    return paths


def _held_path(
    start: float, room: Sequence[float], step: tuple[float, float, float, float], setpoint: float
) -> Path:
    keeps, weight, drift, gain = step
    at, warmth, duties = start, [], []
    for air in room:
        free = at * keeps + air * weight + drift
        duty = min(1.0, max(0.0, (setpoint - free) / gain)) if gain > 0 else 0.0
        at = free + gain * duty
        warmth.append(at)
        duties.append(duty)
    return Path(tuple(warmth), tuple(duties))


def _hand_path(
    start: float, room: Sequence[float], step: tuple[float, float, float, float], duty: float, hand: Hand
) -> Path:
    keeps, weight, drift, gain = step
    at, warmth, duties = start, [], []
    for hour, air in enumerate(room):
        if hour % AHEAD == hand.looks:
            duty = 1.0 if duty < HALF and at < hand.below else 0.0 if duty >= HALF and at > hand.above else duty
        at = at * keeps + air * weight + drift + gain * duty
        warmth.append(at)
        duties.append(duty)
    return Path(tuple(warmth), tuple(duties))
