"""What is wired where, and where it is sent: frozen values out of the publisher's settings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path

from monitor.addresses import Broker
from monitor.readings import MINUTE, Millis


class Sends(StrEnum):
    """What a value is in, as SenML says it (RFC 8428 §12.1); `SWITCH` is true or false and has no unit."""

    CELSIUS = "Cel"
    HUMIDITY = "%RH"
    COUNTS = "count"
    KILOGRAM = "kg"
    SWITCH = ""


@dataclass(frozen=True, slots=True)
class OneWire:
    """A temperature chip on the 1-wire bus, by the kernel's name of it."""

    id: str


@dataclass(frozen=True, slots=True)
class Kernel:
    """A file of a kernel driver: `room` is hwmon or iio, `chip` the driver's name, `channel` such as temp1 or voltage0.
    `at` tells apart two chips of one name: the name of the device, such as 1-0044.
    """

    room: str
    chip: str
    channel: str
    at: str | None = None


@dataclass(frozen=True, slots=True)
class Humidity:
    """An SHT3x on an I²C bus without a driver, and which of its two values."""

    bus: int
    address: int
    measures: Sends


@dataclass(frozen=True, slots=True)
class Converter:
    """An input of an ADS1115 on an I²C bus without a driver."""

    bus: int
    address: int
    channel: int


@dataclass(frozen=True, slots=True)
class Pin:
    """A line of a GPIO chip; `on` is whether a high level means on."""

    line: int
    chip: str = "/dev/gpiochip0"
    on_is_high: bool = True
    pull: str = "none"


Place = OneWire | Kernel | Humidity | Converter | Pin


@dataclass(frozen=True, slots=True)
class Scale:
    """How a weighing cell's counts become kilograms."""

    zero: float
    per_kg: float


@dataclass(frozen=True, slots=True)
class Wired:
    """One probe: where it is, how often and how it is read. `samples` readings make one value each `every` ms."""

    id: str
    place: Place
    sends: Sends
    topic: str
    every: Millis = MINUTE
    samples: int = 3
    scale: Scale | None = None


@dataclass(frozen=True, slots=True)
class Buffer:
    """Where what is not confirmed waits: in memory, or in `file` too. `at_most` bytes; `written` is how long it may be
    unconfirmed before it goes to the card.
    """

    file: Path | None = None
    at_most: int = 4_000_000
    written: Millis = 10 * MINUTE


@dataclass(frozen=True, slots=True)
class Publishing:
    """The publisher's settings, accepted as a whole."""

    id: str
    site: str
    broker: Broker
    probes: Mapping[str, Wired]
    buffer: Buffer = field(default_factory=Buffer)

    @property
    def status(self) -> str:
        """The topic on which it says how it is."""
        return f"publishers/{self.id}"

    def mark(self, probe: str) -> str:
        """The topic on which the daemon says how much of a probe it has on disk."""
        return f"vermistat/{self.site}/durable/{probe}"
