"""Against a bed that follows its air as a first-order lag (Newton's law of cooling; scipy's lfilter) and stands above it."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.signal import lfilter

from monitor.bed.shifted import (
    ENOUGH,
    LEARNT,
    LOOKS_BACK,
    NOW,
    OVER,
    QUARTER,
    RECENT,
    SETTLES,
    TIMES,
    Quarter,
    shifted,
)
from monitor.readings import DAY

A_DAY = DAY // QUARTER


def bed(probe=lambda ago: 0.0, *, time=24.0, above=6.0, days=LOOKS_BACK, off=lambda ago: True, noise=0.0, seed=1):
    """Quarters of a bed of this time constant (h) in a shed that swings with days and weeks; `probe` adds to what it says."""
    chance, length = random.Random(seed), 3 * LOOKS_BACK * A_DAY
    air = [9 + 5 * math.sin(n / 17) + 3 * math.sin(n * math.pi / 2) + chance.gauss(0, 1) for n in range(length)]
    keeps = math.exp(-6 / time)
    warmth = above + lfilter([1 - keeps], [1, -keeps], air)
    newest = range(length - days * A_DAY, length)
    return [
        Quarter(
            (n + 1) * QUARTER,
            float(warmth[n]) + probe((length - 1 - n) / A_DAY) + chance.gauss(0, noise),
            air[n],
            off((length - 1 - n) / A_DAY),
        )
        for n in newest
    ]


@given(st.sampled_from(TIMES), st.floats(-2.0, 15.0))
def test_a_steady_one_stands_where_it_did_and_how_far_above_is_learned(time, above):
    found = shifted(bed(time=time, above=above))
    assert pytest.approx(0.0, abs=0.7) == found.kelvins
    assert pytest.approx(above, abs=0.7) == found.usual
    assert not found.told and found.limit == 3.0


@given(st.sampled_from(TIMES), st.floats(-8.0, 8.0))
def test_what_it_has_moved_by_is_found_to_a_degree(time, kelvins):
    found = shifted(bed(lambda ago: kelvins * (ago < 8), time=time))
    assert pytest.approx(kelvins, abs=0.7) == found.kelvins
    assert found.told == (abs(found.kelvins) > 3)


def test_a_restless_bed_must_move_further():
    quiet, restless = (shifted(bed(lambda ago: 4.0 * (ago < 8), noise=noise)) for noise in (0.5, 4.0))
    assert (True, False) == (quiet.told, restless.told)
    assert restless.limit > 4 > 3 == quiet.limit


def test_what_lasts_less_than_three_of_five_days_is_not_told():
    assert shifted(bed(lambda ago: 9.0 * (ago < 2))).told is False
    assert shifted(bed(lambda ago: 9.0 * (ago < 3))).told is True


def test_only_days_without_a_mat_count():
    def warmed(*spans):
        def on(ago):
            return any(first < ago < last for first, last in spans)

        return shifted(bed(lambda ago: 9.0 * on(ago), off=lambda ago: not on(ago)))

    assert abs(warmed((30, 50)).kelvins) < 0.7
    assert abs(warmed((30, 50), (1, 2.9)).kelvins) < 0.7
    assert warmed((-1, 3.1)) is None, "of five days one without it is too few"


def test_a_day_of_which_a_quarter_is_missing_is_none():
    quarters = bed()
    torn = [one if one.at // QUARTER % A_DAY else one._replace(bed=None) for one in quarters]
    assert shifted(torn) is None
    assert shifted([]) is None


def test_two_months_are_asked_for_and_the_damped_air_must_have_settled():
    assert shifted(bed(days=OVER + ENOUGH + SETTLES + 1)) is not None
    assert shifted(bed(days=OVER + ENOUGH + SETTLES - 1)) is None
    assert LOOKS_BACK == LEARNT + SETTLES and RECENT >= NOW


def test_after_two_days_without_air_it_settles_anew():
    gone = [one._replace(air=None) if 10 < _ago(one) < 12.1 else one for one in bed()]
    assert shifted(gone) is None, "of the newest five days only two have settled"
    short = [one._replace(air=None) if 10 < _ago(one) < 10.9 else one for one in bed()]
    assert shifted(short) is not None


def _ago(one):
    return (3 * LOOKS_BACK * A_DAY * QUARTER - one.at) / DAY


def test_nothing_before_other_matter_lay_in_the_bed():
    quarters = bed()
    assert shifted(quarters, since=quarters[-1].at - 40 * DAY) is None
    assert shifted(quarters, since=quarters[-1].at - (OVER + ENOUGH + 2) * DAY) is not None
