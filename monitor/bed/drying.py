"""How a bed dries: what it loses a day between two waterings, learned, and how long until it is too dry.

Reckoned in X, kg of water per kg of dry matter, because dry matter stays and what a bed loses a day is about the same
whether it is wet or half dry; in per cent of wet mass the same loss grows ever steeper. The rate of the dry-down at work is a
straight line through its own medians, held to what the last dry-downs were while it is young. That the room's vapour deficit
helps was tried with beds indoors and did not show; the line alone does as well.
"""

from __future__ import annotations

import math
import statistics
from dataclasses import dataclass, replace
from typing import NamedTuple

from monitor.errors import BadValue
from monitor.readings import DAY, HOUR, Millis
from monitor.science.water import dry_basis

REMEMBERED = 4
"""Dry-downs whose rates are kept; their median is what a young one is held to (proposal)."""
RISE = 0.35
"""kg/kg that a bed must have risen above its lowest to have been watered: near 75 % that is 2 points (proposal)."""
SETTLES: Millis = 36 * HOUR
"""After water the 24-hour median still rises; a dry-down begins at its highest point within this time (proposal)."""
APART: Millis = 3 * DAY
"""A silence after which nobody knows what happened between: the dry-down begins anew (proposal)."""
WHOLE: Millis = 4 * DAY
"""A shorter dry-down teaches nothing (proposal)."""
FADES: Millis = 6 * DAY
"""Older medians count less, by a factor e in this time: a bed dries slower as its surface dries (proposal)."""
NOISE = 0.5
"""kg/kg, how far a bed's medians stray from its line: weather, feed and the probe together (proposal; on simulated beds 0.3 to
0.8 did alike and 0.1 did worse)."""
OFF = 0.2
"""kg/kg, how wrong the level itself may be, at 10 to 90 % (proposal; a probe good to 1 point near 75 % moves X by 0.16)."""
SPREAD = 0.5
"""Of a rate itself: how far one dry-down's rate lies from the others' (proposal)."""
FIRST_RATE = 0.05
"""kg/kg a day before anything was learned: 22 °C, 60 %, a loose cover of 0.2 on 0.24 m² and 4.4 kg of dry matter lose
0.08 L a day, 0.018; open ones five times that (derived from `science.air.drying`)."""
LONGEST = 60.0
"""Days: what is further away is not told as a number (proposal)."""


@dataclass(frozen=True, slots=True)
class Drying:
    """What one zone has learned. `rates` are kg/kg a day of the last whole dry-downs; the rest is the open one: since when, its
    newest median, its lowest, and the sums of its line (count, days, days², X, days·X).
    """

    rates: tuple[float, ...] = ()
    begun: Millis | None = None
    newest: Millis | None = None
    ratio: float = 0.0
    top: float = 0.0
    lowest: float = 0.0
    sums: tuple[float, float, float, float, float] = (0.0, 0.0, 0.0, 0.0, 0.0)

    @property
    def known(self) -> bool:
        """Whether any dry-down was lived through to its end."""
        return bool(self.rates)


class Until(NamedTuple):
    """Days until a bed is as dry as a limit: likely, and 10 to 90 %. Infinite where it does not dry."""

    likely: float
    early: float
    late: float


def seen(state: Drying, at: Millis, moisture: float) -> Drying:
    """Take up the median moisture (% wet basis) of the 24 hours until `at`. Called about four times a day, in order.

    Raises BadValue for a moisture from 0 to below 100 % that cannot be. What is not newer than the newest changes nothing.
    """
    ratio = dry_basis(moisture)
    if state.newest is not None and at <= state.newest:
        return state
    if state.begun is None or state.newest is None or at - state.newest > APART:
        return _begin(state, at, ratio)
    if ratio > state.lowest + RISE:
        return _begin(_closed(state), at, ratio)
    if ratio >= state.top and at - state.begun <= SETTLES:
        return _begin(state, at, ratio)
    return _added(state, at, ratio, begun=state.begun, newest=state.newest)


def watered(state: Drying, at: Millis) -> Drying:
    """The diary says that it was watered: the dry-down at work is over, and what comes is not counted to it."""
    if state.newest is None or at < state.newest - APART:
        return state
    return replace(_closed(state), begun=None)


def rate(state: Drying) -> tuple[float, float]:
    """(kg/kg a day, its standard error): the open line, held to the median of what was learned."""
    usual = statistics.median(state.rates) if state.rates else FIRST_RATE
    doubt = SPREAD * max(usual, 0.01) * (1.0 if state.rates else 2.0)
    count, days, squares, total, cross = state.sums
    about = squares - days * days / count if count > 1 else 0.0
    weight, prior = about / NOISE**2, 1 / doubt**2
    slope = -(cross - days * total / count) / about if about > 0 else 0.0
    return (weight * slope + prior * usual) / (weight + prior), math.sqrt(1 / (weight + prior))


def until(state: Drying, limit: float) -> Until | None:
    """Days from the newest median until `limit` % wet basis. None before anything was seen."""
    if state.newest is None or state.begun is None:
        return None
    left = level(state) - dry_basis(limit)
    if left <= 0:
        return Until(0.0, 0.0, 0.0)
    middle, error = rate(state)
    quick, slow = middle + 1.2816 * error, middle - 1.2816 * error
    return Until(_days(left, middle), _days(max(0.0, left - OFF), quick), _days(left + OFF, slow))


def level(state: Drying) -> float:
    """X now: the line's own value at the newest median, halfway to that median."""
    count, days, _, total, _ = state.sums
    if count < 3 or state.begun is None or state.newest is None:
        return state.ratio
    slope, _ = rate(state)
    now = (state.newest - state.begun) / DAY
    fitted = total / count - slope * (now - days / count)
    return (fitted + state.ratio) / 2


def _days(left: float, slope: float) -> float:
    return left / slope if slope > left / 1000 else math.inf


def _begin(state: Drying, at: Millis, ratio: float) -> Drying:
    return Drying(state.rates, at, at, ratio, ratio, ratio, (1.0, 0.0, 0.0, ratio, 0.0))


def _added(state: Drying, at: Millis, ratio: float, *, begun: Millis, newest: Millis) -> Drying:
    days = (at - begun) / DAY
    keep = math.exp(-(at - newest) / FADES)
    count, sum_t, sum_tt, sum_x, sum_tx = (keep * s for s in state.sums)
    return replace(
        state,
        newest=at,
        ratio=ratio,
        top=max(state.top, ratio),
        lowest=min(state.lowest, ratio),
        sums=(count + 1, sum_t + days, sum_tt + days * days, sum_x + ratio, sum_tx + days * ratio),
    )


def _closed(state: Drying) -> Drying:
    """The open dry-down's rate kept, when it was long enough and the bed did dry."""
    if state.begun is None or state.newest is None or state.newest - state.begun < WHOLE:
        return state
    count, days, squares, total, cross = state.sums
    slope = -(cross - days * total / count) / (squares - days * days / count)
    if slope <= 0:
        return state
    return replace(state, rates=(*state.rates, slope)[-REMEMBERED:])


def words_for(days: float) -> str:
    """How far away it is, no finer than it is known."""
    if not days >= 0:
        raise BadValue(f"{days} days cannot be ahead")
    for most, said in (
        (1.5, "within a day"),
        (4.5, "in a few days"),
        (10.0, "in about a week"),
        (18.0, "in about two weeks"),
    ):
        if days < most:
            return said
    return "in three weeks or more" if days < LONGEST else "not for months"
