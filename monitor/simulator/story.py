"""The demo's story: one keeper, four bins of different worms, one January night. Invented throughout.

A tub whose mat somebody has switched off in the afternoon; trays that need nothing; a long box that is drying
out beside its thermostat; a crate whose only probe dies at bedtime. A fifth, the guest tub, is left alone:
whoever tries the demo may speak for its probe. Deterministic: the same seed tells the same story.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from monitor.readings import DAY, HOUR, MINUTE, Millis
from monitor.simulator.bed import Air, Bed, Lump, Mat, State, heat_capacity, moisture, step, transmittance
from monitor.simulator.weather import Night, Place, air

START: Millis = int(datetime(2026, 1, 14, 16, tzinfo=UTC).timestamp() * 1000)
"""17:00 by the clock of the demo's time zone (Europe/Prague, UTC+1 in January)."""

SPEED = 900.0
"""From 17:00 to 09:00 in 64 seconds."""

TEATIME = 17.0
EVERY: Millis = 5 * MINUTE
NIGHT = Night(high=4.5, low=-4.0, dew_point=-2.0)
PLACES = {"shed": Place(lift=3.0, lag=1.5), "wash-house": Place(lift=11.0, lag=4.0)}

HDPE, FOAM, FELT, SOFTWOOD = 0.48, 0.029, 0.05, 0.12  # W/mK [memory]; foam [seen] on a lecture sheet
UNDER, OVER = 0.163, 0.108  # m²K/W, films under a floor and over a top: ASHRAE Fundamentals [memory]

DRY_COUNTS, WET_COUNTS = (12.0, 2680.0), (80.0, 1430.0)
"""The moisture probe's two points, per cent and counts; demo.yaml has the same."""


DAILY_LOSS = 0.7
"""Points of moisture that the long box lost on the day before."""


@dataclass(frozen=True, slots=True)
class Message:
    """What a probe says: its topic, its bytes, and when by the beds' clock."""

    topic: str
    payload: bytes
    at: Millis


def tub() -> tuple[Bed, State]:
    """Plastic with foam round it, 0.8 × 0.5 m, 18 kg of bedding 10 cm deep, a 20 W mat under one half. Lumps:
    the far half, the near half, and what lies within three centimetres of the mat.
    """
    side = transmittance((0.003, HDPE), (0.025, FOAM)) * 2.6 * 0.10
    floor = transmittance((0.003, HDPE), (0.025, FOAM), film=UNDER) * 0.4
    top = transmittance((0.018, FELT), film=OVER) * 0.4
    holds, loses = heat_capacity(18, 0.76), side + floor + top
    lumps = (
        Lump(holds * 0.5, loses * 0.5, 1.5),
        Lump(holds * 0.4, loses * 0.38, 1.5),
        Lump(holds * 0.1, loses * 0.12),
    )
    mat = Mat(watts=20, spread=(0.0, 0.0, 1.0))
    bed = Bed(lumps, (0.4, 2.6), dry=18 * 0.24, surface=0.4, cover=0.1, mat=mat)
    return bed, State((22.0, 22.6, 23.0), water=18 * 0.76)


def trays() -> tuple[Bed, State]:
    """Two wooden trays one above the other under a blanket, well fed and warm of themselves."""
    loses = transmittance((0.019, SOFTWOOD), (0.012, FELT)) * 1.2
    holds = heat_capacity(34, 0.78)
    bed = Bed((Lump(holds / 2, loses / 2, 9.0), Lump(holds / 2, loses / 2, 7.0)), (1.5,), 34 * 0.22, 0.2, 0.1)
    return bed, State((16.6, 15.4), water=34 * 0.78)


def longbox() -> tuple[Bed, State]:
    """Softwood, 1.2 × 0.3 m, hardly covered, with a 75 W mat along its floor under a thermostat; and dry."""
    side = transmittance((0.019, SOFTWOOD)) * 3.0 * 0.18
    floor = transmittance((0.019, SOFTWOOD), (0.025, FOAM), film=UNDER) * 0.36
    top = transmittance((0.008, FELT), film=OVER) * 0.36
    holds, loses = heat_capacity(28, 0.69), side + floor + top
    lumps = (Lump(holds / 2, loses / 2, 2.0), Lump(holds / 2, loses / 2, 2.0))
    mat = Mat(watts=75, spread=(0.5, 0.5), thermostat=(22.5, 23.5))
    return Bed(lumps, (0.4,), 28 * 0.31, 0.36, 0.5, mat), State(
        (22.9, 22.4), water=28 * 0.31 / 0.308 * 0.692, mat_on=True
    )


def crate() -> tuple[Bed, State]:
    """A plastic crate of 16 kg in the mildest corner."""
    holds, loses = heat_capacity(16, 0.76), transmittance((0.003, HDPE), (0.012, FELT)) * 0.7
    return Bed(
        (Lump(holds / 2, loses / 2, 3.0), Lump(holds / 2, loses / 2, 3.0)), (1.0,), 16 * 0.24, 0.2, 0.1
    ), State((16.2, 15.8), water=16 * 0.76)


def counts(per_cent: float) -> float:
    """What the moisture probe sends in bedding of so much moisture, by its two points."""
    (dry, high), (wet, low) = DRY_COUNTS, WET_COUNTS
    return high + (per_cent - dry) / (wet - dry) * (low - high)


STANDS_IN = {"tub": "shed", "trays": "shed", "longbox": "wash-house", "crate": "wash-house"}

DEEDS: tuple[tuple[float, str], ...] = ((27.85, "mat on"), (32.5, "water"))
"""Hours of the day and what the keeper does: the mat at 03:51, once woken; three litres of water at 08:30."""


class Story:
    """Lives the beds forward and says what their probes send. `start` counts as 17:00."""

    def __init__(self, start: Millis = START, seed: int = 1) -> None:
        self._start, self._at = start, start
        self._chance = random.Random(seed)  # noqa: S311 (noise of a probe)
        self._inside = {"shed": 5.5, "wash-house": 13.5}
        made = {"tub": tub(), "trays": trays(), "longbox": longbox(), "crate": crate()}
        self._beds = {name: bed for name, (bed, _) in made.items()}
        self._states = {name: state for name, (_, state) in made.items()}
        self._pending: list[Message] = self._stored_day()

    @property
    def at(self) -> Millis:
        """How far the story has been told."""
        return self._at

    @property
    def states(self) -> Mapping[str, State]:
        """Every bed as it truly is, which no probe says exactly."""
        return dict(self._states)

    @property
    def airs(self) -> Mapping[str, Air]:
        """The air of each place."""
        return {name: air(inside, NIGHT) for name, inside in self._inside.items()}

    def hour(self) -> float:
        """The hour of the day; runs on past 24."""
        return TEATIME + (self._at - self._start) / HOUR

    def until(self, at: Millis) -> Iterator[Message]:
        """Everything said up to and including `at`, in order of time; the beds are lived forward meanwhile."""
        while self._at <= at:
            yield from self._pending
            self._pending = []
            yield from self._said()
            self._live_a_minute()

    # ── beds ──────────────────────────────────────────────────────────────────────────────────────────────

    def _live_a_minute(self) -> None:
        before = self.hour()
        for name, place in PLACES.items():
            self._inside[name] = place.after(self._inside[name], NIGHT.outdoors(before), 60)
        airs = self.airs
        for name, bed in self._beds.items():
            self._states[name] = step(bed, self._states[name], airs[STANDS_IN[name]], 60)
        self._at += MINUTE
        for hour, deed in DEEDS:
            if before < hour <= self.hour():
                self._do(deed)

    def _do(self, deed: str) -> None:
        if deed == "water":
            box = self._states["longbox"]
            self._states["longbox"] = replace(box, water=box.water + 3.0)
        else:
            self._states["tub"] = replace(self._states["tub"], mat_on=deed == "mat on")

    # ── probes ────────────────────────────────────────────────────────────────────────────────────────────

    def _said(self) -> Iterator[Message]:
        """What is said in this minute: each probe has its own one of every five, and all speak in the first."""
        minute = (self._at - self._start) // MINUTE
        speakers: list[Callable[[], Iterator[Message]]] = [
            self._air_says, self._tub_says, self._trays_say, self._longbox_says, self._crate_says,
        ]  # fmt: skip
        for phase, speaks in enumerate(speakers):
            if minute == 0 or minute % 5 == phase:
                yield from speaks()

    def _reads(self, celsius: float, noise: float = 0.04) -> float:
        """A 12-bit 1-wire chip: noise, then steps of 1/16 °C."""
        return round((celsius + self._chance.gauss(0, noise)) * 16) / 16

    def _counts(self, per_cent: float) -> int:
        return round(counts(per_cent) + self._chance.gauss(0, 6))

    def _message(self, topic: str, payload: str) -> Message:
        return Message(f"probes/{topic}", payload.encode(), self._at)

    def _air_says(self) -> Iterator[Message]:
        for name, there in self.airs.items():
            humidity = round(there.humidity + self._chance.gauss(0, 0.8), 1)
            said = {"taken": _iso(self._at), "air": {"celsius": self._reads(there.temperature), "damp": humidity}}
            yield self._message(f"{name}-air", json.dumps(said))

    def _tub_says(self) -> Iterator[Message]:
        far, near, mat = self._states["tub"].temperatures
        said = {
            "taken": _iso(self._at),
            "far": self._reads(far),
            "near": self._reads(near),
            "mat": self._reads(mat),
        }
        yield self._message("tub", json.dumps(said))

    def _trays_say(self) -> Iterator[Message]:
        for name, celsius in zip(("upper", "lower"), self._states["trays"].temperatures, strict=True):
            yield self._message(f"trays-{name}", f"{self._reads(celsius):g}")

    def _longbox_says(self) -> Iterator[Message]:
        bed, state = self._beds["longbox"], self._states["longbox"]
        left, right = state.temperatures
        yield self._message(
            "longbox", self._senml(self._at, self._reads(left), self._reads(right), moisture(bed, state))
        )

    def _senml(self, at: Millis, left: float, right: float, per_cent: float) -> str:
        """An RFC 8428 pack with base name and base time."""
        return json.dumps(
            [
                {"bn": "longbox-", "bt": at / 1000, "n": "left", "u": "Cel", "v": left},
                {"n": "right", "u": "Cel", "v": right},
                {"n": "damp", "u": "count", "v": self._counts(per_cent)},
            ]
        )

    def _stored_day(self) -> list[Message]:
        """The long box's probe keeps its readings when nobody listens, and sends yesterday's first."""
        bed, state = self._beds["longbox"], self._states["longbox"]
        now = moisture(bed, state)
        packs = []
        for ago in range(26 * HOUR, 0, -30 * MINUTE):
            left, right = (self._reads(t) for t in state.temperatures)
            packs.append(self._senml(self._start - ago, left, right, now + DAILY_LOSS * ago / DAY))
        return [self._message("longbox", pack) for pack in packs]

    def _crate_says(self) -> Iterator[Message]:
        """Its chip dies at 22:40: the power-on value and the lost-chip value in turn, then nothing."""
        dying = (self.hour() - 22.65) * 12
        if dying < 0:
            yield self._message("crate", f"{self._reads(self._states['crate'].temperatures[0]):g}")
        elif dying < 5:
            yield self._message("crate", ("-127", "-127", "85.000", "-127", "85.000")[int(dying)])


def _iso(at: Millis) -> str:
    return datetime.fromtimestamp(at / 1000, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
