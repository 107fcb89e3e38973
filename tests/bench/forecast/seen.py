"""What a daemon would have of those beds: readings with all that ails probes, the mat's log, what stands in the settings.

Forecasters are handed `Handed` and nothing else; no field of it comes from what a bed is made of but what a keeper weighs and
reads off a label.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bench.forecast.truth import Year

RESOLUTION = 0.0625
"""K: a step of the usual thermometer chip at 12 bits."""
WINTER_MONTHS_DAYS = ((0, 90), (273, 365))
"""January to March and October to December: the colder half of a year."""


@dataclass(frozen=True)
class Handed:
    """One bed, hour by hour. An hour ends when its index ends: what is known at the end of `hour` is [: hour + 1]."""

    warmth: np.ndarray
    """(hours, 2) °C: the mean of the last two readings of each quarter hour, NaN when there was none."""
    lowest: np.ndarray
    """(hours, 2) °C: the least of centred means of five readings in each hour, complete half an hour later."""
    room: np.ndarray
    """(hours,) °C, NaN when there was none."""
    duty: np.ndarray
    """(hours,) share on, by the log."""
    outside: np.ndarray | None
    """(hours, 25) °C: the outdoor forecast at hand after each hour, this hour first; None when there is none."""
    limits: tuple[float, float]
    mode: str
    setpoint: float | None
    timer: tuple[int, int] | None
    """From which hour of the day, for how many."""
    watts: float
    kilograms: float
    loss: float
    """W/K as reckoned from the vessel: what such vessels usually lose, not what this one does."""


@dataclass(frozen=True)
class Probed:
    """The same for N beds, with what it is scored by."""

    handed: tuple[Handed, ...]
    held: np.ndarray
    """(hours · 4, 2, N) °C: what a probe without noise reads in the same place, its bias kept."""
    reads: np.ndarray
    """(hours · 4, 2, N) °C: centred means of five readings, NaN where fewer than three were there."""
    limits: np.ndarray
    """(2, N) °C."""
    season: np.ndarray
    """(hours,) bool."""


def season(hours: int, *, before_days: int = 0) -> np.ndarray:
    """(hours,) bool: the colder half-year, from so many days before it begins."""
    day = np.arange(hours) // 24 % 365
    return np.logical_or.reduce(
        [(day >= begins - before_days) & (day < ends) for begins, ends in WINTER_MONTHS_DAYS]
    )


def smooth(values: np.ndarray) -> np.ndarray:
    """Centred means of five along the first axis, NaN where fewer than three are there."""
    padded = np.pad(values, [(2, 2)] + [(0, 0)] * (values.ndim - 1), constant_values=np.nan)
    windows = np.stack([padded[n : n + len(values)] for n in range(5)])
    there = np.isfinite(windows)
    count = there.sum(axis=0)
    total = np.where(there, windows, 0).sum(axis=0)
    return np.where(count >= 3, total / np.maximum(count, 1), np.nan)


def readings(true: np.ndarray, chance: np.random.Generator, *, noise: float, outages: np.ndarray) -> np.ndarray:
    """(quarters, …) °C as read: noise, the chip's step, one in fifty lost, and whole outages."""
    read = np.round((true + chance.normal(0, noise, true.shape)) / RESOLUTION) * RESOLUTION
    lost = chance.random(true.shape) < 0.02
    return np.where(lost | outages, np.nan, read)


def _outages(chance: np.random.Generator, shape: tuple[int, int], a_year: float) -> np.ndarray:
    quarters, columns = shape
    away = np.zeros(shape, dtype=bool)
    for column in range(columns):
        for _ in range(chance.poisson(a_year * quarters / 35040)):
            begins = int(chance.uniform(0, quarters))
            away[begins : begins + int(chance.uniform(2, 12) * 4), column] = True
    return away


def _hourly(read: np.ndarray, last: int) -> np.ndarray:
    """(hours, …): the mean of the `last` readings of each hour that are there."""
    quarters = read.reshape(-1, 4, *read.shape[1:])[:, 4 - last :]
    there = np.isfinite(quarters)
    count = there.sum(axis=1)
    return np.where(count > 0, np.where(there, quarters, 0).sum(axis=1) / np.maximum(count, 1), np.nan)


def limits(
    held: np.ndarray, chance: np.random.Generator, *, thermostat: np.ndarray, setpoint: np.ndarray
) -> np.ndarray:
    """(2, N): below it fall 8 to 20 % of the colder half-year's nights; 1.5 K from a thermostat's setpoint at least."""
    hours = len(held) // 4
    nights = held[: hours // 24 * 96].reshape(-1, 96, *held.shape[1:])[:, :36].min(axis=1)
    cold = nights[season(hours)[: len(nights) * 24 : 24]]
    share = chance.uniform(0.08, 0.20, held.shape[1:])
    found = np.empty(held.shape[1:])
    for side, bed in np.ndindex(found.shape):
        found[side, bed] = np.quantile(cold[:, side, bed], share[side, bed])
    return np.where(thermostat, np.minimum(found, setpoint - 1.5), found)


def outdoor_forecast(outside: np.ndarray, chance: np.random.Generator, error: float) -> np.ndarray:
    """(hours, 25) °C: a forecast each six hours, whose error is of `error` K and lasts about ten hours."""
    hours = len(outside)
    ahead = np.empty((hours, 25))
    keeps = np.exp(-1 / 10)
    padded = np.concatenate((outside, np.full(36, outside[-1])))
    for issued in range(0, hours, 6):
        wrong = np.empty(36)
        wrong[0] = chance.normal(0, error)
        for step, draw in enumerate(chance.normal(0, error * np.sqrt(1 - keeps**2), 35), start=1):
            wrong[step] = keeps * wrong[step - 1] + draw
        told = padded[issued : issued + 36] + wrong
        for hour in range(issued, min(issued + 6, hours)):
            ahead[hour] = told[hour - issued : hour - issued + 25]
    return ahead


def probed(
    year: Year,
    chance: np.random.Generator,
    *,
    noise: float = 0.1,
    outages: float = 10.0,
    outdoor: float | None = None,
) -> Probed:
    """Look at the beds through probes; `outdoor` K of error gives every keeper an outdoor forecast."""
    quarters, _, count = year.near_far.shape
    beds, hours = year.beds, quarters // 4
    held = year.near_far + chance.normal(0, 0.15, (2, count))
    away = _outages(chance, (quarters, count), outages)
    read = readings(held, chance, noise=noise, outages=away[:, None, :])
    room = readings(
        year.room + chance.normal(0, 0.15, count),
        chance,
        noise=noise,
        outages=_outages(chance, (quarters, count), outages),
    )
    smoothed = smooth(read)
    thermostat = beds.mode == "thermostat"
    edges = limits(held, chance, thermostat=thermostat, setpoint=beds.setpoint)
    warmth, rooms = _hourly(read, 2), _hourly(room, 4)
    spans = smoothed.reshape(hours, 4, 2, count)
    lowest = np.where(
        np.isfinite(spans).any(axis=1), np.nanmin(np.where(np.isfinite(spans), spans, np.inf), axis=1), np.nan
    )
    weighed = beds.mass * chance.uniform(0.85, 1.15, count)
    given = []
    for n in range(count):
        mode = str(beds.mode[n])
        given.append(
            Handed(
                warmth=warmth[:, :, n],
                lowest=lowest[:, :, n],
                room=rooms[:, n],
                duty=year.duty[:, n],
                outside=None if outdoor is None else outdoor_forecast(year.outside[:, n], chance, outdoor),
                limits=(float(edges[0, n]), float(edges[1, n])),
                mode=mode,
                setpoint=float(round(beds.setpoint[n] * 2) / 2) if mode == "thermostat" else None,
                timer=(int(beds.looks[n]), int(beds.span[n])) if mode == "timer" else None,
                watts=float(round(beds.watts[n])),
                kilograms=float(round(weighed[n])),
                loss=float(0.24 * weighed[n] ** 0.55),
            )
        )
    return Probed(tuple(given), held, smoothed, edges, season(hours))
