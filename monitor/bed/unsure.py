"""What a learned bed is weak at, in the words in which every command, notice and page says so. Measured in the forecast bench."""

from __future__ import annotations

from monitor.bed.zone import Zone, half_life

FAR = "How far the mat lifts this side is not said: away from the mat that has not been good enough to go by."
QUICK = "It cools so quickly that a cold night is told later and less surely than of a larger or wrapped bed."
LEARNS = "It still learns: no alarm is made of this, and the band is wide."
QUICK_H = 3.5
"""h in which half of its warmth is gone: a time constant of 5 h, as the bench's bare tubs and bags have."""


def cools_quickly(zone: Zone) -> bool:
    """Whether so much of its warmth is gone in a few hours that its nights are told less well."""
    return zone.known and half_life(zone)[0] < QUICK_H
