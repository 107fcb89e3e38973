"""What a driver of the kernel measures: a file of hwmon or of Industrial I/O.

Sources: Documentation/hwmon/sysfs-interface.rst (temperatures in millidegrees Celsius, humidity in milli per cent, voltages in
millivolts) and Documentation/ABI/testing/sysfs-bus-iio (`_input` in the same units; else (`_raw` + `_offset`) · `_scale`).
"""

from __future__ import annotations

import math
from pathlib import Path

from monitor.publisher.faults import Fault, Faulty, of_the_system
from monitor.publisher.wired import Kernel

_FOLDERS = {"hwmon": "class/hwmon", "iio": "bus/iio/devices"}
_BOUNDS = {"temp": (-60.0, 150.0), "humidity": (0.0, 100.0)}
"""What no chip for beds measures beyond (ours)."""


class KernelChannel:
    """One channel of one device, found by its name at each reading: numbers of devices change with each boot."""

    def __init__(self, place: Kernel, root: Path) -> None:
        self._place = place
        self._devices = root / _FOLDERS[place.room]
        self._said = f"{place.chip} {place.channel}"

    def read(self) -> float:
        """°C, % or, of a voltage, the converter's counts (iio) or millivolts (hwmon)."""
        folder = self._device()
        value = self._hwmon(folder) if self._place.room == "hwmon" else self._iio(folder)
        for kind, (low, high) in _BOUNDS.items():
            if self._place.channel.startswith(kind) and not low <= value <= high:
                raise Faulty(Fault.IMPOSSIBLE, f"{self._said} says {value:g}, which no such chip can measure.")
        return value

    def _hwmon(self, folder: Path) -> float:
        value = self._number(folder / f"{self._place.channel}_input")
        if self._optional(folder / f"{self._place.channel}_fault", 0.0):
            raise Faulty(Fault.BUS, f"{self._said} is said to be faulty by its driver: look at its wires.")
        return value if self._place.channel.startswith("in") else value / 1000

    def _iio(self, folder: Path) -> float:
        stem = folder / f"in_{self._place.channel}"
        if self._place.channel.startswith("voltage"):
            return self._number(Path(f"{stem}_raw"))
        told = Path(f"{stem}_input")
        if told.exists():
            return self._number(told) / 1000
        offset, scale = self._optional(Path(f"{stem}_offset"), 0.0), self._optional(Path(f"{stem}_scale"), 1.0)
        return (self._number(Path(f"{stem}_raw")) + offset) * scale / 1000

    def _device(self) -> Path:
        found = []
        try:
            folders = sorted(self._devices.iterdir())
        except OSError:
            folders = []
        for folder in folders:
            if _name(folder) == self._place.chip and self._place.at in (None, _at(folder)):
                found.append(folder)
        if not found:
            raise Faulty(
                Fault.MISSING,
                f"No {self._place.chip} is known to the kernel: is its driver on, and is it plugged in?",
            )
        if len(found) > 1:
            known = ", ".join(sorted(_at(folder) for folder in found))
            raise Faulty(Fault.MISSING, f"There are several {self._place.chip}: say which with `at`: {known}.")
        return found[0]

    def _number(self, file: Path) -> float:
        try:
            text = file.read_text(encoding="ascii", errors="replace").strip()
        except OSError as error:
            raise of_the_system(error, self._said) from error
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            raise Faulty(Fault.NONSENSE, f"{self._said} says {text[:20]!r}, which is no number.")
        return value

    def _optional(self, file: Path, otherwise: float) -> float:
        return self._number(file) if file.exists() else otherwise


def _name(folder: Path) -> str:
    try:
        return (folder / "name").read_text(encoding="ascii", errors="replace").strip()
    except OSError:
        return ""


def _at(folder: Path) -> str:
    """The device behind it, such as 1-0044 (I²C bus 1, address 0x44)."""
    return (folder / "device").resolve().name if (folder / "device").exists() else folder.resolve().parent.name
