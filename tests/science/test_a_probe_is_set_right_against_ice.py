"""Offset and scale out of one or two known points, against a straight line fitted by a reference library."""

import random

import numpy as np
import pytest

from monitor.errors import BadValue
from monitor.science.correction import corrected, offset_from, scale_and_offset


def test_what_a_probe_reads_in_melting_ice_is_what_its_offset_takes_away():
    assert pytest.approx(0.0) == corrected(0.4375, offset=offset_from(0.4375), scale=1.0)
    assert -0.4375 == offset_from(0.4375)


def test_two_points_give_the_line_that_numpy_gives():
    rolls = random.Random(5)
    for _ in range(200):
        read = [rolls.uniform(-2, 2), rolls.uniform(20, 45)]
        true = [0.0, read[1] + rolls.uniform(-3, 3)]
        slope, intercept = np.polyfit(read, true, 1)
        assert pytest.approx((slope, intercept), abs=1e-9) == scale_and_offset(*zip(read, true, strict=True))


def test_the_points_themselves_come_out_right():
    scale, offset = scale_and_offset((0.6, 0.0), (38.1, 36.9))
    assert pytest.approx(0.0) == corrected(0.6, offset=offset, scale=scale)
    assert pytest.approx(36.9) == corrected(38.1, offset=offset, scale=scale)


@pytest.mark.parametrize("high", [(5.0, 4.8), (20.0, 5.0), (4.0, 20.0)])
def test_points_that_lie_near_to_each_other_make_no_scale(high):
    with pytest.raises(BadValue, match="10 °C apart"):
        scale_and_offset((0.3, 0.0), high)


def test_without_a_correction_the_number_is_the_very_same():
    value = 0.1 + 0.2
    assert value is corrected(value, offset=0.0, scale=1.0)
