"""Reading what is wired: one file for each way. Every source has `read`, and raises `Faulty` for whatever is no value."""

from __future__ import annotations

from pathlib import Path
from typing import Protocol

from monitor.publisher.wired import Converter, Humidity, Kernel, OneWire, Place, Wired


class Source(Protocol):
    """One sensor."""

    def read(self) -> float:
        """One value in the unit it is sent in; a switch is 1.0 or 0.0. Raises Faulty."""


def source_of(wired: Wired, *, root: Path = Path("/sys")) -> Source:
    """What reads a probe. `root` is where the kernel's files are. Libraries are imported only where they are needed."""
    found = _source(wired.place, root)
    if wired.scale is not None:
        from monitor.publisher.sources.scale import Weighed

        return Weighed(found, wired.scale)
    return found


def _source(place: Place, root: Path) -> Source:
    if isinstance(place, OneWire):
        from monitor.publisher.sources.onewire import OneWireChip

        return OneWireChip(place, root)
    if isinstance(place, Kernel):
        from monitor.publisher.sources.kernel import KernelChannel

        return KernelChannel(place, root)
    if isinstance(place, Humidity):
        from monitor.publisher.sources.i2c import HumidityChip

        return HumidityChip(place)
    if isinstance(place, Converter):
        from monitor.publisher.sources.i2c import ConverterInput

        return ConverterInput(place)
    from monitor.publisher.sources.pin import PinLine

    return PinLine(place)
