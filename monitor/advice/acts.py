"""What to do: the shape of advice. One decision for one place, never two opposite orders."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from monitor.readings import Millis
from monitor.rules import Ability


class Act(StrEnum):
    """One thing a person can do."""

    MAT_ON = "mat on"
    MAT_OFF = "mat off"
    MAT_RAISE = "raise the thermostat"
    MAT_LOWER = "lower the thermostat"
    MAT_CHECK = "look at the mat"
    INSULATE = "insulate"
    MOVE = "move"
    SHADE = "shade"
    AIR = "air"
    WATER = "water"
    DAMPEN = "dampen the mat's side"
    DRY = "add dry bedding"
    FEED_LESS = "feed less"
    LOOK = "look"
    PROBE_CHECK = "look at the probe"
    SYSTEM_CHECK = "look at the system"


@dataclass(frozen=True, slots=True)
class Order:
    """One act on one target. `words` is an imperative clause in the keeper's units, without a full stop.

    `why` is a line of numbers, `cautions` the ones that belong to this act, `more` whatever stands behind
    "why?" (arithmetic, sources). `by` is when it should be done, None when nothing hurries.
    `needs` is what a person must be allowed to do, None for what anybody can.
    """

    act: Act
    target: str
    words: str
    why: str
    cautions: tuple[str, ...] = ()
    more: tuple[str, ...] = ()
    needs: Ability | None = None
    by: Millis | None = None
    alarms: tuple[int, ...] = ()
    urgent: bool = False


@dataclass(frozen=True, slots=True)
class Advice:
    """The one decision for one place. An empty `orders` says that nothing needs doing."""

    place: str
    at: Millis
    orders: tuple[Order, ...]
    valid_until: Millis

    def same_acts(self, other: Advice | None) -> bool:
        """Whether what to do is the same, whatever the numbers behind it say."""
        return other is not None and [(o.act, o.target) for o in self.orders] == [
            (o.act, o.target) for o in other.orders
        ]
