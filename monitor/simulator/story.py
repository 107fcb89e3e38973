"""The demo's story: one keeper, four bins of different worms, one January night. Invented throughout.

A tub whose mat somebody has switched off; trays that need nothing; a long box that is drying out beside its
thermostat; a crate whose only probe dies at bedtime. A fifth, the guest tub, is left alone: whoever tries the
demo may speak for its probe. Where the weeks before it were lived (`weeks`), the night is as they left it and a
mat dies besides. Deterministic: the same seed tells the same story.
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
DIES = ((17.6, "longbox-mat dies"),)
"""What happens by itself where the weeks before were lived: there the keeper does what is told (`hand`)."""


class Yard:
    """Every bed and the air of every place as they truly are, and how their probes put it. `outdoors` tells °C and the
    dew point at a time.
    """

    def __init__(self, outdoors: Callable[[Millis], tuple[float, float]], *, at: Millis, seed: int = 1) -> None:
        self.at, self.outdoors = at, outdoors
        self._chance = random.Random(seed)  # noqa: S311 (noise of a probe)
        self.inside = {"shed": 5.5, "wash-house": 13.5}
        made = {"tub": tub(), "trays": trays(), "longbox": longbox(), "crate": crate()}
        self.beds = {name: bed for name, (bed, _) in made.items()}
        self.states = {name: state for name, (_, state) in made.items()}

    @property
    def airs(self) -> Mapping[str, Air]:
        """The air of each place."""
        _, dew = self.outdoors(self.at)
        return {name: air(inside, Night(0.0, 0.0, dew)) for name, inside in self.inside.items()}

    def live(self, seconds: int) -> None:
        """The beds so much later, in air that stays as it is."""
        outdoors, _ = self.outdoors(self.at)
        for name, place in PLACES.items():
            self.inside[name] = place.after(self.inside[name], outdoors, seconds)
        airs = self.airs
        for name, bed in self.beds.items():
            self.states[name] = step(bed, self.states[name], airs[STANDS_IN[name]], seconds, longest=seconds)
        self.at += seconds * 1000

    def do(self, deed: str) -> None:
        """Whatever is done in the beds: the tub's mat on or off, three litres for the long box, its mat dead or new."""
        if deed == "water":
            box = self.states["longbox"]
            self.states["longbox"] = replace(box, water=box.water + 3.0)
        elif deed in ("mat on", "mat off"):
            self.states["tub"] = replace(self.states["tub"], mat_on=deed == "mat on")
        else:
            bed, (new, _) = self.beds["longbox"], longbox()
            if bed.mat is not None and new.mat is not None:
                watts = 0.0 if deed == "longbox-mat dies" else new.mat.watts
                self.beds["longbox"] = replace(bed, mat=replace(bed.mat, watts=watts))

    def _reads(self, celsius: float, noise: float = 0.04) -> float:
        """A 12-bit 1-wire chip: noise, then steps of 1/16 °C."""
        return round((celsius + self._chance.gauss(0, noise)) * 16) / 16

    def message(self, topic: str, payload: str) -> Message:
        """One of them, now."""
        return Message(f"probes/{topic}", payload.encode(), self.at)

    def air_says(self) -> Iterator[Message]:
        """The air of both places, each with its own time."""
        for name, there in self.airs.items():
            humidity = round(there.humidity + self._chance.gauss(0, 0.8), 1)
            said = {"taken": _iso(self.at), "air": {"celsius": self._reads(there.temperature), "damp": humidity}}
            yield self.message(f"{name}-air", json.dumps(said))

    def tub_says(self) -> Iterator[Message]:
        """One JSON message for three zones."""
        zones = zip(("far", "near", "mat"), self.states["tub"].temperatures, strict=True)
        yield self.message("tub", json.dumps({"taken": _iso(self.at), **{z: self._reads(t) for z, t in zones}}))

    def trays_say(self) -> Iterator[Message]:
        """Plain numbers."""
        for name, celsius in zip(("upper", "lower"), self.states["trays"].temperatures, strict=True):
            yield self.message(f"trays-{name}", f"{self._reads(celsius):g}")

    def longbox_says(self) -> Iterator[Message]:
        """SenML, and its plug, which says whether the thermostat has it on."""
        yield self.longbox_said(self.at, moisture(self.beds["longbox"], self.states["longbox"]))
        yield self.plug_says()

    def plug_says(self) -> Message:
        """Whether the long box's plug is on, whatever its mat makes of that."""
        said = {"taken": _iso(self.at), "on": int(self.states["longbox"].mat_on)}
        return self.message("longbox-plug", json.dumps(said))

    def longbox_said(self, at: Millis, per_cent: float) -> Message:
        """An RFC 8428 pack with base name and base time."""
        left, right = (self._reads(t) for t in self.states["longbox"].temperatures)
        damp = round(counts(per_cent) + self._chance.gauss(0, 6))
        pack = [
            {"bn": "longbox-", "bt": at / 1000, "n": "left", "u": "Cel", "v": left},
            {"n": "right", "u": "Cel", "v": right},
            {"n": "damp", "u": "count", "v": damp},
        ]
        return self.message("longbox", json.dumps(pack))

    def crate_says(self) -> Iterator[Message]:
        """A plain number."""
        yield self.message("crate", f"{self._reads(self.states['crate'].temperatures[0]):g}")

    def guest_says(self) -> Message:
        """What somebody reads off the thermometer of the guest tub, which stands in a room where people live."""
        return self.message("guest", f"{self._reads(23.0, 0.3):g}")


class Story:
    """Lives the beds forward and says what their probes send. `start` counts as 17:00. With a `yard` the night goes on as
    the weeks before have left it.
    """

    def __init__(self, start: Millis = START, seed: int = 1, *, yard: Yard | None = None) -> None:
        self._start = start
        self.yard = yard or Yard(self._tonight, at=start, seed=seed)
        self._deeds = DEEDS if yard is None else DIES
        self._pending: list[Message] = []
        if yard is None:
            self._pending = self._stored_day()
        else:
            self._live_a_minute()  # what belongs to this one was said by the weeks

    @property
    def at(self) -> Millis:
        """How far the story has been told."""
        return self.yard.at

    @property
    def states(self) -> Mapping[str, State]:
        """Every bed as it truly is, which no probe says exactly."""
        return dict(self.yard.states)

    @property
    def airs(self) -> Mapping[str, Air]:
        """The air of each place."""
        return self.yard.airs

    def _tonight(self, at: Millis) -> tuple[float, float]:
        return NIGHT.outdoors(TEATIME + (at - self._start) / HOUR), NIGHT.dew_point

    def hour(self) -> float:
        """The hour of the day; runs on past 24."""
        return TEATIME + (self.at - self._start) / HOUR

    def until(self, at: Millis) -> Iterator[Message]:
        """Everything said up to and including `at`, in order of time; the beds are lived forward meanwhile."""
        while self.at <= at:
            yield from self._pending
            self._pending = []
            yield from self._said()
            self._live_a_minute()

    def _live_a_minute(self) -> None:
        before = self.hour()
        self.yard.live(60)
        for hour, deed in self._deeds:
            if before < hour <= self.hour():
                self.yard.do(deed)

    def _said(self) -> Iterator[Message]:
        """What is said in this minute: each probe has its own one of every five, and all speak in the first."""
        minute = (self.at - self._start) // MINUTE
        yard = self.yard
        speakers: list[Callable[[], Iterator[Message]]] = [
            yard.air_says, yard.tub_says, yard.trays_say, yard.longbox_says, self._crate_says,
        ]  # fmt: skip
        for phase, speaks in enumerate(speakers):
            if minute == 0 or minute % 5 == phase:
                yield from speaks()

    def _stored_day(self) -> list[Message]:
        """The long box's probe keeps its readings when nobody listens, and sends yesterday's first."""
        bed, state = self.yard.beds["longbox"], self.yard.states["longbox"]
        now = moisture(bed, state)
        days = range(26 * HOUR, 0, -30 * MINUTE)
        return [self.yard.longbox_said(self._start - ago, now + DAILY_LOSS * ago / DAY) for ago in days]

    def _crate_says(self) -> Iterator[Message]:
        """Its chip dies at 22:40: the power-on value and the lost-chip value in turn, then nothing."""
        dying = (self.hour() - 22.65) * 12
        if dying < 0:
            yield from self.yard.crate_says()
        elif dying < 5:
            yield self.yard.message("crate", ("-127", "-127", "85.000", "-127", "85.000")[int(dying)])


def _iso(at: Millis) -> str:
    return datetime.fromtimestamp(at / 1000, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
