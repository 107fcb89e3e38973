"""Is the mat enough, when must it go on, what else helps, what does it cost; one advice for one plug."""

import math
import random
from dataclasses import replace

import pytest

from monitor.bed import enough
from monitor.bed.dressing import Dress, Dressing
from monitor.bed.enough import (
    Ahead,
    Answer,
    Chances,
    Help,
    Now,
    Switch,
    is_mat_enough,
    is_too_strong,
    latest_on,
    night_kwh,
    plug_says,
    stepped,
    what_else,
)
from monitor.bed.forecast import ON, STAYS, Learned
from monitor.bed.plan import ALWAYS, held
from monitor.bed.room import Room
from monitor.bed.zone import begun
from monitor.readings import HOUR

AT = 1000 * HOUR
HOLDS = 105.0
"""kJ/K"""


def now(*, air=2.0, warmth=14.0, low=10.0, high=30.0, a=0.06, b=0.6, own=True, warmed=True):
    """A zone whose numbers are known and whose errors are small, in a room that stays as it is."""
    zone = replace(begun(0, watts=30 if warmed else None), theta=(a, b if warmed else 0.0, 0.0))
    chance = random.Random(1)
    dresses = tuple(
        Dress(hours, below, errors=tuple(chance.gauss(0, 0.3) for _ in range(480)) if own else ())
        for hours, below in ((12, True), (24, True), (12, False), (24, False), (18, True), (18, False))
    )
    return Now(Learned(zone, Dressing(AT, (), dresses)), Room(AT, (air,)), AT, warmth, (low, high))


def test_a_strong_mat_is_enough_and_a_weak_one_is_not():
    strong, weak = is_mat_enough(now(b=0.8)), is_mat_enough(now(b=0.1))
    assert Answer.ENOUGH is strong.answer
    assert strong.chance_on < 0.1 < strong.chance_off
    assert Answer.NOT_ENOUGH is weak.answer
    assert weak.low < weak.least < weak.high


def test_between_the_two_nobody_is_sure():
    said = is_mat_enough(now(b=0.421))  # 10.2 °C after 24 h, two thirds of an error above the limit
    assert Answer.UNSURE is said.answer
    assert enough.SAFE < said.chance_on < enough.LOST


def test_a_bed_without_errors_of_its_own_is_never_sure():
    assert Answer.UNSURE is is_mat_enough(now(b=3.0, own=False)).answer
    assert Answer.UNSURE is is_mat_enough(now(b=0.05, own=False)).answer


def test_without_a_mat_or_a_limit_there_is_no_answer():
    assert is_mat_enough(now(warmed=False)) is None
    assert is_mat_enough(now(low=None)) is None


def test_the_latest_hour_keeps_it_warm_and_one_later_does_not():
    one = now(b=0.9)
    latest = latest_on(one, [True] * 24)
    step = (latest - AT) // HOUR
    assert 0 < step < 23
    assert one.ask(enough.switched(step)).least[1].chance < enough.SAFE
    assert one.ask(enough.switched(step + 1)).least[1].chance >= enough.SAFE


def test_it_is_an_hour_at_which_somebody_is_up():
    one = now(b=0.9)
    free = (latest_on(one, [True] * 24) - AT) // HOUR
    asleep = [hour < free - 1 for hour in range(24)]
    assert AT + (free - 2) * HOUR == latest_on(one, asleep)
    assert latest_on(one, [False] * 24) is None


def test_a_mat_that_cannot_has_no_latest_hour():
    assert latest_on(now(b=0.05), [True] * 24) is None


def test_what_else_helps_is_the_least_that_is_enough():
    weak = now(b=0.35)
    options = {option.help: option for option in what_else(weak, holds=HOLDS, area=1.08, other_air=9.0)}
    assert set(Help) == set(options)
    assert all(option.chance < enough.SAFE for option in options.values())
    assert options[Help.FOAM].amount in enough.FOAM_MM
    loses = 0.06 * HOLDS / 3.6
    thinner = max((mm for mm in enough.FOAM_MM if mm < options[Help.FOAM].amount), default=None)
    if thinner is not None:
        rate = 0.06 * enough.heat.wrapped_loss(loses, 1.08, thinner / 1000) / loses
        assert enough.replaced(weak, a=rate).ask(ALWAYS).least[1].chance >= enough.SAFE
    assert 9.0 == options[Help.PLACE].amount


def test_what_does_not_help_is_not_named():
    assert Help.PLACE not in {option.help for option in what_else(now(b=0.2), holds=HOLDS, other_air=-5.0)}
    assert {Help.MAT} == {option.help for option in what_else(now(b=0.2), holds=HOLDS)}


def test_a_night_of_a_mat_that_is_always_on_costs_its_watts():
    told = now().ask(ALWAYS)
    assert pytest.approx(0.36) == night_kwh(told, 30)
    by_thermostat = now(b=0.9, warmth=12.0).ask(held(12.0))
    assert pytest.approx(30 * 12 * 0.06 * 10 / 0.9 / 1000, rel=0.05) == night_kwh(by_thermostat, 30)


def test_a_mat_that_would_cook_its_bed_is_too_strong():
    assert is_too_strong(now(air=20.0, warmth=22.0, b=1.5))
    assert not is_too_strong(now(air=20.0, warmth=22.0, b=0.1))
    assert not is_too_strong(now(air=40.0, warmth=29.0, b=1.5))


def test_a_plug_is_switched_on_for_one_when_none_gets_too_hot():
    says = plug_says([Chances("a", 0.8, 0.05, 0.0), Chances("b", 0.0, 0.0, 0.1)])
    assert Switch.ON is says.switch
    assert ("a",) == says.wanted_by
    assert () == says.not_enough_for


def test_a_plug_stays_where_one_is_cold_and_another_would_be_hot():
    says = plug_says([Chances("a", 0.8, 0.6, 0.0), Chances("b", 0.0, 0.0, 0.7)])
    assert Switch.STAYS is says.switch
    assert ("b",) == says.hindered_by
    assert ("a",) == says.not_enough_for


def test_a_plug_that_nobody_needs_and_somebody_suffers_from_goes_off():
    assert Switch.OFF is plug_says([Chances("b", 0.0, 0.0, 0.7)]).switch
    assert Switch.STAYS is plug_says([Chances("b", 0.0, 0.0, 0.0)]).switch
    assert Switch.STAYS is plug_says([]).switch


def test_a_cold_night_ahead_begins_where_it_is_told_and_ends_after_six_quiet_hours():
    assert not stepped(Ahead(), ON, may_alarm=True).stands
    state = stepped(Ahead(), ON + 0.01, may_alarm=True)
    assert state.stands
    for _ in range(5):
        state = stepped(state, 0.05, may_alarm=True)
        assert state.stands
    assert stepped(state, STAYS + 0.01, may_alarm=True) == Ahead(True, 0)
    assert not stepped(state, 0.05, may_alarm=True).stands


def test_a_first_week_raises_nothing_and_an_unknown_chance_changes_nothing():
    assert not stepped(Ahead(), 0.9, may_alarm=False).stands
    assert Ahead(True, 3) == stepped(Ahead(True, 3), None, may_alarm=True)


def test_nothing_is_asked_of_an_air_that_is_not_known():
    blind = replace(now(), room=Room(AT, (None,) * 5))
    assert is_mat_enough(blind) is None
    assert latest_on(blind, [True] * 24) is None
    assert () == what_else(blind, holds=HOLDS)
    assert math.isfinite(now().ask(ALWAYS).least[1].point)
