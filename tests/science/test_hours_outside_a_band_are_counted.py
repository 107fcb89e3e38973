"""Hours and degree-hours: worked by hand, and against scipy's trapezoids on a finely drawn line."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import trapezoid

from monitor.errors import BadValue
from monitor.readings import HOUR, MINUTE
from monitor.science.exposure import Exposure, energy, exposure


def hourly(*values):
    return [(k * HOUR, float(value)) for k, value in enumerate(values)]


def test_a_night_that_sinks_and_rises_is_worked_by_hand():
    # 23 → 19 crosses 21 after half an hour; half an hour × 2 °C / 2 = 0.5 °C h; 1 h at 19 = 2 °C h; and the same back up.
    assert Exposure(2.0, 1.0, 0.0, 3.0, 0.0) == exposure(hourly(23, 19, 19, 23), 21, 29, interval=HOUR)


def test_heat_is_counted_on_its_own_side():
    # 29 → 33: beyond 29 for the whole hour, 1 h × 4 °C / 2 = 2 °C h.
    assert Exposure(0.0, 1.0, 1.0, 0.0, 2.0) == exposure(hourly(27, 29, 33), 21, 29, interval=HOUR)


def test_a_line_through_the_whole_band_is_parted_in_three():
    # 17 → 33 in 1 h: 4/16 h below, 8/16 h inside, 4/16 h above; 0.25 h × 4 °C / 2 = 0.5 °C h on either side.
    assert Exposure(0.25, 0.5, 0.25, 0.5, 0.5) == exposure(hourly(17, 33), 21, 29, interval=HOUR)


def test_nothing_is_reckoned_across_a_silence():
    readings = [(0, 10.0), (HOUR, 10.0), (6 * HOUR, 10.0), (7 * HOUR, 10.0)]
    assert Exposure(2.0, 0.0, 0.0, 22.0, 0.0) == exposure(readings, 21, 29, interval=HOUR)


def test_a_pause_of_exactly_two_and_a_half_intervals_is_none():
    assert 2.5 == exposure([(0, 10.0), (150 * MINUTE, 10.0)], 21, 29, interval=HOUR).known
    assert 0.0 == exposure([(0, 10.0), (150 * MINUTE + 1, 10.0)], 21, 29, interval=HOUR).known


@pytest.mark.parametrize("few", [[], [(0, 10.0)]])
def test_too_few_readings_say_nothing(few):
    assert Exposure(0.0, 0.0, 0.0, 0.0, 0.0) == exposure(few, 21, 29, interval=HOUR)


def test_an_open_end_has_nothing_beyond_it():
    assert Exposure(1.0, 0.0, 0.0, 11.0, 0.0) == exposure(hourly(10, 10), 21, math.inf, interval=HOUR)
    assert Exposure(0.0, 1.0, 0.0, 0.0, 0.0) == exposure(hourly(10, 10), -math.inf, math.inf, interval=HOUR)


@given(st.lists(st.floats(0, 45), min_size=2, max_size=12))
def test_degree_hours_agree_with_trapezoids_of_a_finely_drawn_line(values):
    found = exposure(hourly(*values), 21, 29, interval=HOUR)
    at = np.linspace(0, len(values) - 1, 2000 * (len(values) - 1) + 1)
    line = np.interp(at, range(len(values)), values)
    assert trapezoid(np.maximum(21 - line, 0), at) == pytest.approx(found.short, abs=2e-3)
    assert trapezoid(np.maximum(line - 29, 0), at) == pytest.approx(found.beyond, abs=2e-3)
    assert len(values) - 1 == pytest.approx(found.known)


def test_a_mat_of_forty_watts_uses_an_often_worked_amount():
    # 40 W for 24 h = 960 Wh (power × time); by the SI's own joules: 40 J/s × 86,400 s / 3.6 MJ.
    assert 0.96 == pytest.approx(energy(24, 40)) == pytest.approx(40 * 86_400 / 3.6e6)


def test_what_cannot_be_is_refused():
    for low, high, interval in ((29, 21, HOUR), (21, 21, HOUR), (21, 29, 0)):
        with pytest.raises(BadValue):
            exposure(hourly(20, 20), low, high, interval=interval)
    for odd in ((-1, 40), (1, -40)):
        with pytest.raises(BadValue):
            energy(*odd)
