"""The 16-bit analogue converter ADS1115: what is written into its registers, and what comes out of them.

Sources: the fields of the configuration register and what each of their numbers means as in the Linux kernel's
drivers/iio/adc/ti-ads1015.c (seen); two's complement with 7FFF and 8000 at the ends, Texas Instruments SBAA565 (seen).
"""

from __future__ import annotations

from monitor.errors import BadValue

CONVERSION, CONFIG = 0x00, 0x01
"""The pointer to each register."""
FULL_SCALE = 4.096
"""Volts at the end of the range we ask for (PGA 001): the converter runs at 3.3 V, and its inputs go no higher."""
LONGEST = 1 / 128 * 1.1 + 0.001
"""Seconds a conversion at 128 samples a second takes at most: the internal clock is off by 10 % at most; and 1 ms to wake."""
READY = 0x8000
"""The bit that is set again when a conversion is over."""

_START, _SINGLE_ENDED, _RANGE, _ONE_SHOT, _RATE, _NO_COMPARATOR = (
    1 << 15,
    0b100 << 12,
    0b001 << 9,
    1 << 8,
    0b100 << 5,
    0b11,
)


def one_shot(channel: int) -> int:
    """The configuration word that starts one conversion of an input 0 to 3 against ground, ±4.096 V, 128 a second."""
    if not 0 <= channel <= 3:
        raise BadValue(f"the converter has inputs 0 to 3, not {channel}")
    return _START | _SINGLE_ENDED | channel << 12 | _RANGE | _ONE_SHOT | _RATE | _NO_COMPARATOR


def counts(word: int) -> int:
    """The signed counts of the conversion register (two's complement)."""
    if not 0 <= word <= 0xFFFF:
        raise BadValue(f"{word:#x} is no 16-bit word")
    return word - 0x10000 if word & 0x8000 else word


def volts(word: int) -> float:
    """Volts at the input: a count is FULL_SCALE / 2¹⁵."""
    return counts(word) * FULL_SCALE / 0x8000
