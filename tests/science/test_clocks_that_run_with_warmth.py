"""Degree-days against scipy's integral; lines through rates against scipy's regression."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import trapezoid
from scipy.stats import linregress

from monitor.errors import BadValue
from monitor.science import clocks

celsius = st.floats(-10, 40)


@given(celsius, st.floats(0, 25), st.floats(0, 20))
def test_one_sine_is_the_integral_of_what_lies_above_the_base(low, swing, base):
    mean, amplitude = low + swing / 2, swing / 2
    hours = np.linspace(0, 24, 20_001)
    integral = trapezoid(np.maximum(0, mean + amplitude * np.sin(2 * np.pi * hours / 24) - base), hours)
    assert integral / 24 == pytest.approx(clocks.degree_days(low, low + swing, base=base), abs=1e-4)


@given(st.lists(st.tuples(st.floats(0.01, 3), celsius), max_size=20), st.floats(0, 15))
def test_spans_add_up_and_never_count_backwards(spans, base):
    total = clocks.summed(spans, base=base)
    assert total >= 0
    assert total == pytest.approx(sum(clocks.summed([s], base=base) for s in spans), abs=1e-9)


def test_too_hot_ripens_nothing():
    assert 0 == clocks.summed([(10, 34)], base=12, most=30)


@given(st.lists(st.tuples(st.floats(5, 35), st.floats(1, 200)), min_size=3, max_size=8, unique_by=lambda p: p[0]))
def test_the_line_is_the_least_squares_line(points):
    assume(max(t for t, _ in points) - min(t for t, _ in points) > 1)
    theirs = linregress([t for t, _ in points], [1 / d for _, d in points])
    assume(abs(theirs.slope) > 1e-6)
    if theirs.slope <= 0:
        with pytest.raises(BadValue):
            clocks.line_through(points)
        return
    ours = clocks.line_through(points)
    assert ours.total == pytest.approx(1 / theirs.slope, rel=1e-6)
    assert ours.base == pytest.approx(-theirs.intercept / theirs.slope, abs=1e-5 * abs(ours.total))


def test_below_its_base_it_never_ends():
    assert math.inf == clocks.days_at(5, clocks.Line(5, 420))


@given(st.floats(1, 4), st.floats(0.01, 1), st.floats(-15, 15))
def test_a_rate_moved_by_its_q10_has_that_q10(ratio, rate, apart):
    assume(abs(apart) > 0.1)
    moved = clocks.rate_at(20 + apart, rate=rate, at=20, ratio=ratio)
    assert ratio == pytest.approx(clocks.q10((20, rate), (20 + apart, moved)), rel=1e-6)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: clocks.degree_days(20, 10, base=5),
        lambda: clocks.degree_days(math.nan, 10, base=5),
        lambda: clocks.q10((10, 1), (10, 2)),
        lambda: clocks.q10((10, 0), (20, 2)),
        lambda: clocks.rate_at(10, rate=-1, at=20),
        lambda: clocks.line_through([(10, 90)]),
        lambda: clocks.line_through([(10, 90), (20, 0)]),
        lambda: clocks.line_through([(10, 40), (20, 90)]),
    ],
)
def test_nonsense_is_refused(wrong):
    with pytest.raises(BadValue):
        wrong()
