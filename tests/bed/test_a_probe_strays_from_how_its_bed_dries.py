"""Falling-rate drying in closed form (X = X₀·e^(−kt), the first-order law; from memory) against what is learned of it."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.bed.strayed import LEARNT, OVER, strayed
from monitor.readings import DAY, HOUR
from monitor.science.water import wet_basis

DAYS = 80
END = DAYS * DAY


def bed(share=0.01, *, begin=5.5, days=DAYS, probe=lambda ago: 0.0, poured=()):
    """Medians every six hours of a bed that loses `share` of its water a day; `poured`: (days ago, kg/kg)."""
    found = []
    for n in range(4 * days + 1):
        ago = days - n / 4
        pours = sum(x * math.exp(-share * (before - ago)) for before, x in poured if before >= ago)
        x = begin * math.exp(-share * (days - ago)) + pours
        found.append((END - round(ago * DAY), wet_basis(x) + probe(ago)))
    return found


def at(ago):
    return END - round(ago * DAY)


@given(st.floats(0.003, 0.04), st.floats(3.0, 6.0))
def test_a_bed_that_loses_a_share_a_day_stays_where_it_should_and_the_share_is_learned(share, begin):
    found = strayed(bed(share, begin=begin), [])
    assert pytest.approx(0.0, abs=0.1) == found.points
    assert pytest.approx(share, rel=0.01) == found.share
    assert pytest.approx(OVER / DAY, abs=0.3) == found.days


@given(st.floats(-12.0, 8.0), st.floats(6.0, 20.0))
def test_what_a_probe_adds_within_three_weeks_is_found(points, over):
    """Not as quick as water, which a rise of 3 points in 36 hours is taken for."""
    slow = bed(probe=lambda ago: points * min(1.0, max(0.0, (20.5 - ago) / over)))
    assert pytest.approx(points, abs=0.3) == strayed(slow, []).points


@pytest.mark.parametrize("written", [True, False])
def test_what_water_adds_is_no_straying_whether_or_not_it_is_written_down(written):
    pours = [(60.0, 1.8), (30.0, 1.8), (10.0, 1.8)]
    found = strayed(bed(poured=pours), [at(ago) for ago, _ in pours] if written else [])
    assert pytest.approx(0.0, abs=0.2) == found.points


def test_little_water_that_is_not_written_down_adds_up():
    """2 points at a time, none of which is taken for water alone: what they come to is not what drying explains."""
    pours = [(3.0 * n + 0.1, 0.3) for n in range(1, 7)]
    assert strayed(bed(poured=pours), []).points > 5
    assert abs(strayed(bed(poured=pours), [at(ago) for ago, _ in pours]).points) < 0.5


def test_a_share_needs_four_weeks_before_the_three_that_are_judged():
    enough = (OVER + LEARNT) // DAY
    assert strayed(bed(days=enough - 1), []) is None
    assert strayed(bed(days=enough + 1), []) is not None
    assert strayed(bed(days=enough + 1), [], since=at(enough - 1)) is None
    assert strayed([], []) is None


def test_from_when_a_hand_agreed_only_what_came_later_counts():
    falls = bed(probe=lambda ago: -6.0 * (ago < 10))
    assert pytest.approx(-6.0, abs=0.1) == strayed(falls, [], trusted=at(15)).points
    assert pytest.approx(0.0, abs=0.25) == strayed(falls, [], trusted=at(5)).points


def test_a_silence_is_not_counted_across():
    falls = [one for one in bed(probe=lambda ago: -6.0 * (ago < 10)) if not at(12) < one[0] < at(8)]
    assert pytest.approx(0.0, abs=0.25) == strayed(falls, []).points


def test_a_probe_in_water_says_nothing():
    drowned = [(when, 100.0 if when > at(2) else moisture) for when, moisture in bed()]
    assert pytest.approx(0.0, abs=0.05) == strayed(drowned, []).points
    assert strayed([(when, 100.0) for when, _ in bed()], []) is None


def test_hours_beside_a_watering_do_not_count():
    found = strayed(bed(), [at(10)])
    assert pytest.approx(OVER / DAY - 2.75, abs=0.3) == found.days
    assert found.days * DAY < OVER - 60 * HOUR
