"""The mass balance as properties: whatever is added, the dry matter stays."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import BadValue
from monitor.science import water

masses = st.floats(0.1, 500)
moistures = st.floats(0, 95)


@given(masses, moistures, moistures)
def test_after_adding_what_was_told_the_bed_is_where_it_was_to_be(mass, have, want):
    added = water.to_reach(mass, have, target=want)
    reached = water.mixed([(mass, have), (added, 100)])
    assert max(have, want) == pytest.approx(reached, abs=1e-9)


@given(masses, moistures, moistures)
def test_what_is_lost_in_drying_is_what_must_be_added_to_come_back(mass, have, dried):
    gone = water.lost(mass, have, now=dried)
    back = water.to_reach(mass - gone, min(have, dried), target=have)
    assert gone == pytest.approx(back, abs=1e-7)


@given(masses, st.floats(20, 95), st.floats(15, 90), st.floats(0, 12))
def test_after_adding_the_told_bedding_the_bed_is_where_it_was_to_be(mass, have, want, bedding):
    added = water.bedding_to_add(mass, have, target=want, bedding=bedding)
    reached = water.mixed([(mass, have), (added, bedding)])
    assert min(have, want) == pytest.approx(reached, abs=1e-6)


@given(st.floats(0, 99.9))
def test_wet_basis_to_dry_basis_and_back_is_the_same(moisture):
    assert moisture == pytest.approx(water.wet_basis(water.dry_basis(moisture)), abs=1e-9)


@given(masses, moistures, moistures, moistures)
def test_in_two_steps_it_takes_the_same_water_as_in_one(mass, a, b, c):
    low, middle, high = sorted((a, b, c))
    first = water.to_reach(mass, low, target=middle)
    second = water.to_reach(mass + first, middle, target=high)
    assert water.to_reach(mass, low, target=high) == pytest.approx(first + second, rel=1e-9, abs=1e-9)


@given(masses, moistures, st.floats(0, 100), st.floats(0, 40), st.floats(0, 40))
def test_poured_water_brings_the_bed_between_both_temperatures(mass, moisture, litres, bed, poured):
    after = water.after_pouring(mass, bed, litres=litres, water=poured, moisture=moisture)
    assert min(bed, poured) - 1e-9 <= after <= max(bed, poured) + 1e-9


def test_the_simple_product_of_mass_and_difference_is_not_what_we_tell():
    assert water.to_reach(10, 60, target=75) > 3.9 * (10 * 0.15)


def test_a_bed_that_is_wet_enough_needs_no_water_and_one_that_is_dry_enough_no_bedding():
    assert 0 == water.to_reach(10, 80, target=75)
    assert 0 == water.lost(10, 70, now=75)
    assert 0 == water.bedding_to_add(10, 70, target=75)


@pytest.mark.parametrize(
    "nonsense",
    [
        lambda: water.to_reach(10, 60, target=100),
        lambda: water.to_reach(10, 60, target=120),
        lambda: water.to_reach(10, 60, target=-1),
        lambda: water.to_reach(10, 100, target=75),
        lambda: water.to_reach(10, -0.1, target=75),
        lambda: water.to_reach(-1, 60, target=75),
        lambda: water.to_reach(math.inf, 60, target=75),
        lambda: water.to_reach(math.nan, 60, target=75),
        lambda: water.to_reach(10, math.nan, target=75),
        lambda: water.lost(10, 60, now=100),
        lambda: water.bedding_to_add(10, 85, target=75, bedding=75),
        lambda: water.bedding_to_add(10, 85, target=75, bedding=90),
        lambda: water.dry_basis(100),
        lambda: water.wet_basis(-0.5),
        lambda: water.wet_basis(math.inf),
        lambda: water.oven_moisture(wet=2.3, dry=10),
        lambda: water.oven_moisture(wet=0, dry=0),
        lambda: water.oven_moisture(wet=10, dry=-1),
        lambda: water.mixed([]),
        lambda: water.mixed([(0, 50)]),
        lambda: water.mixed([(1, 101)]),
        lambda: water.after_pouring(0, 22, litres=0, water=8),
        lambda: water.after_pouring(35, math.nan, litres=4, water=8),
        lambda: water.after_pouring(35, 22, litres=-4, water=8),
    ],
)
def test_nonsense_gives_an_error_and_no_number(nonsense):
    with pytest.raises(BadValue):
        nonsense()


def test_a_percentage_given_as_a_share_of_one_is_almost_no_moisture_and_shows():
    assert water.to_reach(10, 0.75, target=75) == pytest.approx(29.7)


def test_nothing_but_water_is_a_whole_hundred_per_cent():
    assert 100 == water.mixed([(3, 100)])
    assert 4.186 == pytest.approx(water.heat(1, 100))
