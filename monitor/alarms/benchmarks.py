"""What is printed of alarm systems, and what it is for a keeper: figures of ISA-18.2 / IEC 62682 and EEMUA 191.

The standards speak of a person at a console, whose work the alarms are, and of plants that move in seconds. A keeper has a bed
that moves in hours, and ten minutes a day for it. So one scale carries every figure over (`Scale`):

- *Ten minutes of the console are one day of the keeper.* An operator can deal with about one alarm in ten minutes, so a
  keeper who gives the beds ten minutes a day can deal with about one a day (common practice). What is printed per ten
  minutes is asked per day: the rate, the worst, a flood.
- *Chattering* is three times in a minute. Here an alarm's own delays say how soon it can come again at all: three times
  within twice the shortest time in which that is possible, and within 2 h at least (common practice).
- *Fleeting* is gone within seconds, before anybody can act. Here: within half an hour, the delay of its end not
  counted (proposal).
- *Stale* is more than 24 h, for a bed as for a plant: a day is when somebody comes by.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from monitor.readings import DAY, HOUR, MINUTE, SECOND, Millis


@dataclass(frozen=True, slots=True)
class Published:
    """What is printed of one figure, for one person at a console, and by whom."""

    value: float
    words: str
    source: str
    mark: str


COURSE = "course text on alarm management after ISA-18.2-2016"
PUBLISHED: Mapping[str, Published] = {
    "rate": Published(1, "about 1 alarm in 10 minutes (144 a day); 2 are the most that can be managed",
                      f"{COURSE}, §2.10; IEC 62682:2014 as quoted in the trade press", "seen-2nd"),
    "most": Published(10, "at most 10 alarms in any 10 minutes", f"{COURSE}, §2.10", "seen-2nd"),
    "busy": Published(1, "less than 1 % of all 10 minutes with more than 10 alarms", f"{COURSE}, §2.10", "seen-2nd"),
    "flood": Published(1, "less than 1 % of the time in a flood, which begins above 10 alarms in 10 minutes and ends below 5",
                       f"{COURSE}, §2.7 and §2.10", "seen-2nd"),
    "chattering": Published(0, "none; chattering is 3 times or more in a minute", f"{COURSE}, §2.7", "seen-2nd"),
    "fleeting": Published(0, "none; fleeting is gone within seconds", f"{COURSE}, §2.7", "seen-2nd"),
    "stale": Published(5, "fewer than 5 on any day; stale is longer than 24 h", f"{COURSE}, §2.7 and §2.10", "seen-2nd"),
    "frequent": Published(5, "the ten most frequent make at most 5 % of all", f"{COURSE}, §2.10", "seen-2nd"),
    "low": Published(80, "80 % of low priority", f"{COURSE}, §2.5; EEMUA 191 says the same", "seen-2nd"),
    "medium": Published(15, "15 % of medium priority", f"{COURSE}, §2.5; EEMUA 191 says the same", "seen-2nd"),
    "high": Published(5, "5 % of high priority", f"{COURSE}, §2.5; EEMUA 191 says the same", "seen-2nd"),
    "unnamed": Published(0, "no suppression that nobody has authorised", f"{COURSE}, §2.10", "seen-2nd"),
}  # fmt: skip
"""By figure. The paid texts were not read."""

MANAGEABLE = 2.0
"""Alarms in ten minutes that are the most a person can manage (PUBLISHED["rate"])."""
BEGINS_FLOOD, ENDS_FLOOD = 10, 5
CHATTERS = 3
WORST_SHARE = 100 / 3
"""Per cent of all that the most frequent alarm may make. The published figure is for thousands of alarms, of which ten are few;
a site of twenty alarms is judged by its worst one alone (proposal)."""
ENOUGH = 20
"""Alarms from which on their shares are judged at all: of fewer, one more or less moves them by 5 % and more."""


@dataclass(frozen=True, slots=True)
class Scale:
    """What the spans of the standards are for somebody."""

    ten_minutes: Millis
    chatter: Millis
    """At least so long is the span in which three times is chattering."""
    fleeting: Millis
    stale: Millis


PLANT = Scale(10 * MINUTE, MINUTE, 10 * SECOND, DAY)
"""As printed; of `within seconds` ten are taken."""
KEEPER = Scale(DAY, 2 * HOUR, 30 * MINUTE, DAY)


class Grade(StrEnum):
    """How a figure stands against what is printed, carried over to the keeper."""

    GOOD = "good"
    BEARABLE = "bearable"
    POOR = "poor"
    UNSURE = "too few to say"


def graded(name: str, value: float, *, of: int = ENOUGH) -> Grade:
    """The grade of one figure of PUBLISHED, on the keeper's scale. `of` is how many alarms a share is made of.

    Raises KeyError for a figure that nobody has published.
    """
    limit = PUBLISHED[name].value
    if name in SHARES and of < ENOUGH:
        return Grade.UNSURE
    if name == "rate":
        return Grade.GOOD if value <= limit else Grade.BEARABLE if value <= MANAGEABLE else Grade.POOR
    if name == "frequent":
        return Grade.GOOD if value <= WORST_SHARE else Grade.POOR
    good = {
        "low": value >= limit,
        "busy": value < limit,
        "flood": value < limit,
        "stale": value < limit,
    }.get(name, value <= limit)
    return Grade.GOOD if good else Grade.POOR


SHARES = frozenset({"frequent", "low", "medium", "high"})
"""Figures that are shares of all alarms."""
