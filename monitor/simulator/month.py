"""A January of the same beds as in the demo's night, for a household of two. Invented throughout.

The weather has noise, a cold week and a mild one; a chip gives out, a mat dies in the night, the long box dries. What
keepers do about it is asked of `do`. Deterministic: the same seed tells the same month.
"""

from __future__ import annotations

import json
import random
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from monitor.readings import DAY, HOUR, MINUTE, Millis
from monitor.simulator.bed import State, moisture, step
from monitor.simulator.story import PLACES, STANDS_IN, Message, counts, crate, longbox, trays, tub
from monitor.simulator.weather import Day, Night, Weather, air

START: Millis = int(datetime(2025, 12, 31, 23, tzinfo=UTC).timestamp() * 1000)
"""Midnight of 1 January 2026 by the clock of the demo's time zone (Europe/Prague, UTC+1 in January)."""
DAYS = 31
EVERY: Millis = 15 * MINUTE

CHIP_DIES, MAT_DIES = 6, 20
"""On which day of the month."""
DEEDS = ("mat", "mat off", "water", "chip")
"""What a keeper can do: the tub's mat on (a new one if need be) or off; three litres for the long box; a new chip for the
crate.
"""


def weather(seed: int = 1) -> tuple[Day, ...]:
    """Thirty-three days from 31 December on: a day remembers two thirds of the one before (invented)."""
    chance = random.Random(seed)  # noqa: S311 (weather, not a secret)
    made, odd = [], 0.0
    for n in range(DAYS + 2):
        odd = 0.66 * odd + chance.gauss(0, 1.2)
        mean = 1.5 + odd - (6.0 if 11 <= n <= 15 else 0.0) + (2.0 if 23 <= n <= 27 else 0.0)
        swing = 2.6 + 1.2 * chance.random()
        made.append(Day(mean - swing, mean + swing, mean - swing - 0.5))
    return tuple(made)


class Month:
    """Lives the beds forward and says what their probes send, every quarter of an hour."""

    def __init__(self, start: Millis = START, seed: int = 1) -> None:
        self._start, self._at = start, start
        self._chance = random.Random(seed)  # noqa: S311 (noise of a probe)
        self._weather = Weather(start - DAY, weather(seed))
        self._inside = {"shed": 5.0, "wash-house": 13.0}
        made = {"tub": tub(), "trays": trays(), "longbox": longbox(), "crate": crate()}
        self._beds = {name: bed for name, (bed, _) in made.items()}
        self._states = {name: state for name, (_, state) in made.items()}
        self._states["tub"] = replace(self._states["tub"], mat_on=True)
        self._states["longbox"] = replace(self._states["longbox"], water=28 * 0.31 / 0.24 * 0.76)
        self._mat_dead = self._chip_dead = False

    @property
    def states(self) -> Mapping[str, State]:
        """Every bed as it truly is, which no probe says exactly."""
        return dict(self._states)

    def outdoors(self, at: Millis) -> float:
        """°C outdoors."""
        return self._weather.outdoors(at)

    def do(self, deed: str) -> None:
        """What a keeper has done (`DEEDS`)."""
        if deed in ("mat", "mat off"):
            self._mat_dead = False
            self._states["tub"] = replace(self._states["tub"], mat_on=deed == "mat")
        elif deed == "water":
            box = self._states["longbox"]
            self._states["longbox"] = replace(box, water=box.water + 3.0)
        elif deed == "chip":
            self._chip_dead = False

    def next(self) -> tuple[Millis, list[Message]]:
        """The next quarter of an hour: when it is, and what is said in it."""
        for _ in range(EVERY // MINUTE):
            self._live_a_minute()
        return self._at, list(self._said())

    # ── beds ──────────────────────────────────────────────────────────────────────────────────────────────

    def _live_a_minute(self) -> None:
        outdoors = self.outdoors(self._at)
        night = Night(outdoors, outdoors, self._weather.day(self._at).dew)
        for name, place in PLACES.items():
            self._inside[name] = place.after(self._inside[name], outdoors, 60)
        airs = {name: air(inside, night) for name, inside in self._inside.items()}
        for name, bed in self._beds.items():
            self._states[name] = step(bed, self._states[name], airs[STANDS_IN[name]], 60)
        self._airs = airs
        self._at += MINUTE
        day, since = divmod(self._at - self._start, DAY)
        if (day + 1, since) == (MAT_DIES, 17 * HOUR):
            self._mat_dead = True
        if (day + 1, since) == (CHIP_DIES, 11 * HOUR):
            self._chip_dead = True
        if self._mat_dead:
            self._states["tub"] = replace(self._states["tub"], mat_on=False)

    # ── probes ────────────────────────────────────────────────────────────────────────────────────────────

    def _said(self) -> Iterator[Message]:
        for name, there in self._airs.items():
            damp = round(there.humidity + self._chance.gauss(0, 0.8), 1)
            said = {"taken": _iso(self._at), "air": {"celsius": self._reads(there.temperature), "damp": damp}}
            yield self._message(f"{name}-air", json.dumps(said))
        zones = zip(("far", "near", "mat"), self._states["tub"].temperatures, strict=True)
        yield self._message("tub", json.dumps({"taken": _iso(self._at), **{z: self._reads(t) for z, t in zones}}))
        for name, celsius in zip(("upper", "lower"), self._states["trays"].temperatures, strict=True):
            yield self._message(f"trays-{name}", f"{self._reads(celsius):g}")
        yield self._message("longbox", self._senml())
        yield from self._crate_says()

    def _crate_says(self) -> Iterator[Message]:
        celsius = self._reads(self._states["crate"].temperatures[0])
        yield self._message("crate", "-127" if self._chip_dead else f"{celsius:g}")

    def _senml(self) -> str:
        """An RFC 8428 pack with base name and base time."""
        bed, state = self._beds["longbox"], self._states["longbox"]
        left, right = (self._reads(t) for t in state.temperatures)
        return json.dumps(
            [
                {"bn": "longbox-", "bt": self._at / 1000, "n": "left", "u": "Cel", "v": left},
                {"n": "right", "u": "Cel", "v": right},
                {"n": "damp", "u": "count", "v": round(counts(moisture(bed, state)) + self._chance.gauss(0, 6))},
            ]
        )

    def _reads(self, celsius: float) -> float:
        """A 12-bit 1-wire chip: noise, then steps of 1/16 °C; once in a great while a wrong bit on a long wire."""
        if self._chance.random() < 1e-4:
            return -40.0 if self._chance.random() < 0.5 else 60.0
        return round((celsius + self._chance.gauss(0, 0.04)) * 16) / 16

    def _message(self, topic: str, payload: str) -> Message:
        return Message(f"probes/{topic}", payload.encode(), self._at)


def _iso(at: Millis) -> str:
    return (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=at)).strftime("%Y-%m-%dT%H:%M:%SZ")
