"""What to change about the alarm that serves worst: one proposal, reckoned from what it did.

A remedy is chosen by what is wrong with it, and its numbers are those that would have kept it quiet in the stretch that
was looked at: a deadband wider than the furthest it came back, a delay longer than the longest pause, a limit beyond the
furthest value. Harm's own limits and delays are never proposed away: where harm is told wrongly, the probe is looked at.
It is a proposal; the keeper decides.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from monitor.alarms.benchmarks import ENOUGH, WORST_SHARE
from monitor.alarms.review import Activation, Annunciation, Delays, Review
from monitor.checks.findings import AlarmKey, Condition
from monitor.checks.watches import Watch
from monitor.readings import HOUR, MINUTE, Millis
from monitor.rules import Level


class Fault(StrEnum):
    """What is wrong with an alarm, the worst first."""

    CHATTERING = "chattering"
    FLEETING = "fleeting"
    STALE = "stale"
    FREQUENT = "frequent"


class Remedy(StrEnum):
    """What could be changed about it."""

    DEADBAND = "deadband"
    OFF_DELAY = "off-delay"
    ON_DELAY = "on-delay"
    LIMIT = "limit"
    CALIBRATE = "calibrate"
    INTERVAL = "interval"
    TOGETHER = "suppress"
    """Another alarm comes with it each time: tell of one."""
    LOOK = "look"
    """Nothing about the alarm: about what it tells of."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """One change. `before` and `after` are °C, points, % or Millis by the remedy, None where it has none; `times` is how
    often it did what it is blamed for; `far` is the value or the span from which `after` was reckoned.
    """

    key: AlarmKey
    fault: Fault
    remedy: Remedy
    times: int
    before: float | None = None
    after: float | None = None
    far: float | None = None
    unit: str = ""
    below: bool | None = None
    other: AlarmKey | None = None
    window: Millis = 0
    """In what span it chattered, or how long it has stood."""
    harm: bool = False
    """Whether what it is blamed for was harm."""


WIDEST = {"°C": 2.0, "%": 6.0}
"""A deadband beyond this hides a change of the bed (proposal)."""
STEPS = {"°C": 0.5, "%": 1.0}
"""In what steps deadbands and limits are proposed."""
LONGEST_DELAY: Millis = 6 * HOUR
LONGEST_INTERVAL: Millis = 2 * HOUR
"""A probe that is slower than this tells too little of a bed, so its silence is no matter of settings (proposals)."""
NEAR: Millis = 10 * MINUTE
TOGETHER, TOGETHER_AT_LEAST = 0.8, 3
"""Two alarms belong together when so many of the one, and at least so often, come with the other (proposal)."""
MARGIN = 1.0
"""°C or %, that a proposed limit of comfort keeps from harm."""

PROBES = frozenset({Condition.SILENT, Condition.STUCK, Condition.FAULTY})
MOISTURE = frozenset({Condition.DRY, Condition.WET, Condition.FLOODED})


def proposal(
    review: Review,
    *,
    watches: Mapping[AlarmKey, Sequence[Watch]],
    delays: Callable[[AlarmKey], Delays],
    stale_points: Callable[[AlarmKey], bool] = lambda _key: False,
) -> Proposal | None:
    """What to change about the worst alarm; None when none serves badly. `watches` are the limits that raise each key,
    `stale_points` says whether the calibration behind a moisture alarm is old.
    """
    for fault, key, mine, window in _faults(review):
        known = watches.get(key, ())
        harms = tuple(w.bound.value for w in known if w.level is Level.HARM)
        about = _About(key, fault, mine, delays(key), _watch(known, mine), window, harms)
        other = _together(key, review.told)
        if other is not None and fault is Fault.FREQUENT:
            return _of(about, Remedy.TOGETHER, other=other)
        if key.condition in MOISTURE and stale_points(key):
            return _of(about, Remedy.CALIBRATE)
        return _remedy(about)
    return None


@dataclass(frozen=True, slots=True)
class _About:
    """One alarm and what it did."""

    key: AlarmKey
    fault: Fault
    mine: Sequence[Activation]
    delays: Delays
    watch: Watch | None
    window: Millis
    harms: tuple[float, ...]
    """Its limits of harm, from which one of comfort keeps its distance."""

    @property
    def harm(self) -> bool:
        return any(a.level is Level.HARM for a in self.mine)


Blamed = tuple[Fault, AlarmKey, Sequence[Activation], Millis]


def _faults(review: Review) -> Iterable[Blamed]:
    """The alarms that serve badly, the worst first."""
    for chatter in review.chattering:
        yield Fault.CHATTERING, chatter.key, chatter.times, chatter.window
    yield from _by_number(review.fleeting, Fault.FLEETING, lambda mine: 0)
    yield from _by_number(review.stale, Fault.STALE, lambda mine: max(review.end - a.began for a in mine))
    if len(review.told) >= ENOUGH and review.frequent and review.share(review.frequent[0][1]) > WORST_SHARE:
        key = review.frequent[0][0]
        began = [a for a in review.activations if a.key == key and review.start <= a.began < review.end]
        yield Fault.FREQUENT, key, began, review.end - review.start


def _by_number(
    found: Sequence[Activation], fault: Fault, window: Callable[[Sequence[Activation]], Millis]
) -> Iterable[Blamed]:
    keys = {a.key: [b for b in found if b.key == a.key] for a in found}
    for key, mine in sorted(keys.items(), key=lambda item: -len(item[1])):
        yield fault, key, mine, window(mine)


def _watch(watches: Sequence[Watch], mine: Sequence[Activation]) -> Watch | None:
    """The limit that raised it, by what its evidence says."""
    bounds = [a.evidence.bound for a in mine if a.evidence is not None]
    fits = [w for w in watches if w.bound.value in bounds]
    return fits[0] if fits else None


def _remedy(about: _About) -> Proposal:
    if about.key.condition is Condition.SILENT:
        return _of_silence(about)
    if about.watch is None or about.harm or (about.fault is Fault.STALE and about.key.condition in PROBES):
        return _of(about, Remedy.LOOK)
    if about.fault is Fault.FLEETING:
        return _longer_on(about, about.watch)
    if about.fault is Fault.STALE:
        return _limit(about, about.watch)
    return _wider(about, about.watch) or _longer_off(about) or _limit(about, about.watch)


def _of_silence(about: _About) -> Proposal:
    """Its silence is three of its intervals: longer ones, if it is only slow."""
    silences = [(a.ended - a.began) + a.evidence.lasting for a in about.mine if a.ended and a.evidence]
    longest = max(silences, default=0)
    every = _up(longest / 3, 5 * MINUTE)
    if about.fault is Fault.STALE or not longest or every > LONGEST_INTERVAL:
        return _of(about, Remedy.LOOK, far=float(longest) if longest else None)
    return _of(about, Remedy.INTERVAL, after=every, far=float(longest))


def _wider(about: _About, watch: Watch) -> Proposal | None:
    """A deadband beyond the furthest that it came back in between."""
    bound, unit = watch.bound.value, _unit(watch)
    back = [abs(a.end.value - bound) for a in about.mine[:-1] if a.end is not None and a.end.value is not None]
    if not back or unit not in WIDEST:
        return None
    now, needed = abs(watch.clear_at - bound), _beyond(max(back), STEPS[unit])
    if needed > WIDEST[unit] or needed <= now:
        return None
    return _of(about, Remedy.DEADBAND, before=now, after=needed, far=max(back), unit=unit)


def _longer_off(about: _About) -> Proposal | None:
    """An off-delay longer than the longest pause in between: its own, and what was left until the limit was passed again."""
    pauses = [
        about.delays.off + max(b.began - about.delays.on - a.ended, 0)
        for a, b in pairwise(about.mine)
        if a.ended is not None
    ]
    needed = _up(max(pauses, default=0) + 1, HOUR // 2)
    if not pauses or needed > LONGEST_DELAY:
        return None
    return _of(about, Remedy.OFF_DELAY, before=float(about.delays.off), after=needed, far=float(max(pauses)))


def _longer_on(about: _About, watch: Watch) -> Proposal:
    """An on-delay after which the longest of them would not have been an alarm."""
    lasted = [max((a.ended or a.began) - a.began - about.delays.off, 0) for a in about.mine]
    needed = _up(watch.on_delay + max(lasted) + 1, 15 * MINUTE)
    return _of(about, Remedy.ON_DELAY, before=float(watch.on_delay), after=needed, far=float(max(lasted)))


def _limit(about: _About, watch: Watch) -> Proposal:
    """A limit of comfort beyond the furthest value that was told; harm keeps its distance, or the bed needs more."""
    values = [a.evidence.value for a in about.mine if a.evidence is not None and a.evidence.value is not None]
    unit = _unit(watch)
    if not values or watch.level is not Level.COMFORT or unit not in STEPS:
        return _of(about, Remedy.LOOK)
    far = min(values) if watch.below else max(values)
    size = STEPS[unit]
    after = (math.ceil(far / size) - 1) * size if watch.below else (math.floor(far / size) + 1) * size
    if any(abs(after - harm) < MARGIN or (after < harm) is watch.below for harm in about.harms):
        return _of(about, Remedy.LOOK)
    return _of(about, Remedy.LIMIT, before=watch.bound.value, after=after, far=far, unit=unit, below=watch.below)


def _together(key: AlarmKey, told: Sequence[Annunciation]) -> AlarmKey | None:
    """Another alarm that comes with this one nearly each time."""
    mine = [one.at for one in told if one.key == key]
    for other in dict.fromkeys(one.key for one in told if one.key != key):
        theirs = [one.at for one in told if one.key == other]
        met = sum(any(abs(at - there) <= NEAR for there in theirs) for at in mine)
        if met >= TOGETHER_AT_LEAST and met >= TOGETHER * len(mine):
            return other
    return None


def _of(
    about: _About,
    remedy: Remedy,
    *,
    before: float | None = None,
    after: float | None = None,
    far: float | None = None,
    unit: str = "",
    below: bool | None = None,
    other: AlarmKey | None = None,
) -> Proposal:
    return Proposal(
        key=about.key,
        fault=about.fault,
        remedy=remedy,
        times=len(about.mine),
        before=before,
        after=after,
        far=far,
        unit=unit,
        below=below,
        other=other,
        window=about.window,
        harm=about.harm,
    )


def _unit(watch: Watch) -> str:
    return "°C" if watch.measures == "temperature" else "%" if watch.statistic != "rise in an hour" else "points"


def _beyond(value: float, size: float) -> float:
    """The next whole step above a value."""
    return (math.floor(value / size + 1e-9) + 1) * size


def _up(value: float, size: Millis) -> float:
    return float(math.ceil(value / size) * size)
