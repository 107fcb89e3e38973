"""The offset out of an ice bath: the middle of readings that stand still, near enough to ice to be one."""

import pytest

from monitor.errors import BadValue
from monitor.science.correction import LARGEST_OFFSET, corrected
from monitor.science.ice import FEWEST, FINE, in_ice


def test_the_offset_brings_the_middle_of_the_readings_to_ice():
    found = in_ice([0.375, 0.4375, 0.4375, 0.5, 0.4375])
    assert (0.4375, 0.125, -0.4375) == (found.middle, found.apart, found.offset)
    assert pytest.approx(0.0) == corrected(found.middle, offset=found.offset, scale=1.0)


@pytest.mark.parametrize(
    ("read", "needed"), [(0.0, False), (0.0625, False), (-0.0625, False), (0.125, True), (-0.5, True)]
)
def test_an_offset_finer_than_the_bath_is_not_needed(read, needed):
    assert needed is in_ice([read] * FEWEST).needed


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        ([0.1] * (FEWEST - 1), "leave it in"),
        ([], "leave it in"),
        ([4.0, 2.5, 1.4, 0.9, 0.6], "still cooling"),
        ([0.1, 0.9, 0.2, 0.7, 0.4], "enough ice"),
        ([21.0] * FEWEST, "is it in the ice"),
        ([-7.0] * FEWEST, "is it in the ice"),
        ([0.1, 0.1, float("nan"), 0.1, 0.1], "a number"),
    ],
)
def test_what_is_no_ice_bath_yet_is_refused_with_what_to_do(readings, said):
    with pytest.raises(BadValue, match=said):
        in_ice(readings)


def test_the_largest_offset_is_the_one_that_settings_take():
    assert -LARGEST_OFFSET == in_ice([LARGEST_OFFSET] * FEWEST).offset


def test_height_above_the_sea_moves_ice_by_less_than_any_offset_says():
    # Clausius and Clapeyron with handbook values: ice 916.7 kg/m³, water 999.8 kg/m³, 333.55 kJ/kg at 273.15 K [memory];
    # the standard atmosphere has 101.3 kPa at the sea and 70.1 kPa at 3000 m (ISO 2533) [memory]
    slope = 273.15 * (1 / 999.8 - 1 / 916.7) / 333_550
    assert -7.4e-8 == pytest.approx(slope, rel=0.01)
    assert FINE / 40 > slope * (70_100 - 101_300) > 0
