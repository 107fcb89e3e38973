"""How far a moisture probe has strayed from what its bed is known to lose: the model of its own bed held against it.

Between two waterings a bed loses a share of its water a day, the less the drier it is (falling-rate drying: common practice, no
source here). That share is learned from the months before; from it follows where the bed should stand after three weeks,
with every watering taken as the probe itself showed it. What the probe stands away from that, it has drifted, or the bed
dries otherwise than it did: which of them, a squeezed handful tells.

On simulated beds (two layers, weather, lids, feed; own bench `drying`) a share that is proportional did far better than one
that is constant: an eighth of the false ones.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from itertools import pairwise
from operator import itemgetter
from typing import NamedTuple

from monitor.readings import DAY, HOUR, Millis
from monitor.science.water import dry_basis, wet_basis

OVER: Millis = 21 * DAY
"""Over so long a probe is held against its bed (proposal)."""
LEARNT: Millis = 28 * DAY
"""So much of the bed's drying must be known from before that (proposal: about one dry-down)."""
LOOKS_BACK: Millis = 120 * DAY
"""Older days say little of how a bed dries now (proposal)."""
SETTLES: Millis = 60 * HOUR
"""After water so long is not counted: the day's median still rises, and the surface dries first (proposal)."""
GAP: Millis = 3 * DAY
"""Across a longer silence nothing is counted (proposal)."""
UNWRITTEN, WITHIN = 3.0, 36 * HOUR
"""Points by which a bed that grows wetter in so long was watered, whether or not it is written down: of keepers who write down
half of it each bed would be doubted seven times a year otherwise (own simulated beds, seeds 11 and 12; proposal)."""

FULL = 99.9
"""% wet basis from which a probe stands in water, and says nothing of a bed (definition)."""

Median = tuple[Millis, float]
"""When it was, and the day's median until then: % wet basis."""


class Strayed(NamedTuple):
    """`points` (% wet basis) that a probe stands above (or below) where its bed should be after `days` of drying; `share` is what
    the bed lost a day before, of its water.
    """

    points: float
    days: float
    share: float


class _Step(NamedTuple):
    """From one median to the next, nothing else being known to have happened: until when, days, and kg/kg at both ends."""

    until: Millis
    days: float
    before: float
    after: float


def strayed(
    medians: Sequence[Median], watered: Sequence[Millis], *, since: Millis = 0, trusted: Millis = 0
) -> Strayed | None:
    """How a probe stands to its bed at its newest median; None while the bed's drying is not known.

    `medians` oldest first, about four a day; `watered` when water came or went by the diary. Nothing before `since` is counted
    (other matter lay in the bed), and the probe is held against the bed from `trusted` on at the earliest (a hand agreed with
    it then).
    """
    medians = [one for one in medians if 0 <= one[1] < FULL]
    if not medians:
        return None
    now = medians[-1][0]
    begin = max(now - OVER, trusted)
    steps = [s for s in _steps(medians, watered) if s.until > max(since, now - LOOKS_BACK)]
    learnt, recent = [s for s in steps if s.until <= now - OVER], [s for s in steps if s.until > begin]
    known = sum(s.days for s in learnt)
    if known * DAY < LEARNT or not recent:
        return None
    lost = sum(s.before - s.after for s in learnt) / known
    held = sum((s.before + s.after) / 2 * s.days for s in learnt) / known
    share = max(0.0, lost / held) if held > 0 else 0.0
    away = 0.0
    for step in recent:
        should = step.before - away
        away += step.after - step.before + share * should * step.days
    newest = medians[-1][1]
    return Strayed(newest - wet_basis(max(0.0, dry_basis(newest) - away)), sum(s.days for s in recent), share)


def _steps(medians: Sequence[Median], watered: Sequence[Millis]) -> Iterator[_Step]:
    pours = sorted({*watered, *_rises(medians)})
    for (sooner, before), (later, after) in pairwise(medians):
        wet = bisect_right(pours, later) - bisect_right(pours, sooner - SETTLES)
        if later - sooner <= GAP and not wet:
            yield _Step(later, (later - sooner) / DAY, dry_basis(before), dry_basis(after))


def _rises(medians: Sequence[Median]) -> Iterator[Millis]:
    """When each rise of the median began that is taken for water."""
    over: Millis = 0
    for number, (at, moisture) in enumerate(medians):
        lately = medians[bisect_left(medians, (at - WITHIN, 0.0)) : number + 1]
        since, lowest = min(lately, key=itemgetter(1))
        if moisture - lowest > UNWRITTEN and since >= over:
            yield since
            over = at + WITHIN
