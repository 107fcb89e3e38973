"""The humidity and temperature chip SHT3x: its check sum and its two words.

Source: SHT3x-DIS data sheet, December 2022 version 7, §4.12 to §4.14 and Table 20 (read in a public copy: seen).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from monitor.errors import BadValue

MEASURE = (0x24, 0x00)
"""Single shot, high repeatability, without clock stretching (data sheet Table 9; seen)."""
LONGEST = 0.0155
"""Seconds that a measurement of high repeatability takes at most (data sheet Table 4, 15 ms; 15.5 ms at low supply; memory)."""
_FULL = 0xFFFF


class Air(NamedTuple):
    """°C and % relative humidity of one measurement."""

    celsius: float
    humidity: float


def crc8(data: Sequence[int]) -> int:
    """The chip's CRC-8: x⁸ + x⁵ + x⁴ + 1 (0x31), start 0xFF, not reflected, no final XOR. Data sheet Table 20 (seen)."""
    crc = 0xFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc << 1 ^ (0x31 if crc & 0x80 else 0)) & 0xFF
    return crc


def frame(six: bytes) -> Air | None:
    """What six bytes say: two words, each with its CRC behind it. None when a CRC is wrong; BadValue for another length."""
    if len(six) != 6:
        raise BadValue(f"a measurement has 6 bytes, not {len(six)}")
    if crc8(six[:2]) != six[2] or crc8(six[3:5]) != six[5]:
        return None
    return Air(celsius(six[0] << 8 | six[1]), humidity(six[3] << 8 | six[4]))


def celsius(word: int) -> float:
    """°C: −45 + 175 · S / (2¹⁶ − 1) (data sheet §4.13; seen). Raises BadValue for what is no 16-bit word."""
    return -45 + 175 * _part(word)


def humidity(word: int) -> float:
    """% relative humidity: 100 · S / (2¹⁶ − 1) (data sheet §4.13; seen). Raises BadValue for what is no 16-bit word."""
    return 100 * _part(word)


def _part(word: int) -> float:
    if not 0 <= word <= _FULL:
        raise BadValue(f"{word:#x} is no 16-bit word")
    return word / _FULL
