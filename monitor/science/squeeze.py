"""A handful squeezed: what its feel says of wet-basis moisture, by what the bedding is made of.

The hand is good to ±5 points at best (common practice), so every feel is a band. It depends on how much water the stuff
can hold: shredded paper 3 to 4 g for each gram dry (75 to 80 % wet basis), coir 6 to 9 g (86 to 90 %) (common practice).
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import NamedTuple

from monitor.rules import Bedding


class Feel(StrEnum):
    """What a firmly squeezed handful does."""

    CRUMBLES = "crumbles"
    """Makes no ball: dusty, or springs open."""
    BREAKS = "breaks"
    """A ball that falls apart; the hand is damp at most."""
    HOLDS = "holds"
    """A ball that stays; no drop, or one."""
    DROPS = "drops"
    """A few drops between the fingers."""
    DRIPS = "drips"
    """A thin stream."""
    RUNS = "runs"
    """Water runs before it is squeezed."""


SAID: Mapping[Feel, str] = {
    Feel.CRUMBLES: "makes no ball",
    Feel.BREAKS: "a ball that falls apart",
    Feel.HOLDS: "a ball that stays, a drop at most",
    Feel.DROPS: "a few drops",
    Feel.DRIPS: "a thin stream",
    Feel.RUNS: "runs by itself",
}
"""Each feel in a keeper's words."""


class Band(NamedTuple):
    """Wet-basis moisture (%) that a feel stands for, with where that comes from."""

    low: float
    high: float
    source: str
    mark: str

    @property
    def middle(self) -> float:
        """What is taken where one number is needed."""
        return (self.low + self.high) / 2


_TABLE = "squeeze test of paper and manure beds, ±5 points at best"
_HOLDS = "our proposal: the same feel at what coir and peat hold, 6 to 9 g of water for each gram dry"
_COMPOST = "squeeze test of compost, one or two drops at 50 to 65 % (Oregon State University Extension EM 9217)"
_BESIDE = "our proposal, beside one or two drops at 50 to 65 % (Oregon State University Extension EM 9217)"


def _bands(source: str, mark: str, *ends: tuple[float, float]) -> dict[Feel, Band]:
    return {feel: Band(low, high, source, mark) for feel, (low, high) in zip(Feel, ends, strict=True)}


_PRINTED = _bands(_TABLE, "common practice", (0, 50), (50, 60), (60, 70), (70, 80), (78, 87), (85, 95))
_COIR = _bands(_HOLDS, "proposal", (0, 55), (52, 65), (62, 75), (72, 84), (80, 89), (86, 95))
_FINISHED = _bands(_BESIDE, "proposal", (0, 40), (35, 50), (45, 60), (50, 65), (60, 75), (70, 90))

BANDS: Mapping[Bedding, Mapping[Feel, Band]] = {
    Bedding.PAPER: _PRINTED,
    Bedding.MANURE: _PRINTED,
    Bedding.COIR: _COIR,
    Bedding.PEAT: _COIR,
    Bedding.COMPOST: {**_FINISHED, Feel.DROPS: Band(50, 65, _COMPOST, "seen-2nd")},
    Bedding.MIXED: {
        feel: Band(max(band.low - 5, 0), min(band.high + 5, 100), f"{_TABLE}, widened by 5 as the stuff is not known",
                   "proposal")
        for feel, band in _PRINTED.items()
    },
}  # fmt: skip
"""What each feel means in each bedding. A thin stream stands between the printed 70 to 80 and 85 % (proposal)."""


def band(feel: Feel, bedding: Bedding) -> Band:
    """What a feel says in this bedding."""
    return BANDS[bedding][feel]
