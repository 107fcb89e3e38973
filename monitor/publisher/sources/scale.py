"""A weighing cell: the counts of its converter as kilograms."""

from __future__ import annotations

from monitor.publisher.faults import Fault, Faulty
from monitor.publisher.sources import Source
from monitor.publisher.wired import Scale

NO_MASS = (0, 0x800000, 0xFFFFFF)
"""Counts that are none: both ends of the 24 bits (overloaded, or a wire of the cell is off), and the middle to the count, which
the kernel's driver makes of a data line that never moves (`value ^= 0x800000`, drivers/iio/adc/hx711.c; seen)."""


class Weighed:
    """A source whose counts are weighed."""

    def __init__(self, source: Source, scale: Scale) -> None:
        self._source = source
        self._scale = scale

    def read(self) -> float:
        """kg, by the counts with nothing on it and the counts of a kilogram."""
        counts = self._source.read()
        if counts in NO_MASS:
            raise Faulty(
                Fault.IMPOSSIBLE, "The scale is at the end of its range: a wire is off, or it is overloaded."
            )
        return (counts - self._scale.zero) / self._scale.per_kg
