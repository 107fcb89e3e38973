"""From counts to per cent by the keeper's own points. The board maker's two-point line is in fixtures/sources."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from intake.probes import probe
from monitor.readings import Measures
from monitor.rules import Unit
from monitor.science.moisture import moisture_percent, wetness


def damp(*points):
    return probe("damp", Measures.MOISTURE, sends=Unit.COUNTS, points=points)


TWO = damp((2700, 12), (1450, 80))


def test_points_are_met_exactly_in_any_order():
    for of in (TWO, damp((1450, 80), (2700, 12))):
        assert (12, True) == moisture_percent(of, 2700)
        assert (80, True) == moisture_percent(of, 1450)
        assert (46, True) == moisture_percent(of, 2075)


def test_between_three_points_it_goes_from_one_to_the_next():
    bent = damp((2700, 12), (1450, 80), (2000, 70))
    assert (70, True) == moisture_percent(bent, 2000)
    assert (41, True) == moisture_percent(bent, 2350)
    assert (75, True) == moisture_percent(bent, 1725)


def test_beyond_the_points_the_line_goes_on_within_0_and_100():
    assert (pytest.approx(12 - 5.44), False) == moisture_percent(TWO, 2800)
    assert (0, False) == moisture_percent(TWO, 4000)
    assert (100, False) == moisture_percent(TWO, 300)


def test_a_twentieth_of_the_span_beyond_them_is_still_covered():
    # span 1250 counts, 0.05 of it 62.5
    assert [True, False, True, False] == [moisture_percent(TWO, c)[1] for c in (2762.5, 2763, 1387.5, 1387)]


@pytest.mark.parametrize("points", [(), ((2700, 12),), ((2700, 12), (2700, 80))])
def test_without_two_different_points_there_is_no_per_cent(points):
    assert moisture_percent(damp(*points), 2000) is None
    assert wetness(damp(*points), 2000) is None


def test_wetness_runs_from_the_driest_to_the_wettest_point():
    assert [0, 1, 0.5, -1] == [wetness(TWO, c) for c in (2700, 1450, 2075, 3950)]


@given(st.lists(st.tuples(st.floats(0, 65535), st.floats(0, 100)), max_size=5), st.floats(-1e6, 1e6))
def test_it_always_stays_a_per_cent(points, value):
    found = moisture_percent(damp(*points), value)
    assert found is None or 0 <= found[0] <= 100
