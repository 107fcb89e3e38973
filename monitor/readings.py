"""What a probe said, in canonical units: the data everything else passes on.

Time is `Millis` everywhere inside: whole milliseconds since 1970-01-01T00:00:00Z, always UTC. An
integer cannot lack a time zone, costs nothing at 20,000 readings a second, and is what the store keeps;
local time exists only at the edges (settings in, words out). A span is whole milliseconds as well.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import IntEnum, StrEnum

from monitor.errors import BadValue

Millis = int
SECOND: Millis = 1000
MINUTE: Millis = 60 * SECOND
HOUR: Millis = 60 * MINUTE
DAY: Millis = 24 * HOUR

RESOLUTION = 10_000
"""Stored steps per unit: 0.0001 °C keeps every 1/16 °C step of a 12-bit 1-wire probe exactly."""


class Measures(StrEnum):
    """The quantity of a probe. Canonical units: °C, %, %RH, kg; a moisture probe's value is what it sends."""

    TEMPERATURE = "temperature"
    MOISTURE = "moisture"
    HUMIDITY = "humidity"
    MASS = "mass"
    """What a scale or a weighing cell under a bin says."""
    POWER = "power"
    """What a mat's plug draws, in W, or 1 and 0 where it only says on or off; never what a probe measures."""


class Quality(IntEnum):
    """How far one reading is to be trusted, decided once on arrival and stored with it."""

    GOOD = 0
    OUT_OF_RANGE = 1
    """Impossible for the quantity or the probe."""
    POWER_ON = 2
    """85.000 °C without a neighbour near it: the 1-wire power-on value."""
    DISCONNECTED = 3
    """−127 °C: the microcontroller convention for a lost 1-wire chip."""
    JUMP = 4
    """Further from the last good reading than a bed can move in that time."""
    STUCK = 5
    """The same value to the last digit for longer than a living bed can hold it."""
    STALE = 6
    """Good, but already older on arrival than the probe's silence: judged in its own time, never as now."""
    AHEAD = 7
    """Its own time lies in the future by more than a clock may drift."""
    RETAINED = 8
    """A retained message without its own time: shown, never judged."""
    EARLY = 9
    """Good, and its own time is later than a clock of ours that cannot be right: judged as of its arrival until the
    true time is known."""

    @property
    def trusted(self) -> bool:
        """Whether the value may be judged at all."""
        return self in (Quality.GOOD, Quality.STALE, Quality.EARLY)


@dataclass(frozen=True, slots=True)
class Reading:
    """One value of one probe at one time. Raises BadValue for a number that is not finite.

    `value` is canonical: °C, %RH, kg, and for moisture what the probe sends (counts or per cent), because
    the calibration that turns it into wet-basis moisture may still change.
    `arrival` is the store's number of it, 0 until stored.
    """

    probe: str
    at: Millis
    value: float
    received_at: Millis
    quality: Quality = Quality.GOOD
    own_time: bool = False
    arrival: int = 0

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise BadValue(f"{self.probe}: {self.value} is not a number")


@dataclass(frozen=True, slots=True)
class Undated:
    """A value whose time nobody knows (queued while we were away): kept and shown, never judged."""

    probe: str
    value: float
    received_at: Millis
    arrival: int = 0


class RefusalKind(StrEnum):
    """Why bytes did not become a reading."""

    NOT_A_NUMBER = "not a number"
    NOT_JSON = "not JSON"
    NOT_THERE = "nothing at that place"
    NOT_SENML = "not SenML"
    WRONG_UNIT = "wrong unit"
    BAD_TIME = "bad time"
    TOO_LONG = "too long"
    EMPTY = "empty"
    UNKNOWN_TOPIC = "no probe has this topic"
    FAULT = "a fault of this program"


@dataclass(frozen=True, slots=True)
class Refusal:
    """Bytes that did not become a reading: counted, kept and shown. `excerpt` is at most 200 bytes."""

    topic: str
    probe: str | None
    kind: RefusalKind
    reason: str
    excerpt: bytes
    received_at: Millis


@dataclass(frozen=True, slots=True)
class Beside:
    """What a topic's messages say of whatever sends them, beside its readings: the newest of each, None when never said.
    A unit is empty where the message tells none.
    """

    topic: str
    battery: float | None = None
    battery_unit: str = ""
    signal: float | None = None
    signal_unit: str = ""

    def after(self, older: Beside | None) -> Beside:
        """This, and what only an older message said."""
        if older is None:
            return self
        told = self if self.battery is not None else older
        heard = self if self.signal is not None else older
        return Beside(self.topic, told.battery, told.battery_unit, heard.signal, heard.signal_unit)


def restored(steps: int) -> float:
    """The canonical value of a stored integer."""
    return steps / RESOLUTION
