"""Chips on an I²C bus that no kernel driver holds, through smbus2: SHT3x (air) and ADS1115 (converter)."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from monitor.publisher.faults import Fault, Faulty, of_the_system
from monitor.publisher.wired import Converter, Humidity, Sends
from monitor.science import converter, hygrometer

Open = Callable[[int], Any]
"""A bus by its number, as `smbus2.SMBus` opens it."""


def _open(bus: int) -> Any:
    try:
        from smbus2 import SMBus
    except ImportError:
        raise Faulty(Fault.LIBRARY, "smbus2 is not installed: see the how-to of the publisher.") from None
    return SMBus(bus)


@contextmanager
def _bus(number: int, opened: Open, what: str) -> Iterator[Any]:
    try:
        with opened(number) as bus:
            yield bus
    except OSError as error:
        raise of_the_system(error, what) from error


class HumidityChip:
    """One value of an SHT3x: a single shot, read back when it is done."""

    def __init__(self, place: Humidity, opened: Open = _open, rest: Callable[[float], None] = time.sleep) -> None:
        self._place, self._opened, self._rest = place, opened, rest
        self._said = f"The SHT3x at {place.address:#04x}"

    def read(self) -> float:
        """°C or % relative humidity."""
        with _bus(self._place.bus, self._opened, self._said) as bus:
            from smbus2 import i2c_msg

            bus.i2c_rdwr(i2c_msg.write(self._place.address, hygrometer.MEASURE))
            self._rest(hygrometer.LONGEST)
            answer = i2c_msg.read(self._place.address, 6)
            bus.i2c_rdwr(answer)
        air = hygrometer.frame(bytes(answer))
        if air is None:
            raise Faulty(Fault.CRC, f"{self._said} came with a wrong check sum: look at the cable and its length.")
        return air.celsius if self._place.measures is Sends.CELSIUS else air.humidity


class ConverterInput:
    """One input of an ADS1115: one conversion, and its counts."""

    def __init__(self, place: Converter, opened: Open = _open, rest: Callable[[float], None] = time.sleep) -> None:
        self._place, self._opened, self._rest = place, opened, rest
        self._said = f"The ADS1115 at {place.address:#04x}"

    def read(self) -> float:
        """Counts, 0 to 32767 for 0 to 4.096 V."""
        address, wanted = self._place.address, converter.one_shot(self._place.channel)
        with _bus(self._place.bus, self._opened, self._said) as bus:
            bus.write_i2c_block_data(address, converter.CONFIG, list(wanted.to_bytes(2, "big")))
            self._rest(converter.LONGEST)
            config = int.from_bytes(bytes(bus.read_i2c_block_data(address, converter.CONFIG, 2)), "big")
            word = int.from_bytes(bytes(bus.read_i2c_block_data(address, converter.CONVERSION, 2)), "big")
        # another program may have asked it for another input meanwhile: then these are not our counts
        if config != wanted:
            raise Faulty(Fault.BUS, f"{self._said} was not done, or does what another program asked of it.")
        return float(converter.counts(word))
