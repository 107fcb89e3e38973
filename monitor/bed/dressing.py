"""What its own recent errors make of a forecast: a probability, and a band as wide as it must be.

Errors of the last 20 days' issues within two hours of this one. The band follows its own misses (adaptive conformal inference:
Gibbs & Candès 2021, NeurIPS 34:1660-1672; memory): α grows by γ(0.10 - miss) an hour. Quantiles of few errors are taken at
(n + 1)q, as conformal prediction does. What is dressed was set right before (`righting`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from monitor.bed import righting
from monitor.bed.righting import Weights
from monitor.readings import HOUR, Millis

HORIZONS = (12, 24)
ALARM = 18
"""Hours that an alarm looks ahead: an evening's word is for the whole night (chosen on simulated beds: 12 told less ahead)."""
KEPT = 20 * 24 + 2
ENOUGH = 30
"""Errors before they dress: about a week (proposal)."""
WIDE, GAMMA = 0.10, 0.005
"""Share of what may lie outside the band, and how fast the band answers an hour (chosen on simulated beds)."""
KERNEL = 0.12
"""K that one error is smeared over: the step and noise of a probe (proposal)."""
PRESENT = 0.75
"""Share of a window's hours that must have been read for its least to count (proposal)."""

Issued = tuple[float | None, ...]
"""°C: the point; the ends of its band, None if it had none; the point as rolled out; °C told for `righting.AGO` hours after;
then, K, the signs that it was set right by."""
SIGNS = 4 + len(righting.AGO)
"""Where the signs begin."""


@dataclass(frozen=True, slots=True)
class Dress:
    """One quantity's own record: issues that are not over yet, errors an hour each (observed - told, K), and α."""

    horizon: int
    below: bool
    open: tuple[Issued | None, ...] = ()
    errors: tuple[float | None, ...] = ()
    alpha: float = WIDE
    weights: Weights = righting.NONE
    spread: Weights = righting.WIDE


@dataclass(frozen=True, slots=True)
class Dressing:
    """All records of one zone and one source of air: least and greatest of 12 and 24 h, then of an alarm's horizon.

    `seen` are ends of past hours.
    """

    newest: Millis | None = None
    seen: tuple[tuple[float, float] | None, ...] = ()
    dresses: tuple[Dress, ...] = (
        *[Dress(h, below) for below in (True, False) for h in HORIZONS],
        *[Dress(ALARM, below) for below in (True, False)],
    )


def passed(dressing: Dressing, at: Millis, ends: tuple[float, float] | None) -> Dressing:
    """An hour has passed; `ends` (lowest, highest) are of the hour before it, which is complete only now."""
    if dressing.newest is not None and at <= dressing.newest:
        return dressing
    missed = 0 if dressing.newest is None else min(KEPT, round((at - dressing.newest) / HOUR) - 1)
    for _ in range(missed):
        dressing = _settled(dressing, None)
    return replace(_settled(dressing, ends), newest=at)


def issued(dressing: Dressing, told: Sequence[Issued | None]) -> Dressing:
    """What was told in the hour that `passed` took up last, in the order of `dresses`; None where nothing was."""
    pairs = zip(dressing.dresses, told, strict=True)
    return replace(dressing, dresses=tuple([replace(d, open=(*d.open[:-1], one)) for d, one in pairs]))


def signs(dressing: Dressing, now_c: float) -> list[float]:
    """K by which it is warmer now than was told 3, 6 and 12 hours ago; 0 where nothing was told."""
    told = dressing.dresses[0].open
    found = []
    for place, ago in enumerate(righting.AGO):
        then = told[-1 - ago] if len(told) > ago else None
        at = None if then is None or len(then) < SIGNS else then[4 + place]
        found.append(0.0 if at is None else now_c - at)
    return found


def recent(dress: Dress) -> list[float]:
    """Errors of issues of the last 20 days at this time of day, two hours more or less."""
    errors, horizon, total = dress.errors, dress.horizon, len(dress.errors)
    found: list[float] = []
    for day in range(1, 21):
        oldest = min(total, 24 * day + 2 - horizon)
        newest = max(1, 24 * day - 2 - horizon)
        if newest <= oldest:
            near = errors[total - oldest : total - newest + 1]
            found += [error for error in near if error is not None]
    return found


def chance_below(point: float, errors: Sequence[float], limit: float) -> float:
    """P(what comes < limit)."""
    room = limit - point
    total = 0.0
    for error in errors:
        scaled = (room - error) / KERNEL
        total += 1.0 if scaled > 5 else 0.0 if scaled < -5 else 0.5 * math.erfc(-scaled / math.sqrt(2))
    return total / len(errors)


def band(point: float, errors: Sequence[float], alpha: float) -> tuple[float, float]:
    """°C between which what comes should lie, α outside it, half on either side."""
    ordered = sorted(errors)
    return point + quantile(ordered, alpha / 2), point + quantile(ordered, 1 - alpha / 2)


def quantile(ordered: Sequence[float], share: float) -> float:
    """Between the two nearest of (n + 1) places; the outermost beyond them."""
    place = share * (len(ordered) + 1) - 1
    low = max(0, min(len(ordered) - 1, math.floor(place)))
    high = min(len(ordered) - 1, low + 1)
    return ordered[low] + (ordered[high] - ordered[low]) * min(1.0, max(0.0, place - low))


def adapted(alpha: float, missed: bool) -> float:
    """The next hour's α after a band that held, or did not."""
    return min(0.5, max(0.002, alpha + GAMMA * (WIDE - missed)))


def _settled(dressing: Dressing, ends: tuple[float, float] | None) -> Dressing:
    seen = (*dressing.seen, ends)[-max(HORIZONS) :]
    return replace(dressing, seen=seen, dresses=tuple(_judged(dress, seen) for dress in dressing.dresses))


def _judged(dress: Dress, seen: Sequence[tuple[float, float] | None]) -> Dress:
    """The issue whose window is over now, if there was one; then a place for this hour's own."""
    kept = dress.open
    horizon, below, alpha, weights, spread = dress.horizon, dress.below, dress.alpha, dress.weights, dress.spread
    if len(kept) <= horizon:
        return Dress(horizon, below, (*kept, None), dress.errors, alpha, weights, spread)
    told, rest = kept[0], (*kept[1:], None)
    there = [ends for ends in seen[-horizon:] if ends is not None]
    if told is None or len(there) < PRESENT * horizon:
        return Dress(horizon, below, rest, (*dress.errors, None)[-KEPT:], alpha, weights, spread)
    came = min([low for low, _ in there]) if below else max([high for _, high in there])
    point, low, high, rolled = told[:4]
    if low is not None and high is not None:
        alpha = adapted(alpha, not low <= came <= high)
    if rolled is not None:
        weights, spread = righting.taught(weights, spread, _known(told[SIGNS:]), came - rolled)
    error = None if point is None else came - point
    return Dress(horizon, below, rest, (*dress.errors, error)[-KEPT:], alpha, weights, spread)


def _known(told: Sequence[float | None]) -> list[float]:
    return [0.0 if one is None else one for one in told]
