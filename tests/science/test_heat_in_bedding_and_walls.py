"""How bedding holds heat and walls lose it. The printed values stand in fixtures/sources."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from monitor.errors import BadValue
from monitor.science import heat
from monitor.science.heat import Box


@pytest.mark.parametrize(("start", "around", "tau"), [(24.0, 12.0, 3.5), (8.0, 21.0, 26.6)])
def test_newtons_cooling_is_what_an_ode_solver_says(start, around, tau):
    way = solve_ivp(lambda _, t: (around - t) / tau, (0, 10), [start], rtol=1e-10)
    assert pytest.approx(way.y[0, -1], abs=1e-6) == heat.cooled(start, around, tau, 10)


@given(st.floats(-5, 35), st.floats(-5, 35), st.floats(0.5, 60), st.floats(0, 48))
def test_the_hours_to_a_limit_are_the_hours_of_the_cooling(start, around, tau, hours):
    limit = heat.cooled(start, around, tau, hours)
    if abs(limit - around) < 1e-3 or abs(start - limit) < 1e-6:
        return
    assert pytest.approx(hours, abs=1e-2) == heat.hours_to(start, around, tau, limit=limit)


def test_a_thermostats_cycle_is_what_a_second_by_second_bed_does():
    cycle = heat.hysteresis(2, 100, 60, around=12, band=(22.5, 23.5))
    warmth, on, busy, total = 23.0, False, 0, 2 * 86_400
    for _ in range(total):
        on = heat.is_on(warmth, on, (22.5, 23.5))
        warmth += (60 * on - 2 * (warmth - 12)) / 100_000
        busy += on
    assert pytest.approx(cycle.duty, abs=0.005) == busy / total


def test_a_mat_that_cannot_reach_its_thermostat_is_on_for_ever():
    assert math.isinf(heat.hysteresis(8, 100, 60, around=12, band=(22.5, 23.5)).on)


def test_foam_that_is_asked_for_brings_the_loss_down_to_what_was_wanted():
    bare = heat.loss(Box(0.6, 0.4, 0.3), heat.MAKES["tub"])
    thick = heat.foam_for(bare, 1.08, 2.0)
    assert pytest.approx(2.0) == heat.wrapped_loss(bare, 1.08, thick)
    assert 0.0 == heat.foam_for(1.5, 1.08, 2.0)


def test_a_vessel_by_its_make_loses_what_its_box_loses():
    assert pytest.approx(heat.loss(Box(0.6, 0.4, 0.3), heat.MAKES["tub"])) == heat.loss_by_make("tub", 0.24, 0.3)
    assert heat.loss_by_make("tub", 0.24, 0.3) > 5 * heat.loss_by_make("tub", 0.24, 0.3, wrapped=0.025)


@pytest.mark.parametrize("make", sorted(heat.MAKES))
def test_every_make_loses_less_in_foam(make):
    assert heat.loss_by_make(make, 0.24, 0.3, wrapped=0.02) < heat.loss_by_make(make, 0.24, 0.3)


def test_a_vessel_of_unknown_make_is_refused_and_told_what_is_known():
    with pytest.raises(BadValue, match="foam box"):
        heat.loss_by_make("hammock", 0.24, 0.3)


def test_a_box_without_a_height_is_refused():
    with pytest.raises(BadValue):
        Box(0.6, 0.4, 0.0)


def test_a_mat_is_sized_with_a_margin_and_never_used_beyond_its_time():
    assert pytest.approx(1.25) == heat.mat_size(1.5, 12) / heat.mat_size(1.5, 12, margin=1)
    assert heat.energy(1.4, 40) == heat.energy(1.0, 40)
