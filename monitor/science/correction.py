"""Small corrections of a probe against a known point: what it sends, times a scale, plus an offset.

One point: melting ice. Crushed ice in water, stirred, stands at 0.00 °C (the ice point lies 0.01 K below the triple
point of water, 273.16 K; ITS-90; memory), so the offset is what is missing to 0. Two points: the same ice and a bath
beside a thermometer that is trusted; they give scale and offset.
"""

from __future__ import annotations

from monitor.errors import BadValue

ICE_POINT = 0.0
"""°C of melting ice at ordinary air pressure (ITS-90: triple point of water 273.16 K = 0.01 °C; memory)."""

LARGEST_OFFSET = 5.0
"""K. The coarsest common chip is good to ±2 °C over its whole range (DS18B20 data sheet; memory); what is off by more than
this is broken (proposal)."""
LARGEST_OFFSET_HUMIDITY = 20.0
"""Points of %RH: an aged capacitive chip may be off by ten; what is off by twice as much is broken (proposal)."""
LARGEST_TARE = 500.0
"""kg: what a vessel, its stand and its lid may weigh together (proposal)."""
SMALLEST_SCALE, LARGEST_SCALE = 0.8, 1.25
"""What is further from 1 is another unit, not a correction (proposal)."""
APART = 10.0
"""K that two points must lie apart, or their reading errors make the scale (proposal)."""


def corrected(value: float, *, offset: float, scale: float) -> float:
    """A value as it is judged; the very same number where nothing is corrected."""
    return value if offset == 0.0 and scale == 1.0 else scale * value + offset


def offset_from(read: float, true: float = ICE_POINT) -> float:
    """The offset that a probe needs which reads so much where it is known to be `true`."""
    return true - read


def scale_and_offset(low: tuple[float, float], high: tuple[float, float]) -> tuple[float, float]:
    """(scale, offset) out of two points (read, true). Raises BadValue for points nearer to each other than APART."""
    (read_low, true_low), (read_high, true_high) = low, high
    if abs(read_high - read_low) < APART or abs(true_high - true_low) < APART:
        raise BadValue(f"two points must lie {APART:g} °C apart")
    scale = (true_high - true_low) / (read_high - read_low)
    return scale, true_low - scale * read_low
