"""A temperature chip through the kernel's w1_therm: its `w1_slave`, or where that is missing its `temperature`.

Source: Documentation/w1/slaves/w1_therm.rst of the Linux kernel (seen).
"""

from __future__ import annotations

from pathlib import Path

from monitor.errors import BadValue
from monitor.publisher.faults import Fault, Faulty, of_the_system
from monitor.publisher.wired import OneWire
from monitor.science import onewire
from monitor.science.onewire import Verdict

_SAID: dict[Verdict, tuple[Fault, str]] = {
    Verdict.NO_CONVERSION: (
        Fault.POWER_ON,
        "says 85 °C, its value before it ever measured: look at its supply and its pull-up",
    ),
    Verdict.NO_POWER: (Fault.POWER, "has too little power to measure: give it its own supply wire"),
    Verdict.DISCONNECTED: (Fault.SILENT, "does not answer: look at its plug and its wires"),
    Verdict.ALL_ZERO: (Fault.SILENT, "says only zeros: its data wire touches ground"),
    Verdict.CRC: (Fault.CRC, "came with a wrong check sum: look at the cable, its length and its pull-up"),
    Verdict.OUT_OF_RANGE: (Fault.IMPOSSIBLE, "says what no such chip can measure"),
}


_NOBODY = -0.062
"""°C that the kernel makes of all ones, where nobody answers (−0.0625, truncated: science.onewire); also of a bed so cold."""


class OneWireChip:
    """One chip on the bus. It remembers its last good value, beside which 85 °C may be true."""

    def __init__(self, place: OneWire, root: Path) -> None:
        self._id = place.id
        self._folder = root / "bus/w1/devices" / place.id
        self._last: float | None = None

    def read(self) -> float:
        """°C. Each reading starts a conversion, which takes up to 0.75 s."""
        text = self._text("w1_slave")
        if text is not None:
            value = self._of_slave(text)
        else:
            text = self._text("temperature")
            if text is None:
                raise Faulty(
                    Fault.MISSING, f"{self._id} is not on the 1-wire bus: look at its plug and its wires."
                )
            value = self._of_temperature(text)
        if value == onewire.POWER_ON and not self._near(value):
            raise self._faulty(Verdict.NO_CONVERSION)
        self._last = value
        return value

    def _near(self, value: float) -> bool:
        return self._last is not None and abs(value - self._last) <= onewire.SUSPECT_STEP

    def _faulty(self, verdict: Verdict) -> Faulty:
        fault, said = _SAID[verdict]
        return Faulty(fault, f"{self._id} {said}.")

    def _text(self, name: str) -> str | None:
        try:
            return (self._folder / name).read_text(encoding="ascii", errors="replace")
        except FileNotFoundError:
            return None
        except OSError as error:
            raise of_the_system(error, self._id) from error

    def _of_slave(self, text: str) -> float:
        if not text.strip():
            raise self._faulty(Verdict.DISCONNECTED)
        try:
            read = onewire.kernel_text(text)
        except BadValue as error:
            raise Faulty(Fault.NONSENSE, f"{self._id}: {error}.") from None
        if read.celsius is None:
            raise self._faulty(read.verdict)
        return read.celsius

    def _of_temperature(self, text: str) -> float:
        """This file tells neither scratchpad nor check sum, so what only a fault is likely to say has to be near the last."""
        try:
            value = int(text) / 1000
        except ValueError:
            what = text.strip()
            if not what:
                raise Faulty(Fault.SILENT, f"{self._id} is still measuring, or does not answer.") from None
            raise Faulty(Fault.NONSENSE, f"{self._id} says {what[:20]!r}, which is no number.") from None
        if value in (127.937, onewire.NO_POWER):
            raise self._faulty(Verdict.NO_POWER)
        if value == _NOBODY and not self._near(value):
            raise self._faulty(Verdict.DISCONNECTED)
        if not onewire.COLDEST <= value <= onewire.HOTTEST:
            raise Faulty(Fault.IMPOSSIBLE, f"{self._id} says {value:g} °C, which no such chip can measure.")
        return value


def on_the_bus(root: Path = Path("/sys")) -> list[str]:
    """The ids of every temperature chip the kernel knows, in order; families as in w1_therm.rst but for 0x10, which counts
    otherwise.
    """
    try:
        names = [entry.name for entry in (root / "bus/w1/devices").iterdir()]
    except OSError:
        return []
    return sorted(name for name in names if name[:3] in FAMILIES)


FAMILIES = ("22-", "28-", "3b-", "42-")
