"""Mats and lids by what the bed does: dead in hours, warm while off, losing faster than usual; and whether what was done worked.

What an hour misses, r = dT - a (room - T̄) - b u - c - d, is asked of two hypotheses by the log of their likelihood ratio, summed
and never below zero (CUSUM: Page 1954, Biometrika 41:100-115; memory). a, b, c and d are those of six hours ago, so that a
fault cannot hide in what was just learned of it. d is a slow disturbance (food, sun, water) out of a two-state Kalman filter.
Thresholds were chosen on simulated beds. A mat that is half dead is asked for by itself, and is told more softly than a dead one.
"""

from __future__ import annotations

import math
import statistics
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import NamedTuple

from monitor.bed.plan import Path
from monitor.bed.zone import Hour, Zone, doubts, used
from monitor.readings import HOUR, Millis

BACK = 6
"""Hours that the numbers it is judged by are old (chosen on simulated beds)."""
DEAD, WEAK, LOSING, HOT_WHILE_OFF = 5.5, 8.0, 6.0, 8.0
"""Sums of log-likelihood ratios at which it is told (chosen on simulated beds)."""
STEP = 3.0
"""Of a single hour at most: no one reading decides (chosen on simulated beds)."""
CAP = 16.0
"""A sum grows no further, so that it is over soon after it is over (proposal)."""
ON = 0.05
"""Share of an hour from which a mat counts as on."""
GONE = 0.5
"""Of a mat that is half dead, the share of its strength that is gone (proposal)."""
MORE_LOSS = 0.8
"""An open lid: the loss is 1.8 times as large (proposal)."""
ABOVE_ROOM = 2.0
"""K a bed must be above its room for its loss to be seen."""
LEAK = 0.05
LEAST_NOISE = 0.05
"""K, what a probe misses at least in an hour."""
FIRST_NOISE = 0.2
WEEK = 168
KNOWN = 2.0
"""Standard errors that a mat's strength must be above nothing to be judged by (proposal)."""
RHO, MOVES, DISTURBED, READ = 0.95, 0.03, 0.015, 0.09
"""Of the filter: how d keeps an hour, K an hour of bed and of d, K of a reading (chosen on simulated beds)."""


class Filter(NamedTuple):
    """Kalman's mean (warmth °C, disturbance K/h) and covariance."""

    warmth: float
    disturbance: float = 0.0
    tt: float = READ**2
    td: float = 0.0
    dd: float = 0.01


Numbers = tuple[float, float, float, float, bool]
"""a, b, c, d, and whether b was known."""


@dataclass(frozen=True, slots=True)
class Watch:
    """One zone's mat and lid. Sums of log-likelihood ratios; `residuals` of the last week in K; `earlier` numbers by hour."""

    newest: Millis | None = None
    filter: Filter | None = None
    earlier: tuple[Numbers, ...] = ()
    residuals: tuple[float, ...] = ()
    dead: float = 0.0
    weak: float = 0.0
    warm_off: float = 0.0
    losing: float = 0.0
    since: Millis | None = None
    """The end of the hour before the sum of `dead` last left zero: about when it died."""

    @property
    def mat_dead(self) -> bool:
        """It is on by its log, and the bed does not feel it."""
        return self.dead > DEAD

    @property
    def mat_weak(self) -> bool:
        """It is on by its log, and the bed feels about half of it. Told softly: a false one in three months on simulated beds."""
        return self.weak > WEAK and not self.mat_dead

    @property
    def mat_stuck_on(self) -> bool:
        """It is off by its log, and the bed warms as if it were on: a welded relay, or the sun."""
        return self.warm_off > HOT_WHILE_OFF

    @property
    def losing_heat(self) -> bool:
        """It loses heat faster than usual: a lid, a draught, wet felt. Told softly: half of such were found on simulated beds."""
        return self.losing > LOSING


def watch(before: Watch, zone: Zone, hour: Hour) -> Watch:
    """Take up one hour of a zone that has `observe`d it already. An hour without both ends, air and duty decides nothing."""
    if before.newest is not None and hour.at <= before.newest:
        return before
    joined = before.newest is not None and hour.at - before.newest == HOUR
    numbers = before.earlier if joined else ()
    duty = hour.duty if zone.warmed else 0.0
    if hour.start_c is None or hour.end_c is None or hour.air_c is None or duty is None:
        return replace(before, newest=hour.at, earlier=(), filter=None)
    model = used(zone)
    state = _filtered(before.filter if joined else None, model, (hour.start_c, hour.end_c), (hour.air_c, duty))
    known = zone.warmed and model[1] > KNOWN * doubts(zone)[1]
    after = replace(
        before, newest=hour.at, filter=state, earlier=(*numbers, (*model, state.disturbance, known))[-BACK - 1 :]
    )
    if len(numbers) < BACK:
        return after
    return _judged(after, numbers[-BACK], hour, duty)


def noise(state: Watch) -> float:
    """K that one hour usually misses, by the median of the last week, which no fault moves."""
    if len(state.residuals) < 24:
        return FIRST_NOISE
    middle = statistics.median(abs(r) for r in state.residuals)
    return max(
        LEAST_NOISE, 1.4826 * middle
    )  # 1.4826: MAD of a normal distribution (Rousseeuw & Croux 1993; memory)


def forgiven(state: Watch) -> Watch:
    """After the diary says that somebody looked, or that the bed was changed: sums begin anew, the noise stays."""
    return replace(state, dead=0.0, weak=0.0, warm_off=0.0, losing=0.0, since=None)


def _judged(state: Watch, numbers: Numbers, hour: Hour, duty: float) -> Watch:
    a, b, c, d, known = numbers
    start, end, air = hour.start_c or 0.0, hour.end_c or 0.0, hour.air_c or 0.0
    middle = (start + end) / 2
    rest = end - start - a * (air - middle) - b * duty - c - d
    sigma = noise(state)
    dead = _summed(state.dead, rest, -b * duty, sigma) if known and duty > ON else state.dead
    weak = _summed(state.weak, rest, -GONE * b, sigma) if known and duty > ON else state.weak
    warm = _summed(state.warm_off, rest, b, sigma) if known and duty <= ON else state.warm_off
    if middle - air >= ABOVE_ROOM:
        losing = max(0.0, _summed(state.losing, rest, MORE_LOSS * a * (air - middle), sigma) - LEAK)
    else:
        losing = max(0.0, state.losing - LEAK)
    since = state.since if dead > 0 and state.dead > 0 else hour.at - HOUR if dead > 0 else None
    residuals = (*state.residuals, rest)[-WEEK:]
    return replace(state, dead=dead, weak=weak, warm_off=warm, losing=losing, since=since, residuals=residuals)


def _summed(total: float, rest: float, shift: float, sigma: float) -> float:
    """The sum with one hour's evidence that what is missed has the mean `shift` and not 0."""
    ratio = (rest * rest - (rest - shift) ** 2) / (2 * sigma * sigma)
    return min(CAP, max(0.0, total + min(STEP, max(-STEP, ratio))))


def _filtered(
    state: Filter | None, model: tuple[float, float, float], ends: tuple[float, float], drives: tuple[float, float]
) -> Filter:
    start, end = ends
    a, b, c = model
    warmth, d, tt, td, dd = state or Filter(start)
    told = warmth + a * (drives[0] - warmth) + b * drives[1] + c + d
    keeps = 1 - a
    ptt = keeps * keeps * tt + 2 * keeps * td + dd + MOVES**2
    ptd = RHO * (keeps * td + dd)
    pdd = RHO * RHO * dd + DISTURBED**2
    total = ptt + READ**2
    wrong = end - told
    first, second = ptt / total, ptd / total
    return Filter(
        told + first * wrong,
        RHO * d + second * wrong,
        ptt - first * ptt,
        ptd - first * ptd,
        pdd - second * ptd,
    )


class Worked(StrEnum):
    """What the bed says of something that was done."""

    YES = "the bed answers as it was learned"
    NO = "the bed does not answer as it was learned"
    UNSURE = "the bed cannot have answered enough yet"


@dataclass(frozen=True, slots=True)
class Trial:
    """Something was done at `at`: the way without it, the way with it, and K that a reading an hour may stray (1 sigma)."""

    at: Millis
    without: Path
    with_it: Path
    sigma: float


ANSWERS_WITHIN = 2
"""Hours in which a bed must answer (the keeper is told then)."""
SURE = 3.0
"""Log-likelihood ratio that decides (20 to 1)."""


def answered(trial: Trial, hours: int, warmth: float) -> Worked:
    """Whether `warmth` °C, `hours` after it was done, is as with it or as without it."""
    if not 1 <= hours <= len(trial.without.warmth):
        return Worked.UNSURE
    without, with_it = trial.without.warmth[hours - 1], trial.with_it.warmth[hours - 1]
    spread = trial.sigma * math.sqrt(hours)
    ratio = ((warmth - without) ** 2 - (warmth - with_it) ** 2) / (2 * spread * spread)
    return Worked.YES if ratio > SURE else Worked.NO if ratio < -SURE else Worked.UNSURE


def hours_to_tell(trial: Trial) -> int | None:
    """Hours after which a rehearsal can tell a live mat from a dead one; None when it cannot within a day."""
    for hours, (without, with_it) in enumerate(
        zip(trial.without.warmth, trial.with_it.warmth, strict=True), start=1
    ):
        spread = trial.sigma * math.sqrt(hours)
        if (with_it - without) ** 2 / (2 * spread * spread) > 2 * SURE:
            return hours
    return None


QUIET_NIGHTS = 7


def not_needed(chances: tuple[float | None, ...]) -> bool:
    """Spring: with the mat off, none of the last seven evenings' P(minimum < a degree above the limit) reached 1 in 20."""
    last = chances[-QUIET_NIGHTS:]
    return len(last) == QUIET_NIGHTS and all(chance is not None and chance < 0.05 for chance in last)
