"""What its own recent errors make of a forecast: a probability, and a band as wide as it must be.

Errors of the last 20 days' issues within two hours of this one. The band follows its own misses (adaptive conformal inference:
Gibbs & Candès 2021, NeurIPS 34:1660-1672; memory): α grows by γ(0.10 - miss) an hour. Quantiles of few errors are taken at
(n + 1)q, as conformal prediction does.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from monitor.readings import HOUR, Millis

HORIZONS = (12, 24)
KEPT = 20 * 24 + 2
ENOUGH = 30
"""Errors before they dress: about a week (proposal)."""
WIDE, GAMMA = 0.10, 0.005
"""Share of what may lie outside the band, and how fast the band answers an hour (chosen on simulated beds)."""
KERNEL = 0.12
"""K that one error is smeared over: the step and noise of a probe (proposal)."""
PRESENT = 0.75
"""Share of a window's hours that must have been read for its least to count (proposal)."""

Issued = tuple[float, float | None, float | None]
"""A point in °C, and the ends of its band if it had any."""


@dataclass(frozen=True, slots=True)
class Dress:
    """One quantity's own record: issues that are not over yet, errors an hour each (observed - told, K), and α."""

    horizon: int
    below: bool
    open: tuple[Issued | None, ...] = ()
    errors: tuple[float | None, ...] = ()
    alpha: float = WIDE


@dataclass(frozen=True, slots=True)
class Dressing:
    """All records of one zone and one source of air: least and greatest of 12 and 24 h. `seen` are ends of past hours."""

    newest: Millis | None = None
    seen: tuple[tuple[float, float] | None, ...] = ()
    dresses: tuple[Dress, ...] = tuple(Dress(h, below) for below in (True, False) for h in HORIZONS)


def passed(dressing: Dressing, at: Millis, ends: tuple[float, float] | None) -> Dressing:
    """An hour has passed; `ends` (lowest, highest) are of the hour before it, which is complete only now."""
    if dressing.newest is not None and at <= dressing.newest:
        return dressing
    missed = 0 if dressing.newest is None else min(KEPT, round((at - dressing.newest) / HOUR) - 1)
    for _ in range(missed):
        dressing = _settled(dressing, None)
    return replace(_settled(dressing, ends), newest=at)


def issued(
    dressing: Dressing, points: Sequence[float | None], bands: Sequence[tuple[float, float] | None]
) -> Dressing:
    """What was told in the hour that `passed` took up last, in the order of `dresses`; None where nothing was."""
    dresses = []
    for dress, point, band in zip(dressing.dresses, points, bands, strict=True):
        told = None if point is None else (point, *(band or (None, None)))
        dresses.append(replace(dress, open=(*dress.open[:-1], told)))
    return replace(dressing, dresses=tuple(dresses))


def recent(dress: Dress) -> list[float]:
    """Errors of issues of the last 20 days at this time of day, two hours more or less."""
    errors, horizon, total = dress.errors, dress.horizon, len(dress.errors)
    found = []
    for day in range(1, 21):
        for back in range(24 * day - 2, 24 * day + 3):
            place = back - horizon
            if 0 < place <= total and (error := errors[-place]) is not None:
                found.append(error)
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
    if len(kept) <= dress.horizon:
        return replace(dress, open=(*kept, None))
    told, rest = kept[0], (*kept[1:], None)
    there = [ends for ends in seen[-dress.horizon :] if ends is not None]
    if told is None or len(there) < PRESENT * dress.horizon:
        return replace(dress, open=rest, errors=(*dress.errors, None)[-KEPT:])
    came = min(low for low, _ in there) if dress.below else max(high for _, high in there)
    point, low, high = told
    alpha = dress.alpha
    if low is not None and high is not None:
        alpha = adapted(alpha, not low <= came <= high)
    return Dress(dress.horizon, dress.below, rest, (*dress.errors, came - point)[-KEPT:], alpha)
