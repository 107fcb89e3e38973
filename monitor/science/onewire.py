"""The 1-wire temperature chip DS18B20: its counts, its check sum and how it lies.

Sources: DS18B20 data sheet, Table 1 temperature/data relationship and the resolution table (read as quoted:
seen-2nd, every row recomputed); Linux kernel w1_therm.rst and w1_therm.c (seen); Application note 27 for the CRC
(memory, its worked example read as quoted: seen-2nd).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from monitor.errors import BadValue

STEP = 1 / 16
"""°C per count at 12 bits (data sheet Table 1)."""

COLDEST, HOTTEST = -55.0, 125.0
"""°C, the chip's range (data sheet rev. 042208, p. 1; seen). No other probe in a bed goes further."""

POWER_ON = 85.0
"""°C after power-up when no conversion ran; also a lawful reading (w1_therm.rst; seen), so it passes beside a good
neighbour."""

NO_POWER = 0x07FF * STEP
"""127.9375 °C: too little power during conversion (w1_therm.c; seen)."""

DISCONNECTED = -127.0
"""°C, what a widespread microcontroller library says for a lost chip; in no data sheet (memory)."""

SUSPECT_STEP = 10.0
SUSPECT_WITHIN = 10 * 60 * 1000
"""85.000 °C further than 10 °C from a good reading of the last 10 min (in ms) is suspect (common practice)."""

CONVERSION_MS = {9: 93.75, 10: 187.5, 11: 375.0, 12: 750.0}
"""Longest conversion by resolution in bits (data sheet, resolution table; seen-2nd)."""

_UNCONVERTED, _UNPOWERED = 0x0550, 0x07FF
_NEVER_CONVERTED = 0x0C
"""Scratchpad byte 6 while no conversion has finished (w1_therm.rst, features bit 1; seen)."""


_KERNEL_TEXT = re.compile(
    r"\s*(?P<bytes>(?:[0-9a-f]{2} ){9}): crc=[0-9a-f]{2} (?P<check>YES|NO)\s*\n.*\bt=(?P<milli>-?\d+)\s*",
    re.IGNORECASE,
)


class Verdict(StrEnum):
    """What nine bytes are worth."""

    GOOD = "good"
    NO_CONVERSION = "no conversion"
    NO_POWER = "power"
    DISCONNECTED = "disconnected"
    ALL_ZERO = "all zero"
    CRC = "CRC"
    OUT_OF_RANGE = "out of range"


@dataclass(frozen=True, slots=True)
class Scratchpad:
    """A verdict, and the temperature (°C) only when it is good."""

    verdict: Verdict
    celsius: float | None = None


def celsius(word: int, *, bits: int = 12) -> float:
    """°C of the chip's 16-bit two's complement word; bits below the resolution are undefined and cleared.

    Data sheet Table 1. Raises BadValue for a word or a resolution that does not exist.
    """
    return _counts(word, bits) * STEP


def millidegrees(word: int, *, bits: int = 12) -> int:
    """As the Linux kernel writes it: `t*1000/16` in C, which truncates towards zero (w1_therm.c; seen)."""
    counts = _counts(word, bits)
    whole = abs(counts) * 1000 // 16
    return whole if counts >= 0 else -whole


def resolution(config: int) -> int:
    """Bits of resolution from the configuration byte, 0 R1 R0 1 1 1 1 1: 1F is 9 bits, 7F is 12."""
    return 9 + (config >> 5 & 0b11)


def crc8(data: Sequence[int]) -> int:
    """The 1-wire CRC: x⁸ + x⁵ + x⁴ + 1, reflected (0x8C), start 0, no final XOR. Application note 27 (memory)."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = crc >> 1 ^ (0x8C if crc & 1 else 0)
    return crc


def judged(scratchpad: bytes) -> Scratchpad:
    """What a scratchpad of nine bytes is worth. Raises BadValue for another length.

    Nine zeros pass the CRC (a line shorted low) and nine FF do not (nobody answers): both are named first.
    """
    if len(scratchpad) != 9:
        raise BadValue(f"a scratchpad has 9 bytes, not {len(scratchpad)}")
    if not any(scratchpad):
        return Scratchpad(Verdict.ALL_ZERO)
    if all(byte == 0xFF for byte in scratchpad):
        return Scratchpad(Verdict.DISCONNECTED)
    if crc8(scratchpad[:8]) != scratchpad[8]:
        return Scratchpad(Verdict.CRC)
    return _read(scratchpad)


def kernel_text(text: str) -> Scratchpad:
    """What the two lines of the kernel's `w1_slave` are worth (w1_therm.rst; seen; layout of `crc=` memory).

    After `NO` the second line repeats the last good value, so it is not read. Raises BadValue for other text.
    """
    lines = _KERNEL_TEXT.fullmatch(text)
    if lines is None:
        raise BadValue(f"not what the kernel says of a 1-wire chip: {text[:60]!r}")
    said = judged(bytes.fromhex(lines["bytes"]))
    if lines["check"] == "NO" and said.verdict is Verdict.GOOD:
        return Scratchpad(Verdict.CRC)
    return Scratchpad(said.verdict, int(lines["milli"]) / 1000) if said.verdict is Verdict.GOOD else said


def _read(scratchpad: bytes) -> Scratchpad:
    """A scratchpad whose check sum is right."""
    word = scratchpad[0] | scratchpad[1] << 8
    never = scratchpad[6] == _NEVER_CONVERTED
    if never and word == _UNCONVERTED:
        return Scratchpad(Verdict.NO_CONVERSION)
    if never and word == _UNPOWERED:
        return Scratchpad(Verdict.NO_POWER)
    value = celsius(word, bits=resolution(scratchpad[4]))
    return Scratchpad(Verdict.GOOD, value) if COLDEST <= value <= HOTTEST else Scratchpad(Verdict.OUT_OF_RANGE)


def _counts(word: int, bits: int) -> int:
    """The signed counts of a word, with the undefined low bits cleared."""
    if not 0 <= word <= 0xFFFF:
        raise BadValue(f"{word:#x} is no 16-bit word")
    if bits not in CONVERSION_MS:
        raise BadValue(f"the chip has 9 to 12 bits, not {bits}")
    undefined = 12 - bits
    clear = word >> undefined << undefined
    return clear - 0x10000 if clear & 0x8000 else clear
