"""What a probe sends in melting ice, and the offset that follows; what has not settled or cannot be ice is refused.

Height above the sea needs no correction: ice melts 7.4e-8 K higher for each Pa less (Clausius and Clapeyron; memory), which
at 3000 m, 31 kPa below sea level, is 0.002 K.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from monitor.errors import BadValue
from monitor.science.correction import ICE_POINT, LARGEST_OFFSET, offset_from

FEWEST = 5
"""Readings in the ice that make a median (proposal)."""

STILL = 0.25
"""K from least to most: four steps of a 12 bit DS18B20 (data sheet: 0.0625 K; that it is four, our proposal)."""

FINE = 0.1
"""K: an offset that is smaller says nothing, an ice bath in a kitchen is no better (proposal)."""


@dataclass(frozen=True, slots=True)
class InIce:
    """What a probe read in melting ice: the `middle` of its readings (°C), how far they lay `apart` (K), its `offset` (K)."""

    middle: float
    apart: float
    offset: float

    @property
    def needed(self) -> bool:
        """Whether the offset is worth writing down."""
        return abs(self.offset) >= FINE


def in_ice(readings: Sequence[float]) -> InIce:
    """The offset out of the last readings (°C, as sent) from an ice bath.

    Raises BadValue, saying what to do, for too few of them, for a probe that is still cooling or wandering, and for what
    is so far from ice that it is no offset. No sentence names a unit: it stands for °C and °F alike.
    """
    if not all(math.isfinite(one) for one in readings):
        raise BadValue("what the probe sends must be a number")
    if len(readings) < FEWEST:
        raise BadValue(f"only {len(readings)} of {FEWEST} readings have come from the ice: leave it in, stir on")
    apart = max(readings) - min(readings)
    if apart > STILL:
        falling = readings[-1] < readings[0]
        why = "it is still cooling" if falling else "it wanders: is there enough ice, and is it stirred?"
        raise BadValue(f"it does not stand still yet: {why}; wait, then read it again")
    middle = median(readings)
    if abs(middle - ICE_POINT) > LARGEST_OFFSET:
        raise BadValue(
            "that is too far from melting ice to be an offset: is it in the ice, does it send what `sends` says? Else replace it"
        )
    return InIce(middle, apart, offset_from(middle))
