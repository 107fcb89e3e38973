import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import BadValue
from monitor.science.water import dose, to_reach

BED = {"target": 75.0, "uncertainty": 4.0, "floor": 0.3, "drains": True}


def test_the_range_is_the_water_for_the_wettest_and_the_driest_the_bed_may_be():
    told = dose(35, 62, **BED)
    assert to_reach(35, 66, target=75) == told.low == pytest.approx(12.6)
    assert to_reach(35, 58, target=75) == told.high == pytest.approx(23.8)


def test_the_first_pour_is_five_litres_a_square_metre_where_a_third_would_be_more():
    assert 1.5 == pytest.approx(dose(35, 62, **BED).first)


def test_the_first_pour_is_a_third_of_the_low_end_where_the_floor_would_take_more():
    told = dose(35, 70, **{**BED, "floor": 2.0})
    assert told.low / 3 == pytest.approx(told.first) == pytest.approx(35 * 0.01 / 0.25 / 3)


def test_without_a_known_floor_the_first_pour_is_a_third_of_the_low_end():
    told = dose(35, 62, target=75, uncertainty=4, drains=True)
    assert told.low / 3 == pytest.approx(told.first)


@pytest.mark.parametrize("drains", [False, None])
def test_without_drains_or_when_nobody_knows_the_first_pour_is_half(drains):
    assert 0.75 == pytest.approx(dose(35, 62, **{**BED, "drains": drains}).first)


def test_a_bed_that_may_be_wet_enough_already_gets_a_range_from_zero_and_no_first_pour():
    told = dose(35, 72, **BED)
    assert (0, 0) == (told.low, told.first)
    assert told.high == pytest.approx(9.8)


def test_at_the_ends_of_the_scale_the_uncertainty_does_not_leave_it():
    assert to_reach(10, 0, target=75) == dose(10, 2, target=75, uncertainty=4).high
    assert 0 == dose(10, 98, target=75, uncertainty=4).high


@given(st.floats(1, 200), st.floats(0, 99), st.floats(50, 85), st.floats(0, 20), st.floats(0.05, 3), st.booleans())
def test_no_first_pour_is_more_than_a_third_of_the_low_end_or_than_the_floor_takes(
    mass, moisture, target, uncertainty, floor, drains
):
    told = dose(mass, moisture, target=target, uncertainty=uncertainty, floor=floor, drains=drains)
    assert 0 <= told.first <= min(told.low / 3, 5 * floor) + 1e-12
    assert told.low <= told.high


@pytest.mark.parametrize(
    "wrong",
    [
        {"uncertainty": -1},
        {"uncertainty": math.nan},
        {"uncertainty": 101},
        {"floor": 0},
        {"floor": -0.3},
        {"floor": math.inf},
        {"target": 100},
    ],
)
def test_nonsense_gives_an_error_and_no_dose(wrong):
    with pytest.raises(BadValue):
        dose(35, 62, **{**BED, **wrong})


@pytest.mark.parametrize("moisture", [-1, 100, 140, math.nan])
def test_a_moisture_off_the_scale_gives_an_error_whatever_the_uncertainty(moisture):
    with pytest.raises(BadValue):
        dose(35, moisture, **{**BED, "uncertainty": 50})
