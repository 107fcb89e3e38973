"""Is the climate of this bin all right? One look at it, from its new readings and what is remembered."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from monitor.checks.delays import Phase
from monitor.checks.evidence import glance, of_absence, of_end, of_past, of_presence
from monitor.checks.findings import AlarmKey, Finding, PastEpisode
from monitor.checks.fold import Bench, Ended, Phases, bench, deciding, fold
from monitor.checks.memory import ProbeMemory, in_order, is_fresh, nothing_of, speaks_for
from monitor.checks.values import newest_at
from monitor.checks.watches import View, Watch, Watched
from monitor.readings import DAY, Millis, Quality, Reading
from monitor.rules import Level


@dataclass(frozen=True, slots=True)
class Looked:
    """What one look changed and found. `memory` and `phases` hold only what changed; a phase of None is removed.

    `late` are readings at or before the newest of their probe: kept, shown, not judged here.
    """

    memory: Mapping[str, ProbeMemory]
    phases: Mapping[str, Phase | None]
    findings: tuple[Finding, ...]
    past: tuple[PastEpisode, ...]
    late: tuple[Reading, ...]


def look(
    watched: Watched,
    *,
    fresh: Sequence[Reading],
    memory: Mapping[str, ProbeMemory],
    phases: Mapping[str, Phase],
    standing: Mapping[AlarmKey, Level | None],
    now: Millis,
) -> Looked:
    """Fold a round's new readings of a bin's own probes and say what is there and what is over.

    `memory` by probe and `phases` by watch may hold more than this bin's. `standing` are the keys of the
    alarms whose condition is there (`Alarm.active`), each with its level. A condition is said in every look while it is
    there and no alarm of its level stands; it is said at all only while the subject has a fresh value at `now`: old
    readings raise and end nothing. What began and ended without an alarm is a past episode.
    """
    known = {p: memory.get(p) or nothing_of(probe) for p, probe in watched.probes.items()}
    held = {w.name: phases[w.name] for w in watched.watches if w.name in phases}
    judged, late = sift(fresh, known)
    on = bench(watched, memory=dict(known), phases=dict(held))
    over = fold(watched, judged, on)
    said = list(_say(watched, over, on=on, standing=standing, now=now)) if over or on.courses or standing else []
    return Looked(
        memory={p: m for p, m in on.memory.items() if m is not known[p]},
        phases=_changes(held, on.phases),
        findings=tuple(s for s in said if isinstance(s, Finding)),
        past=tuple(s for s in said if isinstance(s, PastEpisode)),
        late=late,
    )


def backfill(
    watched: Watched,
    names: Iterable[str],
    *,
    history: Mapping[str, Sequence[Reading]],
    memory: Mapping[str, ProbeMemory],
) -> dict[str, Phase]:
    """The phases that watches of these names would have, had they been there all along; clear ones are left out.

    For limits that changed and for bins that come with a past: a changed limit is judged at once and not only
    after its delay anew. `history` holds each probe's stored readings of the last `backfill_span`; what is newer
    than `memory` knows is left to the next look.
    """
    readings = [
        r
        for probe in watched.probes
        for r in history.get(probe, ())
        if (m := memory.get(probe))
        and m.last_at is not None
        and speaks_for(r) <= m.last_at
        and watched.stood(probe, speaks_for(r))
    ]
    blank = {p: nothing_of(probe) for p, probe in watched.probes.items()}
    on = bench(watched, memory=blank, phases={})
    judged, _ = sift(readings, dict(blank))
    fold(_only(watched, frozenset(names)), judged, on)
    return on.phases


def backfill_span(watched: Watched) -> Millis:
    """How much history `backfill` needs: the longest delay and the day that a median looks back on."""
    return DAY + max((max(w.on_delay, w.off_delay) for w in watched.watches), default=0)


def sift(
    readings: Iterable[Reading], memory: Mapping[str, ProbeMemory]
) -> tuple[list[Reading], tuple[Reading, ...]]:
    """Readings that may be judged, in order of time, and those that are late. Retained ones are neither."""
    marks = {p: m.last_at for p, m in memory.items()}
    judged, late = [], []
    for reading in in_order(r for r in readings if r.quality is not Quality.RETAINED):
        mark = marks[reading.probe]
        if reading.quality is Quality.AHEAD:
            judged.append(reading)
        elif mark is not None and _is_over(reading, mark):
            late.append(reading)
        else:
            marks[reading.probe] = speaks_for(reading)
            judged.append(reading)
    return judged, tuple(late)


def _is_over(reading: Reading, mark: Millis) -> bool:
    return reading.received_at < mark if reading.quality is Quality.EARLY else reading.at <= mark


def past_episode(over: Ended) -> PastEpisode:
    """What is told of a condition that ended without ever having been an alarm."""
    length = over.ended - over.course.began
    evidence = of_past(over.watch, over.furthest, view=over.seen.view, length=length)
    return PastEpisode(over.key, over.course.worst, over.course.began, over.ended, evidence)


def _say(
    watched: Watched, over: list[Ended], *, on: Bench, standing: Mapping[AlarmKey, Level | None], now: Millis
) -> Iterator[Finding | PastEpisode]:
    for view in watched.views:
        for key, watches in view.keys:
            ended = [e for e in over if e.key == key]
            stands = key in standing
            course = on.courses.get(key)
            if course and stands and not ended and course.level is standing[key]:
                continue  # an alarm of its level stands: the common case, cheaply
            if ended or stands or course:
                yield from _say_of(key, watches, view=view, ended=ended, stands=stands, on=on, now=now)


def _say_of(
    key: AlarmKey,
    watches: tuple[Watch, ...],
    *,
    view: View,
    ended: list[Ended],
    stands: bool,
    on: Bench,
    now: Millis,
) -> Iterator[Finding | PastEpisode]:
    current = any(is_fresh(p, on.memory[p.id], at=now) for p in view.probes)
    if stands and not current:
        return  # old readings end no alarm: it stands until something newer speaks
    if stands and ended:
        first = ended.pop(0)
        yield Finding(key, None, first.at, first.ended, of_end(first.watch, first.ended, first.seen))
    elif stands and key not in on.courses:
        yield from _absent(key, watches[0], view=view, on=on)
    yield from map(past_episode, ended)
    if current and key in on.courses:
        yield _present(key, watches, view=view, on=on)


def _present(key: AlarmKey, watches: tuple[Watch, ...], *, view: View, on: Bench) -> Finding:
    watch, phase = deciding(watches, on.phases)
    at = on.decided.get(key, phase.began + watch.on_delay)
    seen = glance(view, on.memory, at=newest_at(view, on.memory) or at)
    return Finding(key, watch.level, at, phase.began, of_presence(watch, phase, seen))


def _absent(key: AlarmKey, watch: Watch, *, view: View, on: Bench) -> Iterator[Finding]:
    at = newest_at(view, on.memory)
    seen = glance(view, on.memory, at=at or 0)
    if at is not None and seen.values:
        yield Finding(key, None, at, at, of_absence(watch, seen))


def _changes(before: Phases, after: Phases) -> dict[str, Phase | None]:
    changed: dict[str, Phase | None] = {name: None for name in before if name not in after}
    changed.update((name, phase) for name, phase in after.items() if before.get(name) is not phase)
    return changed


def _only(watched: Watched, names: frozenset[str]) -> Watched:
    def thinned(view: View) -> View:
        keys = ((key, tuple(w for w in ws if w.name in names)) for key, ws in view.keys)
        return replace(view, keys=tuple((key, ws) for key, ws in keys if ws))

    views = {id(view): thinned(view) for view in watched.views}
    return replace(
        watched,
        watches=tuple(w for w in watched.watches if w.name in names),
        views=tuple(views.values()),
        by_probe={p: tuple(views[id(v)] for v in vs) for p, vs in watched.by_probe.items()},
    )
