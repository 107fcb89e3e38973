"""Lives of alarms made up at random for reckoning: rows as the program records them, one alarm after the other."""

import random

from monitor.alarms.cycle import Event, State, Transition
from monitor.checks.findings import AlarmKey, Condition, Evidence, Kind, Subject
from monitor.readings import HOUR, MINUTE
from monitor.rules import Level

T0 = 1_790_000_000_000
KEYS = [
    AlarmKey(Subject(Kind.BIN, bed, "shed"), condition)
    for bed in ("fig", "plum", "sloe")
    for condition in (Condition.COLD, Condition.HOT, Condition.DRY)
] + [AlarmKey(Subject(Kind.PROBE, "fig-west", "shed"), Condition.SILENT)]


def row(key, number, event, before, after, level, at, *, later=0, evidence=None, **more):
    return Transition(
        key, number, event, before, after, level, at, at + later, f"{event}.", evidence=evidence, **more
    )


def lives(seed, count=120, *, apart=6 * HOUR):
    """Rows in the order of their rounds."""
    dice = random.Random(seed)
    rows, at = [], T0
    for number in range(1, count + 1):
        at += round(dice.expovariate(1) * apart / (8 if dice.random() < 0.3 else 1))
        rows += _life(dice, dice.choice(KEYS), number, at)
    return sorted(rows, key=lambda r: r.round_at)


def _life(dice, key, number, at):
    level = Level.HARM if dice.random() < 0.15 and key.condition is not Condition.SILENT else Level.COMFORT
    later = dice.randrange(0, 2 * MINUTE)
    state, rows = State.UNACKNOWLEDGED, []

    def add(event, after, at, level, **more):
        nonlocal state
        rows.append(row(key, number, event, state, after, level, at, later=later, **more))
        state = after

    state = State.NORMAL
    add(
        Event.RAISED,
        State.UNACKNOWLEDGED,
        at,
        level,
        evidence=Evidence("a line", value=18.0, bound=21.0, lasting=HOUR),
    )
    if dice.random() < 0.2:
        add(Event.SUPPRESSED, state, at, level)
        if dice.random() < 0.5:
            at += dice.randrange(10 * MINUTE, 3 * HOUR)
            add(Event.UNSUPPRESSED, state, at, level)
    if dice.random() < 0.3:
        at += dice.randrange(10 * MINUTE, 5 * HOUR)
        add(Event.ACKNOWLEDGED, State.ACKNOWLEDGED, at, level, who="ana")
    if level is Level.COMFORT and dice.random() < 0.2 and key.condition is not Condition.SILENT:
        at += dice.randrange(10 * MINUTE, 5 * HOUR)
        level = Level.HARM
        add(Event.ROSE, State.UNACKNOWLEDGED, at, level)
    if dice.random() < 0.2:
        at += dice.randrange(10 * MINUTE, 5 * HOUR)
        add(Event.SHELVED, state, at, level, who="ana", until=at + HOUR)
        if dice.random() < 0.7:
            at += HOUR
            add(Event.UNSHELVED, State.UNACKNOWLEDGED, at, level)
    if dice.random() < 0.9:
        at += round(dice.expovariate(1) * (2 * HOUR if dice.random() < 0.8 else 60 * HOUR))
        add(Event.RETURNED, State.NORMAL, at, level, evidence=Evidence("a line", value=22.0, bound=21.0))
    return rows
