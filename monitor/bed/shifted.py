"""How far a thermometer that has no neighbour has come from what its bed makes of its air, by a model of its own.

While its mat is off a bed follows its air, late and damped, and stands above it by what its worms and its food warm it. How late
is learned of two months, out of a few time constants, and so is how far above. A thermometer that stands elsewhere for days has
drifted, or that of the air has, or the bed is warmed otherwise than it was: ice water tells.

On simulated beds (three nodes, feed, evaporation, lids; seeds 11 and 12) four days in a thousand lie more than 3 K off by
themselves, so only shifts of more than that are told.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterator, Sequence
from operator import itemgetter
from typing import NamedTuple

from monitor.readings import DAY, HOUR, Millis

QUARTER: Millis = 6 * HOUR
"""How finely the past is looked at."""
LEARNT, OVER, RECENT = 81, 21, 5
"""Days that are looked back on, that the learning stops short of now, and of which the middle is where it stands (proposal)."""
ENOUGH, NOW = 21, 3
"""Days without a mat that must be known of those two (proposal)."""
SETTLES = 8
"""Days until a damped air no longer knows where it began: two of the longest time constant (definition)."""
TIMES = (6.0, 12.0, 24.0, 48.0, 96.0)
"""h in which a bed goes 63 % of the way to its air: from a small tub to a pallet box (derived from `science.heat`; proposal)."""
LEAST, SIGMAS = 3.0, 4.0
"""K, and standard deviations of its own days, below which nobody is bothered (proposal, chosen on simulated beds)."""
LOOKS_BACK = LEARNT + SETTLES
"""Days of quarters that are asked for."""


class Quarter(NamedTuple):
    """Six hours until `at`: means of the probe and of its air in °C, and whether every mat of its bed was surely off."""

    at: Millis
    bed: float | None
    air: float | None
    off: bool = True


class Shifted(NamedTuple):
    """K that a thermometer stands further above its air than it used to, what is too far (`limit`), and what was `usual`."""

    kelvins: float
    limit: float
    usual: float

    @property
    def told(self) -> bool:
        """Whether it is worth a word."""
        return abs(self.kelvins) > self.limit


def shifted(quarters: Sequence[Quarter], *, since: Millis = 0) -> Shifted | None:
    """How a thermometer stands to its air in the newest days; None while too few days without a mat are known of both.

    `quarters` oldest first, of at most `LOOKS_BACK` days; nothing before `since` is counted (the bed was another).
    """
    tried = [found for time in TIMES if (found := _by(quarters, _damped(quarters, time), since)) is not None]
    return min(tried, key=itemgetter(0))[1] if tried else None


def _by(
    quarters: Sequence[Quarter], damped: Sequence[float | None], since: Millis
) -> tuple[float, Shifted] | None:
    """(K by which its days stray, how it stands), if the bed followed its air so."""
    days = dict(_days(quarters, damped, since))
    learnt = [k for day, k in days.items() if day >= OVER]
    recent = [k for day, k in days.items() if day < RECENT]
    if len(learnt) < ENOUGH or len(recent) < NOW:
        return None
    usual = statistics.median(learnt)
    strays = math.sqrt(statistics.fmean((k - usual) ** 2 for k in learnt))
    return strays, Shifted(statistics.median(recent) - usual, max(LEAST, SIGMAS * strays), usual)


def _damped(quarters: Sequence[Quarter], time: float) -> list[float | None]:
    """The air as a bed of this time constant (h) would follow it; None until it has settled, and anew after a day without air."""
    keeps = math.exp(-QUARTER / HOUR / time)
    found: list[float | None] = []
    at, begun, heard = 0.0, None, None
    for quarter in quarters:
        if quarter.air is not None:
            if heard is None or begun is None or quarter.at - heard > DAY:
                at, begun = quarter.air, quarter.at
            else:
                at = at * keeps + quarter.air * (1 - keeps)
            heard = quarter.at
        settled = begun is not None and quarter.at - begun >= SETTLES * DAY
        found.append(at if settled else None)
    return found


def _days(
    quarters: Sequence[Quarter], damped: Sequence[float | None], since: Millis
) -> Iterator[tuple[int, float]]:
    """(days ago, K above the damped air) of each whole day on which no mat was on."""
    end = quarters[-1].at if quarters else 0
    by_day: dict[int, list[float]] = {}
    for quarter, air in zip(quarters, damped, strict=True):
        if quarter.bed is not None and air is not None and quarter.off and quarter.at - QUARTER >= since:
            by_day.setdefault((end - quarter.at) // DAY, []).append(quarter.bed - air)
    yield from ((day, statistics.fmean(each)) for day, each in by_day.items() if len(each) == DAY // QUARTER)
