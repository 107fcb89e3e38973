"""When to look under the cover and how much to feed: by hand what the product reckons, and what stops it."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from monitor.advice.feeding import Due, Fed, feeding, next_absence
from monitor.diary import Deed, Entry
from monitor.readings import DAY, HOUR
from monitor.rules import Units, Vessel
from monitor.science import feed
from parts import orchard
from parts.orchard import ms

NOW = ms("12:00")
FIG = replace(orchard.FIG, worms=2.0, vessel=Vessel("tub", floor=0.3), started=date(2026, 1, 1))
"""Tropical: Eudrilus eugeniae."""
PLUM = replace(orchard.PLUM, worms=2.0, vessel=Vessel("tub", floor=0.3), started=date(2026, 1, 1))
"""Temperate: Eisenia fetida."""


def entry(bed, days, deed=Deed.FED, text="", amount=None, unit="kg"):
    at = NOW - round(days * DAY)
    return Entry(at, at, "ana", deed, f"bin:{bed}", text, amount=amount, unit=unit if amount else "", number=1)


def fed(bed, *entries, celsius=24.0, **more):
    warmth = [(NOW - n * DAY, celsius) for n in range(90, 0, -1)]
    what = {"now": celsius, "highest": celsius, "worms": bed.worms, "units": Units.METRIC}
    return Fed(
        bed=bed,
        entries=sorted(entries, key=lambda e: e.at),
        warmth=warmth,
        at=NOW,
        tz="Europe/Lisbon",
        **(what | more),
    )


def test_a_tropical_bin_is_looked_at_when_its_degree_days_are_full():
    """50 degree-days above 12 °C at 24 °C are 50 / 12 = 4.17 days."""
    assert (Due.LATER, "nothing yet: the last feed is likely gone in about 2 days") == told(
        fed(FIG, entry("fig", 3))
    )
    assert Due.NOW is feeding(fed(FIG, entry("fig", 4.2))).due


def told(case):
    one = feeding(case)
    return one.due, one.words


def test_a_temperate_one_in_the_cool_may_be_left_about_a_month():
    """105 degree-days above 5 °C at 11 °C are 17.5 days; at 6.5 °C they were 70, and a month is enough."""
    cool = replace(PLUM, limits=PLUM.limits)
    assert Due.LATER is feeding(fed(cool, entry("plum", 15), celsius=11.0)).due
    assert Due.NOW is feeding(fed(cool, entry("plum", 18), celsius=11.0)).due
    assert Due.NOW is feeding(fed(cool, entry("plum", 31), celsius=6.5)).due
    assert Due.LATER is feeding(fed(cool, entry("plum", 29), celsius=6.5)).due


def test_where_both_masses_are_known_what_worms_eat_decides():
    """2 kg eat 0.5 kg/kg a day at 25 °C, at 24 °C 2^(−0.1) of it: 0.933 kg a day, so 2.8 kg last three days."""
    assert Due.LATER is feeding(fed(FIG, entry("fig", 2.9, amount=2.8))).due
    assert Due.NOW is feeding(fed(FIG, entry("fig", 3.1, amount=2.8))).due


def test_the_words_tell_to_look_first_and_how_deep():
    one = feeding(fed(FIG, entry("fig", 6)))
    assert one.words.startswith("look under the cover; if the last feed is gone, feed about ")
    assert one.words.endswith(", at most 2.5 cm deep on a third of the surface")
    assert feeding(fed(FIG, entry("fig", 6), units=Units.US)).words.endswith(
        "an inch deep on a third of the surface"
    )


@pytest.mark.parametrize(
    ("age", "rate"), [(0, 0.1), (13, 0.1), (14, 0.25), (55, 0.25), (56, 0.5), (4000, 0.5), (None, 0.25)]
)
def test_a_young_bin_is_fed_by_the_ramp(age, rate):
    assert rate == feed.allowed(age)
    started = None if age is None else date(2026, 11, 25) - timedelta(days=age)
    one = feeding(fed(replace(FIG, started=started, vessel=Vessel()), entry("fig", 6)))
    by_hand = rate * 2.0 * 2 ** (-0.1) * 50 / 12
    assert pytest.approx((by_hand / 2, by_hand)) == one.kilos


def test_no_more_than_lies_on_a_third_of_the_floor():
    """0.3 m² / 3 · 2.5 cm · 419 kg/m³ = 1.05 kg."""
    assert 1.0475 == pytest.approx(feed.layer(0.3))
    assert feeding(fed(FIG, entry("fig", 6))).kilos[1] == pytest.approx(1.0475)


@pytest.mark.parametrize(
    ("bed", "more", "said"),
    [
        (
            FIG,
            {"highest": 28.2},
            "feed nothing while it is that warm (28.2 °C within a day): food heats as it rots",
        ),
        (FIG, {"celsius": 18.0}, "feed nothing until it is warm again: they hardly eat in the cold"),
        (PLUM, {"celsius": 0.5}, "feed nothing while it is near freezing"),
        (
            FIG,
            {"leaves": (date(2026, 11, 27), date(2026, 12, 3))},
            "feed nothing new before 27 November, when everybody is away",
        ),
        (FIG, {"leaves": (date(2026, 11, 20), date(2026, 11, 25))}, "feed nothing while everybody is away"),
    ],
)
def test_heat_cold_and_departure_stop_it(bed, more, said):
    one = feeding(fed(bed, entry(bed.id, 40), **more))
    assert (Due.NOT, said, None) == (one.due, one.words, one.kilos)


def test_a_departure_that_is_further_away_stops_nothing():
    assert Due.NOW is feeding(fed(FIG, entry("fig", 9), leaves=(date(2026, 11, 28), date(2026, 12, 3)))).due


def test_in_a_windrow_winters_feed_is_its_heat():
    windrow = replace(FIG, vessel=Vessel("windrow"))
    one = feeding(fed(windrow, entry("fig", 40), celsius=18.0))
    assert Due.NOW is one.due
    assert any("winter's feed is its heat" in line for line in one.more)


def test_a_temperate_bin_in_the_cold_is_fed_less_and_not_stopped():
    cold, mild = (feeding(fed(replace(PLUM, vessel=Vessel()), entry("plum", 40), celsius=c)) for c in (8.0, 20.0))
    assert Due.NOW is cold.due
    # a week at most for one feed in both: 2^(−1.7) against 2^(−0.5) of their appetite
    assert pytest.approx(2 ** (-1.2)) == cold.kilos[1] / mild.kilos[1]


def test_slow_food_takes_twice_as_long():
    assert Due.NOW is feeding(fed(FIG, entry("fig", 6))).due
    one = feeding(fed(FIG, entry("fig", 6, text="Avocado skins")))
    assert Due.LATER is one.due
    assert "There was avocado in it, which lies about twice as long (proposal)." in one.more


def test_grit_is_missed_only_where_the_diary_is_old_enough_to_know():
    line = "The diary tells of no grit for two months"
    assert not any(line in m for m in feeding(fed(FIG, entry("fig", 6))).more)
    old = (entry("fig", 80), entry("fig", 6))
    assert any(line in m for m in feeding(fed(FIG, *old)).more)
    assert not any(
        line in m for m in feeding(fed(FIG, *old, entry("fig", 30, Deed.NOTE, "crushed eggshell"))).more
    )
    assert any(line in m for m in feeding(fed(FIG, *old, entry("plum", 30, Deed.NOTE, "grit"))).more)


def test_cocoons_hatch_within_a_range_of_days():
    """Eudrilus, 16.6 days at 25 °C (Viljoen & Reinecke 1989). Ten days ago, at 22 °C ever since: bases 9, 12, 15 give totals of
    265.6, 215.8 and 166; 130, 100 and 70 are gone; at 13, 10 and 7 a day 10.4, 11.6 and 13.7 days are left.
    """
    one = feeding(fed(FIG, entry("fig", 2), entry("fig", 10, Deed.LOOKED, "many cocoons"), celsius=22.0))
    (line,) = [m for m in one.more if "cocoons" in m]
    assert "the freshest hatch in about 10 to 14 days at this warmth" in line
    assert "Viljoen & Reinecke 1989 (seen)" in line
    late = feeding(fed(FIG, entry("fig", 2), entry("fig", 40, Deed.LOOKED, "cocoons"), celsius=22.0))
    assert any("have hatched by now" in m for m in late.more)


def test_what_is_not_known_is_said_and_not_guessed():
    nothing = feeding(fed(replace(FIG, worms=None), now=None, highest=None))
    assert (Due.UNKNOWN, None, None) == (nothing.due, nothing.days, nothing.kilos)
    begin = ["the diary does not say", "no thermometer of its living", "the settings do not say"]
    assert all(said.startswith(wanted) for said, wanted in zip(nothing.lacks, begin, strict=True))
    poor = feeding(fed(replace(FIG, worms=None), entry("fig", 6)))
    assert "feed a little, at most 2.5 cm" in poor.words


def test_an_absence_is_one_in_which_nobody_is_left():
    first, second = [(date(2026, 12, 20), date(2026, 12, 28))], [(date(2026, 12, 24), date(2027, 1, 3))]
    today = date(2026, 11, 25)
    assert (date(2026, 12, 24), date(2026, 12, 28)) == next_absence([first, second], today)
    assert (date(2026, 12, 20), date(2026, 12, 28)) == next_absence([first], today)
    assert next_absence([first, []], today) is None
    assert next_absence([], today) is None
    assert next_absence([first], date(2027, 1, 1)) is None


def test_the_past_before_the_feed_does_not_count():
    cold_before = fed(FIG, entry("fig", 3))
    warm = [(begins, 24.0 if begins >= NOW - 3 * DAY - HOUR else 40.0) for begins, _ in cold_before.warmth]
    assert feeding(cold_before).days == feeding(replace(cold_before, warmth=warm)).days
