"""The air around a bed in the hours ahead: days of its own past that began alike, or an outdoor forecast through its walls.

The past's hours that look like the last day's, by shape first and level second (analogs: Delle Monache et al. 2013, Mon. Weather
Rev. 141:3498-3516; memory), and until there are enough the air stays as it is. How the room follows the outdoors is learned
by recursive least squares: A[k] - A[k-1] = q · (outdoors - A) + s · (15 °C - A) + d.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache
from itertools import dropwhile

from monitor.readings import HOUR, Millis

AHEAD = 24
"""Hours looked ahead."""
DAYS = 45
"""Of the room's own past that are looked through (proposal, chosen on simulated rooms)."""
KEPT = DAYS * 24 + 26
LAGS = (1, 2, 3, 6, 9, 12, 18, 24)
LEVEL = 0.15
"""Weight of how warm it was against how it moved (proposal)."""
MEMBERS = 12
"""Days taken (proposal)."""
FRESH = 3
"""Hours after which an air is no longer what it is now (proposal)."""
BRIDGED = 12
"""Hours without air that a straight line is laid across for looking back at days alike; never learned from (proposal)."""
COMPARED = 4
"""Lags of the last day that must be known to look for days alike (proposal)."""
FORGETS = 0.998
MIDDLE = 15.0
"""°C, what walls and ground are reckoned from; d takes up the difference (proposal)."""
OUTDOORS_AFTER = 7 * 24
"""Hours with an outdoor value before the room's answer to it is gone by (proposal)."""


class Air(StrEnum):
    """Where the air of the hours ahead comes from."""

    AS_NOW = "the room stays as it is now"
    ALIKE = "days of the room's own past that began alike"
    OUTDOORS = "the outdoor forecast, through the room's own walls"


@dataclass(frozen=True, slots=True)
class Room:
    """Hourly means of the air, the newest last, None where there was none; and how it follows the outdoors."""

    newest: Millis | None = None
    past: tuple[float | None, ...] = ()
    theta: tuple[float, float, float] = (0.10, 0.02, 0.0)
    spread: tuple[float, ...] = (0.25, 0.0, 0.0, 0.25, 0.0, 9.0)
    learned: int = 0


def heard(room: Room, at: Millis, air: float | None, *, outdoors: float | None = None) -> Room:
    """The hour that ended at `at`: its mean air, and the outdoors of the same hour if any. What is older changes nothing."""
    if room.newest is not None and at <= room.newest:
        return room
    missing = 0 if room.newest is None else min(KEPT, round((at - room.newest) / HOUR) - 1)
    before = room.past[-1] if room.past and not missing else None
    heard_of = (*room.past, *[None] * missing, air)[-KEPT:]
    # nothing is kept of the time before the first air was known: a site that began yesterday and one that was restarted
    # then are in the same room
    past = tuple(dropwhile(lambda one: one is None, heard_of))
    room = replace(room, newest=at, past=past)
    if air is None or before is None or outdoors is None:
        return room
    return _followed(room, before, air, outdoors)


def now(room: Room) -> float | None:
    """°C of the last three hours' newest mean."""
    return next((air for air in reversed(room.past[-FRESH:]) if air is not None), None)


def ahead(room: Room) -> tuple[Air, list[tuple[float, ...]]]:
    """The air of the next 24 h, one row a member; no member when it is not known now."""
    here = now(room)
    if here is None:
        return Air.AS_NOW, []
    source, members = _goes_on(room.past, here)
    return source, list(members)


@lru_cache(maxsize=4)
def _goes_on(past: tuple[float | None, ...], here: float) -> tuple[Air, tuple[tuple[float, ...], ...]]:
    """Kept for the other zones in the same air."""
    filled = _bridged(past)
    best = _alike(filled)
    if len(best) < MEMBERS:
        return Air.AS_NOW, ((here,) * AHEAD,)
    return Air.ALIKE, tuple([tuple([here - filled[j] + t for t in filled[j + 1 : j + 1 + AHEAD]]) for j in best])


def through_walls(room: Room, forecast: Sequence[float]) -> list[float] | None:
    """The room's air of the next 24 h under `forecast`, °C outdoors of the next hours. None before its answer is learned."""
    here = now(room)
    if here is None or room.learned < OUTDOORS_AFTER or len(forecast) < AHEAD:
        return None
    q, s, d = room.theta
    q, s = min(0.9, max(0.0, q)), min(0.9, max(0.0, s))
    rate = max(1e-3, q + s)
    keeps, told = math.exp(-rate), []
    for outside in forecast[:AHEAD]:
        goes_to = (q * outside + s * MIDDLE + d) / rate
        here = goes_to + (here - goes_to) * keeps
        told.append(here)
    return told


def _bridged(past: Sequence[float | None]) -> list[float]:
    """Short gaps by a straight line; NaN in long ones, which makes every comparison with them false."""
    filled = [math.nan if air is None else air for air in past]
    last: int | None = None
    for index, air in enumerate(past):
        if air is None:
            continue
        if last is not None and 1 < index - last <= BRIDGED + 1:
            for between in range(last + 1, index):
                filled[between] = filled[last] + (air - filled[last]) * (between - last) / (index - last)
        last = index
    if last is not None:
        for index in range(last + 1, min(len(filled), last + 1 + FRESH)):
            filled[index] = filled[last]
    return filled


def _alike(filled: Sequence[float]) -> list[int]:
    """Where in the past the last day's shape was most alike, at this time of the day, an hour more or less."""
    newest = len(filled) - 1
    if newest < max(LAGS):
        return []
    level = filled[newest]
    shape = [(lag, moved) for lag in LAGS if math.isfinite(moved := filled[newest - lag] - level)]
    if len(shape) < COMPARED:
        return []
    found = []
    for place in _places(newest):
        base = filled[place]
        apart = 0.0
        for lag, own in shape:
            differs = filled[place - lag] - base - own
            apart += differs * differs
        apart = apart / len(shape) + LEVEL * (base - level) ** 2
        if math.isfinite(apart) and math.isfinite(sum(filled[place + 1 : place + 1 + AHEAD])):
            found.append((apart, place))
    return [place for _, place in heapq.nsmallest(MEMBERS, found)]


def _places(newest: int) -> list[int]:
    return [
        place
        for day in range(1, DAYS + 1)
        for near in (-1, 0, 1)
        if max(LAGS) <= (place := newest - 24 * day + near) <= newest - AHEAD
    ]


def _followed(room: Room, before: float, air: float, outdoors: float) -> Room:
    middle = (before + air) / 2
    x, y = outdoors - middle, MIDDLE - middle
    q, s, d = room.theta
    aa, ab, ac, bb, bc, cc = room.spread
    p, r, t = aa * x + ab * y + ac, ab * x + bb * y + bc, ac * x + bc * y + cc
    total = FORGETS + x * p + y * r + t
    wrong = min(1.0, max(-1.0, air - before - q * x - s * y - d)) / total
    first = (aa - p * p / total, ab - p * r / total, ac - p * t / total)
    rest = (bb - r * r / total, bc - r * t / total, cc - t * t / total)
    scaled = tuple(value / FORGETS for value in (*first, *rest))
    grows = scaled[0] + scaled[3] + scaled[5] > 500
    return replace(
        room,
        theta=(q + p * wrong, s + r * wrong, d + t * wrong),
        spread=room.spread if grows else scaled,
        learned=room.learned + 1,
    )
