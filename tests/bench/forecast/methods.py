"""How a forecaster is asked: one bed, one hour after the other, nothing of what is still to come.

`issued` walks through what a bed was handed and keeps what was said; a forecaster that wants to know the next hour has no way to.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from bench.forecast.seen import Handed, season

NAN = float("nan")


@dataclass(frozen=True)
class Settings:
    """What stands in the settings of one bed before its first hour."""

    limits: tuple[float, float]
    mode: str
    setpoint: float | None
    timer: tuple[int, int] | None
    watts: float
    kilograms: float
    loss: float


@dataclass(frozen=True)
class SeenHour:
    """What came in one hour, as in `Handed`. `number` counts from midnight on the 1st of January, local standard time."""

    number: int
    warmth: tuple[float, float]
    lowest: tuple[float, float]
    """Of this hour and half an hour before it is complete: use it from the next hour on."""
    room: float
    duty: float
    outside: tuple[float, ...] | None


@dataclass(frozen=True)
class Said:
    """Of one zone after one hour; NaN for what it does not know yet."""

    minimum: float = NAN
    """°C, of the next 12 h."""
    chance: float = NAN
    """That it falls below the limit within the hours that an alarm looks ahead."""
    low: float = NAN
    high: float = NAN
    """The 90 % band of the minimum of 12 h."""


class Forecaster(Protocol):
    def hour(self, seen: SeenHour, *, asked: bool = True) -> tuple[tuple[Said, Said], bool]:
        """Both zones, and whether the mat is said to be dead. Not asked, it learns and says nothing of the hours ahead."""
        ...


@dataclass(frozen=True)
class Issues:
    """All that was said of one bed: (hours, 2) each, and (hours,) of its mat."""

    minimum: np.ndarray
    chance: np.ndarray
    low: np.ndarray
    high: np.ndarray
    dead: np.ndarray
    seconds: float
    asked: int
    """Hours."""


def settings_of(handed: Handed) -> Settings:
    return Settings(
        handed.limits, handed.mode, handed.setpoint, handed.timer, handed.watts, handed.kilograms, handed.loss
    )


def hours_of(handed: Handed, number: int) -> SeenHour:
    outside = None if handed.outside is None else tuple(handed.outside[number].tolist())
    near, far = handed.warmth[number].tolist()
    least = handed.lowest[number].tolist()
    return SeenHour(
        number, (near, far), (least[0], least[1]), float(handed.room[number]), float(handed.duty[number]), outside
    )


def issued(handed: Handed, begins: Callable[[Settings], Forecaster]) -> Issues:
    """Walk one bed through all of its hours; `seconds` is what the forecaster took of each hour that it was asked in.

    The clock is looked at once a day: a look takes as long as an hour. It is not asked in the warmer half-year but for the
    month before the cold, in which its own errors gather.
    """
    forecaster, hours, spent = begins(settings_of(handed)), len(handed.warmth), 0.0
    kept = np.full((4, hours, 2), np.nan)
    dead = np.zeros(hours, dtype=bool)
    asked = season(hours, before_days=30)
    for midnight in range(0, hours, 24):
        day = [hours_of(handed, number) for number in range(midnight, min(hours, midnight + 24))]
        before = time.process_time()
        said = [forecaster.hour(seen, asked=bool(asked[midnight])) for seen in day]
        spent += (time.process_time() - before) * asked[midnight]
        for number, (sides, is_dead) in enumerate(said, start=midnight):
            dead[number] = is_dead
            for side, one in enumerate(sides):
                kept[:, number, side] = one.minimum, one.chance, one.low, one.high
    return Issues(*kept, dead, spent, int(asked.sum()))
