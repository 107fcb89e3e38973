"""Late readings: what they tell of hours that were judged without them. Told once, touches no alarm."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from monitor.checks.bins import past_episode, sift
from monitor.checks.evidence import Glance, glance
from monitor.checks.findings import AlarmKey, PastEpisode
from monitor.checks.fold import Bench, Ended, bench, deciding, fold
from monitor.checks.memory import nothing_of
from monitor.checks.values import newest_at
from monitor.checks.watches import View, Watch, Watched
from monitor.readings import Millis, Reading

Known = tuple[AlarmKey, Millis, Millis]
"""An alarm or a past episode that is known already: its key, and when its condition began and ended."""


def past_episodes(
    watched: Watched,
    *,
    history: Mapping[str, Sequence[Reading]],
    late: Sequence[Reading],
    known: Sequence[Known],
) -> tuple[PastEpisode, ...]:
    """Episodes within a span that a late reading is part of and nobody knows of yet, in order of their ends.

    `history` holds each probe's readings over the span, the late ones included. It should begin a longest
    delay (for moisture a day as well) before the first late reading and go on for an off-delay after the last. An
    episode that is still open at its end is told as far as it goes.
    """
    blank = {p: nothing_of(probe) for p, probe in watched.probes.items()}
    on = bench(watched, memory=blank, phases={})
    judged, _ = sift(
        (r for p in watched.probes for r in history.get(p, ()) if watched.stood(p, r.at)), dict(blank)
    )
    over = [*fold(watched, judged, on), *_still_open(watched, on)]
    return tuple(
        past_episode(e) for e in over if _told_by(e, watched=watched, late=late) and not _is_known(e, known)
    )


def _still_open(watched: Watched, on: Bench) -> list[Ended]:
    pairs = [(view, key, ws) for view in watched.views for key, ws in view.keys if key in on.courses]
    return [_as_far(key, ws, view=view, on=on) for view, key, ws in pairs]


def _as_far(key: AlarmKey, watches: tuple[Watch, ...], *, view: View, on: Bench) -> Ended:
    watch, phase = deciding(watches, on.phases)
    at = newest_at(view, on.memory) or phase.since
    seen: Glance = glance(view, on.memory, at=at)
    return Ended(key, watch, on.courses[key], ended=at, at=at, seen=seen, furthest=on.furthest.get(key))


def _told_by(over: Ended, *, watched: Watched, late: Sequence[Reading]) -> bool:
    """Whether a late, trusted reading of one of the subject's own probes lies within the episode."""
    probes = {p.id for p in over.seen.view.probes}
    return any(r.probe in probes and r.quality.trusted and over.course.began <= r.at <= over.ended for r in late)


def _is_known(over: Ended, known: Sequence[Known]) -> bool:
    return any(
        key == over.key and began <= over.ended and ended >= over.course.began for key, began, ended in known
    )
