"""What to do: the shape of advice. One decision for one place, never two opposite orders.

Which acts undo each other, and which stand for one another in the order of telling, is said in tables here.
"""

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
    COVER = "close the cover"
    DRAIN = "empty the tray"
    FEED_LESS = "feed less"
    LOOK = "look"
    PROBE_CHECK = "look at the probe"
    SYSTEM_CHECK = "look at the system"


OPPOSITES: frozenset[frozenset[Act]] = frozenset(
    frozenset((one, other))
    for ones, others in (
        ((Act.MAT_ON, Act.MAT_RAISE, Act.MAT_CHECK), (Act.MAT_OFF, Act.MAT_LOWER)),
        ((Act.WATER, Act.DAMPEN), (Act.DRY, Act.DRAIN)),
        ((Act.INSULATE, Act.COVER), (Act.AIR, Act.SHADE)),
    )
    for one in ones
    for other in others
)
"""Acts that undo each other: no advice orders two of a pair on one target."""

IN_TURN: tuple[Act, ...] = (
    Act.MAT_OFF,
    Act.MAT_LOWER,
    Act.DRAIN,
    Act.DAMPEN,
    Act.MAT_ON,
    Act.MAT_RAISE,
    Act.MAT_CHECK,
    Act.INSULATE,
    Act.COVER,
    Act.SHADE,
    Act.AIR,
    Act.MOVE,
    Act.SYSTEM_CHECK,
    Act.WATER,
    Act.DRY,
    Act.PROBE_CHECK,
    Act.FEED_LESS,
    Act.LOOK,
)
"""The order in which acts of equal urgency are told: what stops harm, then what warms or cools, then the rest."""

AT_NIGHT: frozenset[Act] = frozenset(Act) - {
    Act.WATER,
    Act.SHADE,
    Act.FEED_LESS,
    Act.LOOK,
    Act.PROBE_CHECK,
    Act.SYSTEM_CHECK,
}
"""What is worth getting up for. Watering is for the morning, shade for the sun; a look helps nothing by itself."""


@dataclass(frozen=True, slots=True)
class Order:
    """One act on one target. `words` is an imperative clause in the keeper's units, without a full stop.

    `why` is a line of numbers, `cautions` the ones that belong to this act, `more` whatever stands behind
    "why?" (arithmetic, sources). `by` is when it should be done, None when nothing hurries; a time that is
    past says now. `needs` is what a person must be allowed to do, None for what anybody can.
    `bins` are the bins it is for (a plug may warm several), `fact` the one reading in few words.
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
    bins: tuple[str, ...] = ()
    fact: str = ""


@dataclass(frozen=True, slots=True)
class Advice:
    """The one decision for one place. An empty `orders` says that nothing needs doing."""

    place: str
    at: Millis
    orders: tuple[Order, ...]
    valid_until: Millis
