"""Thinned curves against raw readings, and against pandas' own resampling."""

import itertools

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.charts.curves import Point, curve, stretches
from monitor.errors import BadValue
from monitor.readings import HOUR, MINUTE

times = st.lists(st.integers(0, 10**9), min_size=1, max_size=60, unique=True).map(sorted)


@given(times, st.data(), st.integers(1, 10**8))
def test_the_highest_and_lowest_reading_of_every_column_is_kept(at, data, width):
    values = data.draw(st.lists(st.floats(-60, 60), min_size=len(at), max_size=len(at)))
    points = curve(zip(at, values, strict=True), 0, width)
    for point in points:
        column = [v for t, v in zip(at, values, strict=True) if t // width == point.first // width]
        assert (min(column), max(column)) == (point.low, point.high)
        assert point.low <= point.mean <= point.high
    assert {t // width for t in at} == {p.first // width for p in points}


@given(times, st.integers(1, 10**8), st.integers(1, 10**8))
def test_no_piece_reaches_across_a_silence_and_no_point_is_lost(at, width, interval):
    points = curve(((t, 20.0) for t in at), 0, width)
    pieces = stretches(points, interval)
    assert points == [point for piece in pieces for point in piece]
    for piece in pieces:
        assert all(b.first - a.last <= 2.5 * interval for a, b in itertools.pairwise(piece))
    for a, b in itertools.pairwise(pieces):
        assert b[0].first - a[-1].last > 2.5 * interval


def test_columns_agree_with_pandas_resampling():
    at = [k * 7 * MINUTE for k in range(400) if not 100 <= k < 160]
    values = [20 + (k * 37 % 101) / 10 for k in range(len(at))]
    series = pd.Series(values, index=pd.to_datetime(at, unit="ms", utc=True))
    expected = series.resample("1h", origin="epoch").agg(["min", "mean", "max"]).dropna()
    points = curve(zip(at, values, strict=True), 0, HOUR)
    assert [int(t.timestamp() * 1000) for t in expected.index] == [p.first // HOUR * HOUR for p in points]
    assert list(expected["min"]) == [p.low for p in points]
    assert list(expected["max"]) == [p.high for p in points]
    assert list(expected["mean"]) == pytest.approx([p.mean for p in points], abs=1e-9)


def test_one_lost_reading_is_drawn_over_and_two_are_not():
    heard = [0, 10, 30, 60]
    points = [Point(t * MINUTE, t * MINUTE, 20, 20, 20) for t in heard]
    assert [3, 1] == [len(piece) for piece in stretches(points, 10 * MINUTE)]


@pytest.mark.parametrize("odd", [(1, 0, 1, 1, 1), (0, 1, 2, 1, 3), (0, 1, 1, float("nan"), 2)])
def test_a_point_that_cannot_be_is_refused(odd):
    with pytest.raises(BadValue):
        Point(*odd)


def test_a_column_without_width_is_refused():
    with pytest.raises(BadValue):
        curve([(0, 1.0)], 0, 0)
