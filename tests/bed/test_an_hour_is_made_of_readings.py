"""Whole hours out of raw readings: ends, means, outliers, gaps; and what tells how long a mat was on."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.bed.hours import Known, duty_by_diary, duty_by_plug, duty_of, hour_of, together
from monitor.bed.plan import timer
from monitor.readings import HOUR, MINUTE
from monitor.rules import Control, Mat
from monitor.science import series

QUARTER = 15 * MINUTE


def quarters(values, start=0):
    return [(start + n * QUARTER, value) for n, value in enumerate(values)]


def test_a_mean_is_weighted_by_time_and_not_by_how_often_was_read():
    often = [(n * MINUTE, 10.0) for n in range(31)]
    assert pytest.approx((10 * 30 + 15 * 15 + 20 * 15) / 60) == series.mean(
        [*often, (45 * MINUTE, 20.0), (60 * MINUTE, 20.0)], 0, HOUR
    )


def test_a_mean_is_what_numpys_trapezoids_say():
    values = [10 + math.sin(n) for n in range(9)]
    expected = np.trapezoid(values, dx=0.25) / 2
    assert pytest.approx(expected) == series.mean(quarters(values), 0, 2 * HOUR)


def test_nothing_is_integrated_across_a_gap():
    gone = [(0, 10.0), (QUARTER, 10.0), (3 * HOUR, 30.0), (3 * HOUR + QUARTER, 30.0)]
    assert series.mean(gone, 0, 3 * HOUR + QUARTER) is None
    assert pytest.approx(0.5) == series.known_hours(gone)
    assert pytest.approx(2 * 0.25) == series.degree_hours(gone, 12.0, below=True)


def test_degree_hours_are_cut_where_the_line_crosses():
    slope = [(0, 8.0), (30 * MINUTE, 12.0)]
    assert pytest.approx(0.25) == series.degree_hours(slope, 10.0, below=True)
    assert pytest.approx(0.25) == series.degree_hours(slope, 10.0, below=False)
    assert 0.0 == series.degree_hours(slope, 5.0, below=True)


@given(st.lists(st.floats(0, 30), min_size=3, max_size=12), st.floats(5, 25))
def test_degree_hours_below_less_those_above_are_the_whole_area(values, limit):
    one = quarters(values)
    area = np.trapezoid([limit - v for v in values], dx=0.25)
    both = series.degree_hours(one, limit, below=True) - series.degree_hours(one, limit, below=False)
    assert pytest.approx(area, abs=1e-6) == both


def test_one_wild_reading_goes_and_a_step_after_a_still_hour_stays():
    wild = quarters([10.0, 10.0, 85.0, 10.1, 10.0, 10.0, 10.1])
    assert 85.0 not in [v for _, v in series.without_outliers(wild, floor=0.25)]
    assert 6 == len(series.without_outliers(wild, floor=0.25))
    still = quarters([10.0] * 6 + [10.0625])
    assert still == series.without_outliers(still, floor=0.25)
    assert len(still) > len(series.without_outliers(still, floor=0.001))


def test_the_spread_of_a_normal_series_is_its_standard_deviation():
    values = np.random.default_rng(1).normal(0, 2, 20_000)
    assert pytest.approx(2.0, rel=0.03) == series.deviation(list(values), floor=0.1)
    assert 0.1 == series.deviation([5.0] * 9, floor=0.1)


def test_an_hour_has_its_ends_its_air_and_what_was_lowest_between():
    bed = quarters([20, 20, 20, 19.9, 19.9, 19.8, 19.8, 19.7, 19.7], start=-HOUR)
    hour = hour_of(HOUR, [bed], quarters([12.0, 12.2, 12.4, 12.6, 12.8]), duty=0.5)
    assert pytest.approx(19.9) == hour.start_c
    assert pytest.approx(19.7) == hour.end_c
    assert pytest.approx(12.4) == hour.air_c
    assert 0.5 == hour.duty
    assert 19.85 < hour.lowest < hour.highest <= 20  # of the hour before


def test_a_hole_in_the_readings_leaves_its_hour_without_that_end():
    bed = [(at, v) for at, v in quarters([20.0] * 9, start=-HOUR) if not -35 * MINUTE <= at <= 0]
    hour = hour_of(HOUR, [bed], [], duty=None)
    assert hour.start_c is None
    assert 20.0 == hour.end_c
    assert hour.air_c is None
    assert hour_of(9 * HOUR, [bed], [], duty=None) is None
    assert hour_of(HOUR, [], [], duty=None) is None


def test_three_probes_of_a_zone_are_one_by_their_median():
    probes = [quarters([v] * 9, start=-HOUR) for v in (18.0, 19.0, 40.0)]
    assert 19.0 == hour_of(HOUR, probes, [], duty=None).end_c


def test_a_plug_that_draws_is_on_and_its_last_word_holds_two_hours():
    drawn = [(0, 0.4), (QUARTER, 29.0), (45 * MINUTE, 0.0)]
    assert pytest.approx(0.5) == duty_by_plug(drawn, 0, HOUR, watts=30.0)
    assert pytest.approx(0.5) == duty_by_plug([(0, 0), (QUARTER, 1), (45 * MINUTE, 0)], 0, HOUR, watts=None)
    assert 0.0 == duty_by_plug(drawn, HOUR, 2 * HOUR, watts=30.0)
    assert duty_by_plug(drawn, 2 * HOUR, 3 * HOUR, watts=30.0) is None
    assert duty_by_plug([(20 * MINUTE, 30.0)], 0, HOUR, watts=30.0) is None


def test_the_diary_holds_until_its_next_word():
    written = [(0, True), (10 * HOUR + QUARTER, False)]
    assert 1.0 == duty_by_diary(written, 9 * HOUR, 10 * HOUR)
    assert pytest.approx(0.25) == duty_by_diary(written, 10 * HOUR, 11 * HOUR)
    assert 0.0 == duty_by_diary(written, 500 * HOUR, 501 * HOUR)
    assert duty_by_diary(written, -HOUR, 0 - QUARTER) is None


def mat(control, power=30.0):
    return Mat("m", (("b", "z"),), control, power)


@pytest.mark.parametrize(
    ("one", "plug", "diary", "expected"),
    [
        (mat(Control.HAND), [(0, 30.0)], [(0, False)], (1.0, Known.READING)),
        (mat(Control.HAND), [(0, 1.0)], [], (1.0, Known.READING)),
        (mat(Control.HAND), [], [(0, True)], (1.0, Known.DIARY)),
        (mat(Control.HAND), [], [], (None, Known.NOTHING)),
        (mat(Control.ALWAYS), [], [], (1.0, Known.SETTINGS)),
        (mat(Control.THERMOSTAT), [], [(0, True)], (None, Known.NOTHING)),
        (mat(Control.THERMOSTAT), [(0, 0.0)], [], (0.0, Known.READING)),
        (mat(Control.UNKNOWN), [], [], (None, Known.NOTHING)),
    ],
)
def test_what_tells_whether_a_mat_is_on(one, plug, diary, expected):
    assert expected == duty_of(one, plug, diary, start=0, end=HOUR)


def test_several_mats_are_one_by_their_watts_and_unknown_when_one_is():
    assert pytest.approx(0.75) == together([(1.0, 30.0), (0.0, 10.0)])
    assert together([(1.0, 30.0), (None, 10.0)]) is None
    assert together([]) is None


@pytest.mark.parametrize(("begins", "spans"), [(22.0, 9), (0.0, 24), (23.5, 0.25), (6.25, 1.5), (20.0, 4)])
def test_a_timer_is_on_for_its_hours_each_day(begins, spans):
    assert pytest.approx(spans) == sum(timer(begins, spans, local_start=hour) for hour in range(24))
