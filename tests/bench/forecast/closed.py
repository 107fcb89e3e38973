"""A keeper with a mat to switch by hand, who does what is advised: between 07 and 22 h, an hour late, four times in five.

The same beds live through the same weather five times: never on, always on, on a thermostat, by advice, and by the plain
limit (on when it is too cold, off when it is two kelvin above). Harm is zone-hours below the limit in truth.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Protocol

import numpy as np

from bench.forecast import rooms, seen, truth
from bench.forecast.methods import Forecaster, SeenHour, Settings
from bench.forecast.rooms import STEPS
from bench.forecast.seen import season
from monitor.bed.enough import SPARED, WANTED

AWAKE = (7, 22)
ACTS = 0.8
ON_ABOVE, OFF_BELOW = WANTED, SPARED
"""The chance of falling below the limit within 24 h with the mat off: above the one it is advised on, below the other off."""


class Adviser(Forecaster, Protocol):
    def held(self, duty: float) -> tuple[float, float]:
        """The chance of each zone to fall below its limit within 24 h if the mat is held so all the time."""
        ...


class Probes:
    """Readings of every bed as they come, an hour at a time."""

    def __init__(self, beds: truth.Beds, hours: int, seed: int):
        self.chance = np.random.default_rng([seed, 77])
        count = len(beds.mass)
        self.bias = self.chance.normal(0, 0.15, (2, count))
        self.room_bias = self.chance.normal(0, 0.15, count)
        self.away = seen._outages(self.chance, (hours * 4, count), 10.0)
        self.last = np.full((4, 2, count), np.nan)

    def hour(self, number: int, sides: np.ndarray, room: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """(2, N) warmth, (2, N) lowest, (N,) room."""
        away = self.away[number * 4 : number * 4 + 4]
        read = seen.readings(sides + self.bias, self.chance, noise=0.1, outages=away[:, None, :])
        rooms_read = seen.readings(room + self.room_bias, self.chance, noise=0.1, outages=away)
        smoothed = seen.smooth(np.concatenate((self.last, read)))[4:]
        self.last = read
        none = ~np.isfinite(smoothed).any(axis=0)
        lowest = np.where(none, np.nan, np.where(np.isfinite(smoothed), smoothed, np.inf).min(axis=0))
        return seen._hourly(read, 2)[0], lowest, seen._hourly(rooms_read, 4)[0]


Policy = Callable[[int, np.ndarray, np.ndarray], np.ndarray]
"""(hour, (2, N) what was read last, (N,) what is on) → (N,) what shall be on."""


def lived(
    beds: truth.Beds, room: np.ndarray, policy: Policy, watch: Callable[..., None] | None, seed: int
) -> tuple[np.ndarray, np.ndarray]:
    """(hours · 4, 2, N) truth with the probes' bias kept, (hours, N) duty; a keeper who is asked acts as keepers do."""
    hours, count = len(room) // STEPS, room.shape[1]
    life, probes = truth.begun(beds, room[:STEPS].mean(axis=0)), Probes(beds, hours, seed)
    on = np.zeros(count, dtype=bool)
    sides, duties = np.empty((hours * 4, 2, count)), np.empty((hours, count))
    for hour in range(hours):
        out, duty = life.step(hour, room[hour * STEPS : (hour + 1) * STEPS], forced=on)
        quarters = out[2::3]
        warmth, lowest, room_read = probes.hour(hour, quarters, room[hour * STEPS : (hour + 1) * STEPS][2::3])
        sides[hour * 4 : hour * 4 + 4], duties[hour] = quarters + probes.bias, duty
        if watch is not None:
            watch(hour, warmth, lowest, room_read, duty)
        on = policy(hour, warmth, on)
    return sides, duties


class Keeper:
    """Does what is asked of them: awake, an hour late, four times in five; asked again the next hour when they did not."""

    def __init__(self, count: int, seed: int):
        self.chance = np.random.default_rng([seed, 78])
        self.asked: list[np.ndarray] = [np.zeros(count, dtype=bool)] * 2
        self.heard = np.full(count, True)
        self.wanted = np.zeros(count, dtype=bool)

    def acts(self, hour: int, wanted: np.ndarray, on: np.ndarray) -> np.ndarray:
        """What is on after the keeper acted on what was wanted an hour ago."""
        news = wanted != self.wanted
        self.heard = np.where(news, self.chance.random(len(on)) < ACTS, self.heard)
        if (hour + 1) % 24 == AWAKE[0]:
            self.heard |= self.chance.random(len(on)) < ACTS
        self.wanted = wanted
        before, self.asked = self.asked[0], [self.asked[1], wanted]
        if not AWAKE[0] <= (hour + 1) % 24 < AWAKE[1]:
            return on
        return np.where(self.heard & (before == wanted), wanted, on)


def compared(
    series: str, seed: int, begins: Callable[[Settings], Adviser], *, count: int = 12, hours: int = 8760
) -> dict[str, dict[str, float]]:
    """Hours in harm and kWh, a bed and winter, for each way to hold a mat."""
    chance = np.random.default_rng([seed, 79])
    outside = rooms.outdoors(series, hours)
    room = truth.place(outside, count, chance)
    made = truth.made(chance, count, hours)
    watts = np.clip(made.loss * chance.uniform(7, 15, count) / made.enters, 10, 60)
    dead = np.array([truth.spans(chance, hours, a_year=2, long=(24, 72)) for _ in range(count)])
    beds = replace(made, mode=np.array(["keeper"] * count), watts=watts, dead=dead)
    none = np.zeros(count, dtype=bool)
    bare, unheated = lived(beds, room, lambda hour, warmth, on: none, None, seed)
    limits = seen.limits(bare, chance, thermostat=none, setpoint=beds.setpoint)
    last = np.full((2, count), 20.0)

    def read(warmth: np.ndarray) -> np.ndarray:
        last[:] = np.where(np.isfinite(warmth), warmth, last)
        return last

    def thermostat(hour: int, warmth: np.ndarray, on: np.ndarray) -> np.ndarray:
        above = read(warmth)[0] - limits.max(axis=0) - 1.5
        return np.where(above < -0.5, True, np.where(above > 0.5, False, on))

    by_limit, by_advice = Keeper(count, seed), Keeper(count, seed)

    def plain(hour: int, warmth: np.ndarray, on: np.ndarray) -> np.ndarray:
        above = (read(warmth) - limits).min(axis=0)
        wanted = np.where(above < 0, True, np.where(above > 2, False, by_limit.wanted))
        return by_limit.acts(hour, wanted, on)

    weighed = beds.mass * chance.uniform(0.85, 1.15, count)
    minds = [
        begins(
            Settings(
                (float(limits[0, n]), float(limits[1, n])),
                "keeper",
                None,
                None,
                float(round(watts[n])),
                float(round(weighed[n])),
                float(0.24 * weighed[n] ** 0.55),
            )
        )
        for n in range(count)
    ]
    chances = np.full(count, np.nan)

    def watch(hour: int, warmth: np.ndarray, lowest: np.ndarray, room_read: np.ndarray, duty: np.ndarray) -> None:
        for n, mind in enumerate(minds):
            mind.hour(
                SeenHour(
                    hour,
                    tuple(warmth[:, n].tolist()),
                    tuple(lowest[:, n].tolist()),
                    float(room_read[n]),
                    float(duty[n]),
                    None,
                )
            )
            chances[n] = max(mind.held(0.0))

    def advised(hour: int, warmth: np.ndarray, on: np.ndarray) -> np.ndarray:
        above = (read(warmth) - limits).min(axis=0)
        cold = (chances > ON_ABOVE) | (above < 0)
        enough = (chances < OFF_BELOW) & (above > 0)
        return by_advice.acts(hour, np.where(cold, True, np.where(enough, False, by_advice.wanted)), on)

    counted = season(hours) & (np.arange(hours) >= 21 * 24)
    result = {}
    ways = {
        "always_on": lived(beds, room, lambda hour, warmth, on: ~none, None, seed),
        "thermostat": lived(beds, room, thermostat, None, seed),
        "plain_limit": lived(beds, room, plain, None, seed),
        "ours": lived(beds, room, advised, watch, seed),
    }
    for name, (sides, duty) in {"never": (bare, unheated), **ways}.items():
        below = (sides < limits).reshape(hours, 4, 2, count).mean(axis=1)[counted].sum() / 2
        power = (duty[counted] * watts).sum() / 1000
        result[name] = {"harm_h": round(float(below / count), 1), "kwh": round(float(power / count), 1)}
    return result
