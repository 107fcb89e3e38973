"""How the product is asked about food, about cocoons, and about what a bed loses to the air."""

from __future__ import annotations

from monitor.science import air, clocks, feed, units


def days_to_hatch(*, species, celsius, base):
    """By a base of the source's table, else by our own."""
    point = feed.HATCHING[species]
    base = point.base if base is None else base
    return clocks.days_at(celsius, clocks.Line(base, point.total(base)))


def days_by_the_line_of_butt(*, celsius):
    return clocks.days_at(celsius, clocks.line_through([(10, 90), (15, 51), (20, 40)]))


FEED = {
    "feed a day": lambda *, worms, age: feed.allowed(age) * worms,
    "feed is at most": lambda *, rate: max(feed.allowed(age) for age in (None, *range(400))) <= rate,
    "food density, lb/gal": lambda: feed.FOOD_DENSITY / units.POUND * units.GALLON / 1000,
    "layer of food": feed.layer,
    "days to hatch": days_to_hatch,
    "days by the line of Butt": days_by_the_line_of_butt,
    "rate at": clocks.rate_at,
    "drying watts": air.drying_watts,
    "drying": lambda **of: air.drying(of["bed"], of["air"], of["humidity"], area=of["floor"], cover=of["cover"])[
        0
    ],
}
