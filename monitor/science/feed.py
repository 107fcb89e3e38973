"""What worms eat and when: clocks, the ramp of a young bin, what food weighs, when cocoons hatch. Each number with its source.

Temperatures in °C, masses in kg, time in days. The bases of the clocks are ours: none was published for composting species
(`clocks`).
"""

from __future__ import annotations

from typing import Final, NamedTuple

from monitor.science.bands import ColdMeans

MOST_DEEP = 0.025
"""m of food at once (common practice: an inch)."""
MOST_OF_FLOOR = 1 / 3
"""Of the surface, so that worms can flee from what heats (common practice)."""
FOOD_DENSITY = 419.0
"""kg/m³ of kitchen scraps: 3.5 lb/gal, list of the compost mixture calculator of Missouri S&T (seen)."""
RAMP: Final = ((14, 0.1), (56, 0.25))
"""kg of food for a kg of worms and day until so many days after the start (proposal; 0.25 in the first 2 to 4 weeks is common
practice)."""
MOST = 0.5
"""kg/kg a day afterwards: a pound of worms for half a pound of scraps (county extension, Asotin WA; seen). Ndegwa et al. 2000
fed 0.75 for the best castings and 1.25 for most worms, in the laboratory (seen)."""
APPETITE_AT = 25.0
"""°C at which worms eat that; half as much 10 K colder (Q10 2; Phillipson & Bolton 1976 saw 1.4 to 2.4; seen)."""
HOT_MARGIN = 1.0
"""K below the upper end of comfort at which nothing more is fed: food heats by itself (proposal)."""
KEEPS_WARM: Final = frozenset({"windrow"})
"""Vessels so large that food in winter is what keeps them warm (common practice)."""
SLOW = 2.0
"""How much longer slow foods lie (proposal)."""
SLOW_FOODS: Final = (
    "avocado", "citrus", "orange", "lemon", "onion", "garlic", "cob", "stalk", "core", "pineapple", "mango", "nut", "wood",
    "cardboard",
)  # fmt: skip
"""What is known to lie long (common practice)."""
GRIT: Final = ("grit", "eggshell", "egg shell", "shell", "sand", "lime", "rock dust", "chalk")
"""What worms grind with (common practice)."""
GRIT_EVERY = 60
"""Days without any in the diary after which it is mentioned (proposal)."""


class FeedClock(NamedTuple):
    """A feed is taken to be gone after `again` degree-days above `base`; after `longest` days one looks in any case."""

    base: float
    again: float
    longest: int


CLOCKS: Final = {
    ColdMeans.ACT: FeedClock(12.0, 50.0, 14),  # tropical: about 4 days at 25 °C, little and often (proposal)
    ColdMeans.FEED_LESS: FeedClock(
        5.0, 105.0, 30
    ),  # temperate: a week at 20 °C, may be left about a month (common practice)
}
"""By what cold means to the worm (proposal)."""


class Hatching(NamedTuple):
    """A published point: incubation of so many `days` at `celsius`, with its source; `base` is ours."""

    days: float
    celsius: float
    base: float
    source: str

    def total(self, base: float) -> float:
        """Degree-days above another base that go through the same point."""
        return self.days * (self.celsius - base)


BASE_OFF = 3.0
"""K by which a base may be wrong either way (proposal)."""
HATCHING: Final = {
    "eudrilus-eugeniae": Hatching(16.6, 25, 12, "Viljoen & Reinecke 1989 (seen)"),
    "perionyx-excavatus": Hatching(18.7, 25, 10, "Hallatt et al. 1990 (seen)"),
    "eisenia-fetida": Hatching(21, 25, 5, "Neuhauser et al. 1980 (seen)"),
    "eisenia-andrei": Hatching(21, 25, 5, "Neuhauser et al. 1980, of Eisenia fetida (seen)"),
    "dendrobaena-veneta": Hatching(42.1, 25, 5, "Viljoen et al. 1991 (seen)"),
}


def allowed(age: float | None) -> float:
    """kg of food for a kg of worms and day in a bin that began `age` days ago; of an unknown age the middle step."""
    if age is None:
        return RAMP[-1][1]
    return next((rate for until, rate in RAMP if age < until), MOST)


def layer(floor: float) -> float:
    """kg that lie 2.5 cm deep on a third of `floor` m²."""
    return floor * MOST_OF_FLOOR * MOST_DEEP * FOOD_DENSITY
