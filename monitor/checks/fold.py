"""Readings folded through the watches of one bin, in order of their own time.

`look`, `backfill` and `past_episodes` are this one fold with other starts and other readings. A subject's time
never runs backwards: a reading of one probe that is older than the newest of its neighbour is judged together
with that neighbour, at the neighbour's time.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from monitor.checks.delays import CLEAR, Phase, PhaseName, beyond, over_gap, step
from monitor.checks.evidence import Glance, glance
from monitor.checks.findings import AlarmKey
from monitor.checks.memory import ProbeMemory, in_order, remember, speaks_for
from monitor.checks.values import ZoneValues, best, known_until, newest_at, zone_values
from monitor.checks.watches import View, Watch, Watched
from monitor.readings import Millis, Reading
from monitor.rules import Level

Phases = dict[str, Phase]
"""By the watch's name; a watch that is clear has none."""


Furthest = tuple[str, float]
"""A zone and the furthest value of it that broke a limit."""


@dataclass(frozen=True, slots=True)
class Course:
    """A condition that is there: its level now and at worst, and when it began."""

    level: Level
    worst: Level
    began: Millis


@dataclass(frozen=True, slots=True)
class Ended:
    """A condition that is over: `ended` is when the value came back, `at` when the off-delay was full."""

    key: AlarmKey
    watch: Watch
    course: Course
    ended: Millis
    at: Millis
    seen: Glance
    furthest: Furthest | None
    """None when the condition began before this fold."""


@dataclass
class Bench:
    """What one fold works on. Its dicts are the caller's own copies and change under the fold."""

    memory: dict[str, ProbeMemory]
    phases: Phases
    courses: dict[AlarmKey, Course]
    furthest: dict[AlarmKey, Furthest | None]
    decided: dict[AlarmKey, Millis]
    """When the level of a condition last changed under this fold."""


def bench(watched: Watched, *, memory: dict[str, ProbeMemory], phases: Phases) -> Bench:
    """A bench on which the conditions that are there already run their course."""
    courses: dict[AlarmKey, Course] = {}
    furthest: dict[AlarmKey, Furthest | None] = {}
    for key, watches in (pair for view in watched.views for pair in view.keys) if phases else ():
        if any(w.name in phases for w in watches):
            furthest[key] = None
        level = level_of(watches, phases)
        if level:
            courses[key] = Course(level, level, began_of(watches, phases))
    return Bench(memory, phases, courses, furthest, {})


def fold(watched: Watched, readings: Sequence[Reading], on: Bench) -> list[Ended]:
    """Fold readings of the bin's probes, none of them late; which conditions ended on the way, in order."""
    over: list[Ended] = []
    for _, together in groupby(in_order(readings), key=speaks_for):
        over.extend(_instant(watched, tuple(together), on))
    return over


def level_of(watches: Iterable[Watch], phases: Mapping[str, Phase]) -> Level | None:
    """The level of a key: harm if any of its harm watches is there."""
    levels = {w.level for w in watches if (p := phases.get(w.name)) is not None and p.present}
    return Level.HARM if Level.HARM in levels else Level.COMFORT if levels else None


def began_of(watches: Iterable[Watch], phases: Mapping[str, Phase]) -> Millis:
    """When the first of the watches that are there was broken."""
    return min(p.began for w in watches if (p := phases.get(w.name)) is not None and p.present)


def deciding(watches: Iterable[Watch], phases: Mapping[str, Phase]) -> tuple[Watch, Phase]:
    """The watch of the worst level that was there first; of several at once the one with the furthest bound."""
    there = [(w, p) for w in watches if (p := phases.get(w.name)) is not None and p.present]
    return min(there, key=_first)


def _instant(watched: Watched, together: Sequence[Reading], on: Bench) -> Iterator[Ended]:
    views = _views(watched, together)
    known = [known_until(view, on.memory) if on.phases else None for view in views]
    for reading in together:
        on.memory[reading.probe] = remember(on.memory[reading.probe], reading)
    for view, until in zip(views, known, strict=True):
        yield from _judge(view, until, on)


def _views(watched: Watched, together: Sequence[Reading]) -> tuple[View, ...]:
    """The views that these readings feed: nothing is judged by a value that is not trusted."""
    probes = [r.probe for r in together if r.quality.trusted]
    if watched.moved.intersection(probes):
        here = [(r.probe, r.at) for r in together if r.quality.trusted]
        return tuple(
            v
            for v in watched.views
            if any((p.id, at) in here and p.stands(at) for p in v.probes for _, at in here)
        )
    if len(probes) == 1:
        return watched.by_probe[probes[0]]
    return tuple(view for view in watched.views if any(p.id in probes for p in view.probes))


def _judge(view: View, known: Millis | None, on: Bench) -> Iterator[Ended]:
    at = newest_at(view, on.memory) or 0  # a trusted reading of this view has just been remembered
    values = zone_values(view, on.memory, at=at)
    if on.phases and (known is None or known < at or not values):
        _forget_delays(view, at, on.phases)
    if values:
        for key, watches in view.keys:
            yield from _judge_key(view, key, watches=watches, values=values, at=at, on=on)


def _forget_delays(view: View, at: Millis, phases: Phases) -> None:
    for watch in (w for _, watches in view.keys for w in watches):
        if watch.name in phases:
            _put(phases, watch, over_gap(phases[watch.name], at))


def _judge_key(
    view: View, key: AlarmKey, *, watches: tuple[Watch, ...], values: ZoneValues, at: Millis, on: Bench
) -> Iterator[Ended]:
    zone, value = best(watches[0].below, values)
    last, ended = None, 0
    for watch in watches:
        before = on.phases.get(watch.name)
        if before is None and not beyond(watch, value):
            continue
        after = step(watch, before or CLEAR, at=at, value=value)
        _put(on.phases, watch, after)
        if before and before.present and not after.present:
            last, ended = watch, max(ended, before.since if before.name == PhaseName.CLEARING else at)
    if not on.phases and last is None:
        return
    course, furthest = _follow(key, watches, value=(zone, value), at=at, on=on)
    if last and course and key not in on.courses:
        seen = glance(view, on.memory, at=at)
        yield Ended(key, last, course, ended=ended, at=at, seen=seen, furthest=furthest)


def _follow(
    key: AlarmKey, watches: tuple[Watch, ...], *, value: Furthest, at: Millis, on: Bench
) -> tuple[Course | None, Furthest | None]:
    """Keep course and furthest value of a key up to date; what they were before it ended."""
    course, furthest = on.courses.get(key), on.furthest.get(key)
    level = level_of(watches, on.phases)
    if level is None:
        on.courses.pop(key, None)
    elif course is None:
        on.courses[key], on.decided[key] = Course(level, level, began_of(watches, on.phases)), at
    elif level is not course.level:
        worst = Level.HARM if Level.HARM in (level, course.worst) else level
        on.courses[key], on.decided[key] = Course(level, worst, course.began), at
    if not any(w.name in on.phases for w in watches):
        on.furthest.pop(key, None)
    elif key not in on.furthest:
        on.furthest[key] = value
    elif furthest is not None:
        on.furthest[key] = (min if watches[0].below else max)(furthest, value, key=lambda v: v[1])
    return course, furthest


def _put(phases: Phases, watch: Watch, phase: Phase) -> None:
    if phase is CLEAR:
        phases.pop(watch.name, None)
    else:
        phases[watch.name] = phase


def _first(pair: tuple[Watch, Phase]) -> tuple[bool, Millis, float]:
    watch, phase = pair
    depth = watch.bound.value if watch.below else -watch.bound.value
    return watch.level is not Level.HARM, phase.began + watch.on_delay, depth
