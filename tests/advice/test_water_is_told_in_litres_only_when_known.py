"""Dry beds: a range of litres from mass and a calibrated probe, or no litres at all."""

from dataclasses import replace

import pytest

from monitor.advice.acts import Act
from monitor.advice.warmth import water_range
from monitor.checks.findings import Condition
from monitor.rules import Ability, Level, Units, Vessel
from parts.orchard import FIG, PLUM, Present, advise, alarm, ms, now_at, rules

DRY = alarm(13, "fig", Condition.DRY, value=68.0)
PARCHED = alarm(13, "fig", Condition.DRY, Level.HARM, value=62.0)
NOW = {"fig.west": Present(24.0), "fig.east": Present(24.0, moisture=62.0, spread=5.0)}


def only(advice):
    assert 1 == len(advice.orders)
    return advice.orders[0]


def of(**changes):
    return rules(bins=(replace(FIG, **changes), PLUM), mats=())


def test_the_dose_is_a_range_and_the_first_pour_a_part_of_its_low_end():
    # W = m(B − A)/(1 − B), NRAES-54 [seen, as quoted]: 35 kg to 75 % from 67 % and from 57 %
    low, high = 35 * (0.75 - 0.67) / 0.25, 35 * (0.75 - 0.57) / 0.25
    assert (11.2, 25.2) == (pytest.approx(low), pytest.approx(high))
    order = only(advise([PARCHED], NOW, of=of()))
    # first pour: the lower of 11.2/3 = 3.7 and 5 L/m² × 0.3 m² = 1.5 [proposal]
    assert "sprinkle about 1.5 litres of water, 21 to 27 °C" == order.words
    assert "10 to 25 litres in all, this much first" in order.why
    assert any("= 11.2 L to 25.2 L" in line for line in order.more)
    assert any(
        "First pour 1.5 L: the lower of a third of 11.2 L and 1.5 L for 0.3 m² of floor" in m for m in order.more
    )
    assert Ability.WATER is order.needs


def test_the_wrong_formula_would_say_a_quarter_of_it():
    order = only(advise([PARCHED], NOW, of=of()))
    assert not any("2.8 L" in line for line in order.more)  # m(B − A) = 35 × 0.08


def test_without_a_floor_the_first_pour_is_a_third_of_the_low_end():
    order = only(advise([PARCHED], NOW, of=of(vessel=Vessel(drains=True))))
    assert "sprinkle about 3.5 litres of water, 21 to 27 °C" == order.words  # 11.2 / 3 = 3.7, in half litres


@pytest.mark.parametrize("drains", [False, None])
def test_half_of_it_where_nothing_is_known_to_drain(drains):
    order = only(advise([PARCHED], NOW, of=of(vessel=Vessel(floor=0.3, drains=drains))))
    assert "sprinkle about 0.8 litres of water, 21 to 27 °C" == order.words
    assert any("halved because it is not known to drain" in line for line in order.more)


def test_without_the_mass_of_bedding_there_are_no_litres():
    order = only(advise([PARCHED], NOW, of=of(bedding=None)))
    assert "sprinkle a little water, 21 to 27 °C, then measure" == order.words
    assert "itre" not in order.words + order.why
    assert "No amounts: the settings don't say how much `bedding` the bin holds." in order.more


def test_without_a_fresh_calibrated_reading_there_are_no_litres():
    order = only(advise([PARCHED], now_at(fig_west=24.0), of=of()))
    assert "sprinkle a little water, 21 to 27 °C, then measure" == order.words
    assert "No amounts: no calibrated probe says how wet it is now." in order.more


def test_within_the_probes_own_error_of_the_aim_there_are_no_litres():
    zones = {"fig.east": Present(24.0, moisture=69.0, spread=8.0)}
    order = only(advise([DRY], zones, of=of()))
    assert "sprinkle a little water, 21 to 27 °C, then measure" == order.words
    assert "No amounts: 69 ± 8 % may already be inside comfort." in order.more


def test_in_gallons_and_fahrenheit_where_the_site_says_so():
    shed = replace(of(), site=replace(of().site, units=Units.US))
    order = only(advise([PARCHED], NOW, of=shed))
    # 1.5 L = 0.396 gal; 24 ± 3 °C = 69.8 to 80.6 °F, rounded inwards
    assert "sprinkle about ½ gallon of water, 70 to 80 °F" == order.words
    assert "°C" not in order.words + order.why
    assert any("77 lb at 62 ± 5 %" in line and "2.96 gal to 6.66 gal" in line for line in order.more)


@pytest.mark.parametrize(
    ("bed", "units", "water"),
    [
        (22.0, Units.METRIC, "19 to 25 °C"),
        (22.4, Units.METRIC, "20 to 25 °C"),
        (27.0, Units.METRIC, "24 to 29 °C"),  # below 30 °C
        (31.0, Units.METRIC, "28 to 29 °C"),
        (32.0, Units.METRIC, "29 °C"),
        (33.0, Units.METRIC, None),  # nothing within 3 °C is below 30 °C
        (33.0, Units.US, None),
        (2.0, Units.METRIC, "1 to 5 °C"),
        (22.0, Units.US, "67 to 77 °F"),
        (None, Units.METRIC, "bed-warm"),
    ],
)
def test_water_is_within_three_degrees_of_the_bed_and_below_thirty(bed, units, water):
    assert water == water_range(bed, units)


def test_a_bed_too_hot_for_any_water_is_cooled_first():
    zones = {"fig.west": Present(34.0), "fig.east": Present(34.0, moisture=62.0, spread=5.0)}
    order = only(advise([PARCHED], zones, of=of()))
    assert (Act.LOOK, "do not water it yet: cool it first") == (order.act, order.words)


def test_watering_is_for_the_morning():
    noon = alarm(13, "fig", Condition.DRY, since="12:00", value=68.0)
    assert ms("2026-11-26T10:00") == only(advise([noon], NOW, of=of(), at="13:30")).by
    assert ms("10:00") == only(advise([DRY], NOW, of=of(), at="02:30")).by
    # an hour late it is still this morning's; in the afternoon it is tomorrow's
    assert ms("10:00") == only(advise([DRY], NOW, of=of(), at="11:00")).by
    assert ms("2026-11-26T10:00") == only(advise([DRY], NOW, of=of(), at="15:00")).by


def test_a_probe_that_is_damp_again_asks_for_no_more_water():
    zones = {"fig.east": Present(24.0, moisture=74.0, spread=5.0)}
    order = only(advise([DRY], zones, of=of()))
    assert (Act.LOOK, "do not water it yet: it is damp again", None) == (order.act, order.words, order.by)
    assert "moisture is 74 % now" == order.fact


def test_look_underneath_then_measure_again_after_4_to_12_hours():
    order = only(advise([PARCHED], NOW, of=of()))
    assert any("Look under the bin first" in line for line in order.more)
    assert any("Measure again after 4 to 12 h" in line for line in order.more)


def test_tap_water_stands_against_chlorine_not_chloramine_and_a_dry_bed_does_not_wait():
    # chloramine does not leave on standing in useful time [seen]
    order = only(advise([PARCHED], NOW, of=of()))
    line = next(line for line in order.more if "chloramine" in line)
    assert "of chlorine, not of chloramine" in line
    assert "A dry bed does not wait for it" in line


def test_one_zone_of_two_is_half_of_the_bin():
    zones = {"fig.east": Present(24.0, moisture=62.0, spread=5.0)}
    east = alarm(13, "fig.east", Condition.DRY, Level.HARM, value=62.0)
    order = only(advise([east], zones, of=of()))
    assert any("18 kg at 62 ± 5 %, taken as one of 2 equal zones" in line for line in order.more)
    assert "sprinkle about 0.8 litres of water, 21 to 27 °C" == order.words  # 5 L/m² on half of 0.3 m²


def test_plain_cold_stands_against_watering():
    cold = alarm(12, "fig", Condition.COLD)
    orders = advise([cold, DRY], {**NOW, "fig.west": Present(20.0)}, of=of()).orders
    assert not any(o.act in (Act.WATER, Act.DAMPEN) for o in orders)
    assert any("do not water it yet: it is too cold" == o.words for o in orders)


def test_a_temperate_worm_that_only_eats_less_is_watered_in_the_cold():
    cold, dry = alarm(12, "plum", Condition.COLD, value=8.0), alarm(13, "plum", Condition.DRY, value=64.0)
    orders = advise([cold, dry], {"plum.near": Present(8.0, moisture=62.0, spread=5.0)}, of=of()).orders
    assert [Act.WATER, Act.FEED_LESS] == [o.act for o in orders]
    assert "sprinkle a little water, 5 to 11 °C, then measure" == orders[0].words
