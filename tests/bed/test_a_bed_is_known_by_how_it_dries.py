"""The learned rate of drying on beds whose truth is known, and against scipy's straight line."""

import math
from dataclasses import astuple

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import linregress

from monitor.bed import drying
from monitor.bed.drying import Drying, rate, seen, until, watered, words_for
from monitor.errors import BadValue
from monitor.readings import DAY, HOUR
from monitor.science.water import dry_basis, wet_basis


def dried(state, start, *, days, loss, begin=3.5):
    """A bed that loses `loss` kg/kg a day, looked at every six hours; the state and the last time."""
    at = start
    for step in range(4 * days + 1):
        at = start + step * 6 * HOUR
        state = seen(state, at, wet_basis(begin - loss * step / 4))
    return state, at


def lived(loss, downs=3, days=14):
    state, at = Drying(), 0
    for _ in range(downs):
        state, at = dried(state, at + 6 * HOUR, days=days, loss=loss)
    return state, at


@pytest.mark.parametrize("loss", [0.03, 0.06, 0.09])
def test_after_three_dry_downs_the_rate_is_the_beds_own(loss):
    state, _ = lived(loss)
    assert (loss,) * 2 == pytest.approx(state.rates, rel=1e-6)
    assert loss == pytest.approx(rate(state)[0], rel=0.02)


def test_days_left_are_the_way_to_the_limit_over_the_rate():
    state, _ = lived(0.06)
    now = 3.5 - 14 * 0.06
    told = until(state, 70)
    assert (now - dry_basis(70)) / 0.06 == pytest.approx(told.likely, rel=0.05)
    assert told.early < told.likely < told.late


def test_before_anything_is_seen_nothing_is_told():
    assert until(Drying(), 70) is None
    assert not Drying().known


def test_a_new_bed_is_told_by_a_guess_with_a_wide_band():
    told = until(seen(Drying(), 0, 78), 70)
    assert told.late > 3 * told.likely > 3 * told.early


def test_at_its_limit_and_below_it_there_is_no_time_left():
    assert (0, 0, 0) == until(seen(Drying(), 0, 69), 70)


def test_a_bed_that_grows_wetter_by_its_food_is_not_told_to_dry():
    state, at = Drying(rates=(0.001,)), 0
    for step in range(40):
        at = step * 6 * HOUR
        state = seen(state, at, 75 + step / 40)
    assert math.inf == until(state, 60).late


def test_water_in_the_diary_begins_anew_and_keeps_what_was_learned():
    state, at = dried(Drying(), 0, days=10, loss=0.06)
    after = watered(state, at + HOUR)
    assert [0.06] == pytest.approx(list(after.rates))
    assert until(after, 70) is None
    state = seen(after, at + 6 * HOUR, 79)
    assert at + 6 * HOUR == state.begun


def test_water_that_nobody_wrote_down_is_seen_by_the_rise():
    state, at = dried(Drying(), 0, days=10, loss=0.06)
    state = seen(state, at + 6 * HOUR, 79)
    assert (at + 6 * HOUR, 1) == (state.begun, len(state.rates))


def test_the_first_rise_after_water_belongs_to_no_dry_down():
    state = seen(Drying(), 0, 74)
    for hours, moisture in ((6, 75), (12, 76), (18, 77.0)):
        state = seen(state, hours * HOUR, moisture)
    assert 18 * HOUR == state.begun


def test_a_short_dry_down_teaches_nothing():
    state, at = dried(Drying(), 0, days=3, loss=0.06)
    assert () == watered(state, at).rates


def test_a_bed_that_did_not_dry_teaches_nothing():
    state, at = dried(Drying(), 0, days=8, loss=0.0)
    assert () == watered(state, at).rates


def test_after_a_silence_nobody_knows_what_happened_between():
    state, at = dried(Drying(), 0, days=8, loss=0.06)
    later = seen(state, at + 4 * DAY, 74)
    assert (at + 4 * DAY, ()) == (later.begun, later.rates)


def test_only_the_last_four_are_kept():
    assert drying.REMEMBERED == len(lived(0.05, downs=8, days=9)[0].rates)


def test_what_is_not_newer_changes_nothing():
    state, at = dried(Drying(), 0, days=5, loss=0.06)
    assert state == seen(state, at, 80) == seen(state, at - HOUR, 80)


@given(st.lists(st.floats(71, 76), min_size=10, max_size=30))
def test_with_nothing_fading_and_no_prior_it_is_the_least_squares_line(moistures):
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(drying, "FADES", 1e15)
        patch.setattr(drying, "NOISE", 1e-6)
        patch.setattr(drying, "RISE", 99)
        patch.setattr(drying, "SETTLES", -1)
        state = Drying()
        for step, moisture in enumerate(moistures):
            state = seen(state, step * 6 * HOUR, moisture)
        theirs = linregress([s / 4 for s in range(len(moistures))], [dry_basis(m) for m in moistures])
        assert -theirs.slope == pytest.approx(rate(state)[0], abs=1e-6)


@given(st.lists(st.tuples(st.floats(0.1, 100), st.floats(20, 95)), max_size=60), st.floats(40, 80))
def test_whatever_comes_what_is_told_is_in_order(steps, limit):
    state, at = Drying(), 0
    for hours, moisture in steps:
        at += int(hours * HOUR)
        state = seen(state, at, moisture)
        told = until(state, limit)
        assert 0 <= told.early <= told.likely <= told.late
        assert all(math.isfinite(v) for v in astuple(state)[-1])


@pytest.mark.parametrize("moisture", [-1, 100, math.nan, math.inf])
def test_a_moisture_that_cannot_be_is_refused(moisture):
    with pytest.raises(BadValue):
        seen(Drying(), 0, moisture)


def test_how_far_away_it_is_said_no_finer_than_it_is_known():
    said = {d: words_for(d) for d in (0, 3, 7, 14, 30, 80, math.inf)}
    assert list(said.values()) == [
        "within a day", "in a few days", "in about a week", "in about two weeks", "in three weeks or more",
        "not for months", "not for months",
    ]  # fmt: skip
    with pytest.raises(BadValue):
        words_for(-1)
