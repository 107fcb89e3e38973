"""Suppression by design: which alarm explains which, so that one cause is told once.

An alarm that is explained is still evaluated and recorded (ISA-18.2: suppressed is not disabled); it is not told.
The cause itself is never suppressed by what it explains.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from enum import StrEnum

from monitor.alarms.cycle import Alarm, Event, Transition
from monitor.checks.findings import AlarmKey, Condition, Subject
from monitor.readings import Millis
from monitor.rules import Level


class Voice(StrEnum):
    """Whether an alarm is told."""

    TOLD = "told"
    SUPPRESSED = "suppressed by design"


MOVES: Mapping[tuple[Voice, Event], Voice] = {
    (Voice.TOLD, Event.SUPPRESSED): Voice.SUPPRESSED,
    (Voice.SUPPRESSED, Event.UNSUPPRESSED): Voice.TOLD,
}
"""The whole machine of it; the alarm's own state does not move."""

EVERYWHERE: Mapping[Condition, frozenset[Condition]] = {
    # nobody is heard, or what is heard cannot be kept and so is not judged
    Condition.BROKER_LOST: frozenset({Condition.SILENT, Condition.UNWATCHED}),
    Condition.STORE_FAILING: frozenset({Condition.SILENT, Condition.UNWATCHED}),
}
"""What a trouble of the daemon explains, wherever it is. The first that stands is the cause."""

OF_THE_ONLY_PROBE: Mapping[Condition, frozenset[Condition]] = {
    Condition.SILENT: frozenset({Condition.UNWATCHED}),
    Condition.STUCK: frozenset({Condition.UNWATCHED}),
    Condition.FAULTY: frozenset({Condition.UNWATCHED}),
}
"""What the trouble of a probe explains of the subject whose only thermometer it is."""

OF_THE_SAME: Mapping[Condition, frozenset[Condition]] = {
    Condition.COLD: frozenset({Condition.COLD_AHEAD}),
    Condition.HOT: frozenset({Condition.HEAT_AHEAD}),
}
"""What harm that is there explains of the same subject: that it was to come."""


def suppress(
    alarms: Mapping[AlarmKey, Alarm], *, only_probes: Mapping[Subject, Subject], round_at: Millis
) -> tuple[dict[AlarmKey, Alarm], tuple[Transition, ...]]:
    """Which alarms are explained by another now: those that changed, and a transition for each that is no longer,
    or newly, suppressed. `only_probes` names the probe of every subject that has a single thermometer.
    """
    everywhere = [a for c in EVERYWHERE for a in alarms.values() if a.key.condition is c and a.active]
    changed: dict[AlarmKey, Alarm] = {}
    rows: list[Transition] = []
    for alarm in alarms.values():
        cause = next(_causes(alarm, everywhere, alarms=alarms, only_probes=only_probes), None)
        if (cause.key if cause else None) != alarm.cause:
            changed[alarm.key] = replace(alarm, cause=cause.key if cause else None)
            rows.extend(_told_of(alarm, cause, round_at))
    return changed, tuple(rows)


def voice(alarm: Alarm) -> Voice:
    """Whether another alarm explains it."""
    return Voice.SUPPRESSED if alarm.cause else Voice.TOLD


def _causes(
    alarm: Alarm,
    everywhere: list[Alarm],
    *,
    alarms: Mapping[AlarmKey, Alarm],
    only_probes: Mapping[Subject, Subject],
) -> Iterator[Alarm]:
    if not alarm.active:
        return
    condition = alarm.key.condition
    yield from (a for a in everywhere if condition in EVERYWHERE[a.key.condition])
    for there, ahead in OF_THE_SAME.items():
        known = alarms.get(AlarmKey(alarm.key.subject, there)) if condition in ahead else None
        if known and known.active and known.level is Level.HARM:
            yield known
    probe = only_probes.get(alarm.key.subject)
    for trouble, explained in OF_THE_ONLY_PROBE.items():
        known = alarms.get(AlarmKey(probe, trouble)) if probe and condition in explained else None
        if known and known.active:
            yield known


def _told_of(alarm: Alarm, cause: Alarm | None, round_at: Millis) -> Iterator[Transition]:
    event = Event.SUPPRESSED if cause else Event.UNSUPPRESSED
    if (voice(alarm), event) not in MOVES:
        return  # another cause, but still suppressed
    told = f"Explained by {cause.key.condition} ({cause.key.subject})." if cause else "What explained it is over."
    yield Transition(
        key=alarm.key,
        number=alarm.number,
        event=event,
        before=alarm.state,
        after=alarm.state,
        level=alarm.level or alarm.worst,
        at=max(alarm.raised_at, cause.raised_at) if cause else round_at,
        round_at=round_at,
        cause=told,
    )
