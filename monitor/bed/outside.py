"""The air outdoors of the hours ahead, as somebody else forecast it: what is kept of it, and what of it holds for an hour.

Nothing here says who made it. A forecast that is always off by the same is learned with the room that follows it (`room`).
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from monitor.bed.room import AHEAD
from monitor.errors import BadValue
from monitor.readings import DAY, HOUR, Millis

KIND = "outdoors"
"""The standing documents: `told` is the forecast, `trouble` why none comes."""
TOLD, TROUBLE = "told", "trouble"
TOO_OLD: Millis = DAY
"""After which a forecast is no longer gone by: by then the next day's weather is another one (proposal)."""
LOOKS_BACK: Millis = 2 * DAY
"""So much of earlier forecasts is kept, for hours that are learned late."""
REACHES: Millis = 16 * DAY
"""Further ahead nothing is kept; no forecast of hours reaches so far (common practice)."""
WIDEST: Millis = 6 * HOUR
"""Between two of its hours a straight line is laid, across more nothing is known (proposal)."""


@dataclass(frozen=True, slots=True)
class Outside:
    """°C at moments in order of time; `received` is when this forecast came, `first` its own first moment."""

    received: Millis
    first: Millis
    hours: tuple[tuple[Millis, float], ...]

    def mean(self, start: Millis, end: Millis) -> float | None:
        """°C of a stretch by straight lines between its moments; None where it is not covered."""
        total = 0.0
        for (a, here), (b, there) in pairwise(self.hours):
            low, high = max(a, start), min(b, end)
            if low < high and b - a <= WIDEST:
                slope = (there - here) / (b - a)
                total += (high - low) * (here + slope * ((low + high) / 2 - a))
            elif low < high:
                return None
        covered = bool(self.hours) and self.hours[0][0] <= start and end <= self.hours[-1][0]
        return total / (end - start) if covered else None

    def next_day(self, at: Millis) -> tuple[float, ...] | None:
        """The means of the 24 hours after `at`; None where it is too old then, came later than that hour's end was taken up, or
        does not cover them.
        """
        if not at - TOO_OLD <= self.received < at + HOUR:
            return None
        told = [self.mean(at + n * HOUR, at + (n + 1) * HOUR) for n in range(AHEAD)]
        known = [one for one in told if one is not None]
        return tuple(known) if len(known) == AHEAD else None

    @property
    def until(self) -> Millis:
        """Its last moment."""
        return self.hours[-1][0]


def taken(before: Outside | None, found: Sequence[tuple[Millis, float]], received: Millis) -> Outside:
    """A new forecast over what is kept of the earlier ones. The same hours again are not newer than they were."""
    mine = [(at, c) for at, c in found if received - LOOKS_BACK <= at <= received + REACHES]
    if not mine:
        raise BadValue("no hour of it lies in the next days")
    if before is not None:
        if tuple(mine) == before.hours[-len(mine) :]:
            return before
        old = [(at, c) for at, c in before.hours if received - LOOKS_BACK <= at < mine[0][0]]
        # a hole between both is no weather that anybody forecast: `mean` finds it by its width
        return Outside(received, mine[0][0], (*old, *mine))
    return Outside(received, mine[0][0], tuple(mine))


def written(one: Outside) -> str:
    """One line of JSON, read back to the last bit."""
    body = {"received": one.received, "first": one.first, "hours": one.hours}
    return json.dumps(body, allow_nan=False, separators=(",", ":"))


def outside_of(body: str) -> Outside:
    """What was written. Raises BadValue for anything else."""
    try:
        found = json.loads(body)
        hours = tuple((int(at), float(c)) for at, c in found["hours"])
        whole = Outside(int(found["received"]), int(found["first"]), hours)
    except (ValueError, TypeError, KeyError) as wrong:
        raise BadValue(f"this is no outdoor forecast: {wrong}") from wrong
    if (
        not hours
        or any(a >= b for (a, _), (b, _) in pairwise(hours))
        or not all(math.isfinite(c) for _, c in hours)
    ):
        raise BadValue("this is no outdoor forecast: its hours are not in order")
    return whole
