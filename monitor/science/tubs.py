"""Calibration points out of tubs of one's own bedding: what was weighed, what the probe sent, and what is nonsense.

Wet basis: what a sample lost in the oven, of what it weighed wet (Richard & Trautmann, Cornell Composting, Calculating
moisture content; seen). Every refusal says what to do next, for whoever stands there with scales in the hand.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from statistics import median

from monitor.errors import BadValue
from monitor.science.points import LEAST_SPREAD
from monitor.science.squeeze import BANDS
from monitor.science.water import oven_moisture

WETTEST = max(band.high for bands in BANDS.values() for band in bands.values() if band.high < 100)
"""% wet basis; what is wetter stands in water (proposal: the wettest of the squeezes of a known bedding)."""

APART = 20.0
"""Points of moisture that driest and wettest must differ by: at ±2 for a careful weighing the line is good to a fifth
(proposal)."""

NEXT = 5.0
"""Points of moisture between one tub and the next; nearer, weighing and packing decide where the line bends (proposal)."""

COARSEST = 3.0
"""Points of moisture that the scales may leave open; more, and a hand does as well (proposal: a hand is good to ±5)."""

FEWEST = 5
"""Readings of a probe in a tub that make a median (proposal)."""

STEADY = 0.05
"""Of their median, from least to most: counts that move more have not settled (proposal: half of LEAST_SPREAD)."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """Grams of one sample, wet and dry, in its `dish`, on scales that show steps of `step` g."""

    wet: float
    dry: float
    dish: float = 0.0
    step: float = 1.0

    def __post_init__(self) -> None:
        if not all(math.isfinite(g) for g in (self.wet, self.dry, self.dish, self.step)):
            raise BadValue("a weight is a number of grams")
        if self.wet <= 0 or self.dish < 0 or self.step <= 0:
            raise BadValue("a weight is more than nothing: weigh again, in grams")
        if self.dry > self.wet:
            raise BadValue(
                f"{self.dry:g} g dry is more than {self.wet:g} g wet: are the two weights the wrong way round?"
            )
        if self.dry <= self.dish:
            raise BadValue(
                f"the dish alone weighs {self.dish:g} g, so nothing was left at {self.dry:g} g: weigh the dish with what is in it"
            )
        if self.dry == self.wet:
            raise BadValue("it lost nothing: dry it first, 24 hours at 105 °C, then weigh again")
        _fits(self)

    @property
    def moisture(self) -> float:
        """% wet basis."""
        return oven_moisture(wet=self.wet - self.dish, dry=self.dry - self.dish)

    @property
    def either_way(self) -> float:
        """Points of moisture that the scales leave open: each of the weights half a step off, at worst."""
        half = self.step / 2
        wet, dry = self.wet - self.dish, self.dry - self.dish
        # the dish was weighed once, so its error moves both alike: dry/wet shifts by (1 - dry/wet) of it
        own = half * (1 + dry / wet) + (half * (1 - dry / wet) if self.dish else 0.0)
        return 100 * own / wet

    @property
    def arithmetic(self) -> str:
        """How the moisture comes about, as a keeper would write it down: "(600 − 120) / 600 = 80 %"."""
        wet, dry = self.wet - self.dish, self.dry - self.dish
        off = f"without the dish {wet:g} g wet, {dry:g} g dry; " if self.dish else ""
        return f"{off}({wet:g} − {dry:g}) / {wet:g} = {self.moisture:.0f} %"


def _fits(one: Weighed) -> None:
    if one.moisture > WETTEST:
        raise BadValue(
            f"{one.moisture:.0f} % is wetter than bedding holds: let it drain until nothing drips, then begin with this tub again"
        )
    if one.either_way > COARSEST:
        raise BadValue(
            f"so little on scales of {one.step:g} g leaves {one.either_way:.0f} points open: weigh more of it, half a litre or so"
        )


@dataclass(frozen=True, slots=True)
class Tub:
    """What the probe sent in a tub, and what a sample from round the probe weighed."""

    counts: float
    weighed: Weighed

    def __post_init__(self) -> None:
        if not math.isfinite(self.counts):
            raise BadValue("what the probe sends must be a number")

    @property
    def moisture(self) -> float:
        """% wet basis."""
        return self.weighed.moisture


def settled(counts: Sequence[float]) -> float:
    """What a probe sends in a tub: the median of its last readings there. Raises BadValue while they are too few or move."""
    if len(counts) < FEWEST:
        raise BadValue(f"only {len(counts)} of {FEWEST} readings have come since it was pushed in: wait for more")
    middle, spread = median(counts), max(counts) - min(counts)
    if spread > STEADY * abs(middle):
        raise BadValue(
            f"it still moves, from {min(counts):g} to {max(counts):g}: press the bedding round it, leave it alone, wait an hour"
        )
    return middle


def points_of(tubs: Sequence[Tub], *, in_air: float | None = None) -> tuple[Tub, ...]:
    """The tubs from dry to wet, fit to be calibration points. `in_air` is what the probe sends when nothing touches it.

    Raises BadValue where they carry no line: fewer than two, moistures or counts too near to each other, counts that go up
    and down, or that go the wrong way seen from the air, which is drier than any bedding.
    """
    if len(tubs) < 2:
        raise BadValue("one tub makes no line: measure a second one, as wet as the bed ever gets")
    ordered = tuple(sorted(tubs, key=lambda tub: tub.moisture))
    if ordered[-1].moisture - ordered[0].moisture < APART:
        raise BadValue(
            f"{ordered[0].moisture:.0f} % and {ordered[-1].moisture:.0f} % lie too near to each other: "
            f"they must differ by {APART:g} points, so dry the one and soak the other"
        )
    near = next((pair for pair in pairwise(ordered) if pair[1].moisture - pair[0].moisture < NEXT), None)
    if near is not None:
        raise BadValue(
            f"{near[0].moisture:.0f} % and {near[1].moisture:.0f} % are as good as one point: leave one of the two tubs out"
        )
    _one_way(ordered)
    if in_air is not None:
        _from_air(ordered, in_air)
    return ordered


def _one_way(ordered: Sequence[Tub]) -> None:
    steps = [wet.counts - dry.counts for dry, wet in pairwise(ordered)]
    if any(a * b < 0 for a, b in combinations(steps, 2)):
        raise BadValue(
            "the counts go up and down from dry to wet: they must go one way; are two tubs mixed up, or is one mistyped?"
        )
    ends = ordered[0].counts, ordered[-1].counts
    if 0 in steps or abs(ends[0] - ends[1]) < LEAST_SPREAD * max(map(abs, ends)):
        raise BadValue(
            f"{ends[0]:g} in the dry tub and {ends[1]:g} in the wet one lie too near to each other: "
            "push the probe in as deep in both, and press the bedding round it"
        )


def _from_air(ordered: Sequence[Tub], in_air: float) -> None:
    dry, wet = ordered[0].counts, ordered[-1].counts
    if (in_air - dry) * (wet - dry) > 0:
        raise BadValue(
            f"it sends {in_air:g} in the air, {dry:g} in the dry tub and {wet:g} in the wet one: "
            "the dry tub must lie between; are the counts the wrong way round?"
        )
