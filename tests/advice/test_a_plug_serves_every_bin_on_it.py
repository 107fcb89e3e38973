"""Heat by plug: the words follow what switches the mat, and every bin on it has a say."""

from dataclasses import replace

import pytest

from monitor.advice.acts import Act
from monitor.checks.findings import Condition
from monitor.rules import Ability, JudgeBy, Level, Mat, Remedy
from parts.orchard import FIG, PLUM, Control, advise, alarm, by, ms, now_at, rules

COLD = alarm(12, "fig", Condition.COLD)
FREEZING = alarm(12, "fig", Condition.COLD, Level.HARM)
PLUM_HOT = alarm(13, "plum", Condition.HOT)
PLUM_COOKS = alarm(13, "plum", Condition.HOT, Level.HARM)
NOW = now_at(fig_west=14.2, fig_mat=14.5, fig_east=14.8, plum_near=16.0)


def acts(advice):
    return [(o.act, o.target) for o in advice.orders]


def at_the_plug(control, set_to=None, alarms=(COLD,), zones=NOW):
    return advise(list(alarms), zones, of=rules(mats=[by(control, set_to)])).orders[0]


@pytest.mark.parametrize(
    ("control", "act", "words"),
    [
        (Control.HAND, Act.MAT_ON, "see that long-mat is on"),
        (Control.TIMER, Act.MAT_ON, "switch long-mat on past its timer"),
        (Control.UNKNOWN, Act.MAT_ON, "see that long-mat is switched on"),
        (Control.ALWAYS, Act.MAT_CHECK, "look at long-mat: it should be on"),
        (Control.THERMOSTAT, Act.MAT_CHECK, "look at long-mat: it should hold 23 °C"),
    ],
)
def test_the_words_follow_what_switches_the_mat(control, act, words):
    order = at_the_plug(control, 23.0 if control is Control.THERMOSTAT else None)
    assert (act, words) == (order.act, order.words)
    assert Ability.MATS is order.needs
    assert ("fig",) == order.bins


def test_a_thermostat_that_holds_what_it_is_set_to_is_raised_by_at_most_two_degrees():
    order = at_the_plug(Control.THERMOSTAT, 19.0, zones=now_at(fig_west=19.2, fig_east=18.0, plum_near=19.0))
    assert (Act.MAT_RAISE, "raise long-mat's thermostat from 19 °C to 21 °C") == (order.act, order.words)


def test_a_thermostat_is_raised_no_further_than_its_aim():
    order = at_the_plug(Control.THERMOSTAT, 22.0, zones=now_at(fig_west=21.8, fig_east=20.0))
    assert "raise long-mat's thermostat from 22 °C to 23 °C" == order.words  # comfort low 21 + 2


def test_a_thermostat_is_raised_no_further_than_the_next_bin_bears():
    zones = now_at(fig_west=19.0, fig_east=18.0, plum_near=26.0)  # plum's hot limit 28, one degree kept
    order = at_the_plug(Control.THERMOSTAT, 19.0, zones=zones)
    assert "raise long-mat's thermostat from 19 °C to 20 °C" == order.words


def test_a_thermostat_that_holds_and_may_not_rise_leaves_it_to_blankets():
    zones = now_at(fig_west=19.0, fig_east=18.0, plum_near=27.0)
    order = at_the_plug(Control.THERMOSTAT, 19.0, zones=zones)
    assert Act.INSULATE is order.act
    assert "long-mat holds the 19 °C it is set to, and the warmest zone on it bears no more" in order.why


def test_a_plug_that_would_heat_a_bin_already_too_hot_is_not_switched_on_and_says_why():
    advice = advise([FREEZING], {**NOW, **now_at(plum_near=29.0)})
    assert [(Act.INSULATE, "fig"), (Act.MOVE, "fig")] == acts(advice)
    assert "long-mat stays off: Plum near on it is 29.0 °C, its limit 28 °C" in advice.orders[0].why


def test_a_mat_without_a_thermostat_needs_two_degrees_of_room_in_every_bin():
    assert Act.INSULATE is at_the_plug(Control.HAND, zones={**NOW, **now_at(plum_near=26.5)}).act
    assert Act.MAT_ON is at_the_plug(Control.HAND, zones={**NOW, **now_at(plum_near=25.5)}).act


def test_a_bin_on_the_plug_that_nobody_measures_is_to_be_felt():
    order = at_the_plug(Control.HAND, zones=now_at(fig_west=14.2))
    assert any("Plum near too, which is not measured now: feel it" in line for line in order.more)


def test_heat_harm_switches_the_plug_off_whoever_else_is_cold():
    advice = advise([FREEZING, PLUM_COOKS], {**NOW, **now_at(plum_near=31.4)})
    assert (Act.MAT_OFF, "long-mat") == acts(advice)[0]
    assert (13,) == advice.orders[0].alarms
    insulate = next(o for o in advice.orders if o.act is Act.INSULATE)
    assert "long-mat stays off: Plum on the same plug is too hot" in insulate.why


def test_one_bin_too_warm_and_one_too_cold_leave_the_plug_as_it_is():
    advice = advise([COLD, PLUM_HOT], {**NOW, **now_at(plum_near=28.4)})
    assert not any(target == "long-mat" for _, target in acts(advice))
    assert any("long-mat stays as it is: Fig on the same plug is too cold" in o.why for o in advice.orders)


@pytest.mark.parametrize(
    ("control", "words"),
    [
        (Control.HAND, "switch long-mat off"),
        (Control.TIMER, "switch long-mat off, timer too"),
        (Control.ALWAYS, "unplug long-mat"),
        (Control.THERMOSTAT, "unplug long-mat"),
    ],
)
def test_harm_by_heat_switches_off_by_whatever_switches_it(control, words):
    order = at_the_plug(control, 23.0, alarms=[PLUM_COOKS], zones=now_at(plum_near=31.4))
    assert (Act.MAT_OFF, words, True) == (order.act, order.words, order.urgent)


def test_out_of_comfort_a_thermostat_is_lowered():
    order = at_the_plug(Control.THERMOSTAT, 28.0, alarms=[PLUM_HOT], zones=now_at(plum_near=28.5))
    assert (Act.MAT_LOWER, "lower long-mat's thermostat from 28 °C to 26 °C") == (order.act, order.words)


def test_a_bed_far_above_its_thermostat_asks_for_a_look_at_the_mat():
    order = at_the_plug(Control.THERMOSTAT, 20.0, alarms=[PLUM_HOT], zones=now_at(plum_near=28.5))
    assert (Act.MAT_CHECK, "look at long-mat: it should be off now") == (order.act, order.words)


def test_two_cold_bins_on_one_plug_are_one_order():
    plum = alarm(13, "plum", Condition.COLD, Level.HARM)
    advice = advise([COLD, plum], now_at(fig_west=14.2, plum_near=0.5))
    order = next(o for o in advice.orders if o.act is Act.MAT_ON)
    assert ({12, 13}, {"fig", "plum"}, True) == (set(order.alarms), set(order.bins), order.urgent)


def test_a_cold_zone_is_warmed_by_the_mat_under_it():
    second = Mat("short-mat", (("fig", "east"),), Control.HAND)
    fig = replace(FIG, judge=JudgeBy.EVERY_ZONE)
    east = alarm(12, "fig.east", Condition.COLD)
    advice = advise([east], NOW, of=rules(bins=(fig, PLUM), mats=(by(Control.HAND), second)))
    assert [(Act.MAT_ON, "short-mat")] == acts(advice)


def test_too_hot_at_the_mat_is_answered_at_the_plug_alone():
    advice = advise([alarm(12, "fig.mat", Condition.HOT, Level.HARM)], now_at(fig_mat=32.5))
    assert [Act.MAT_OFF, Act.FEED_LESS][:1] == [o.act for o in advice.orders]
    assert "32.5 °C at the mat" == advice.orders[0].fact


def test_a_hot_mat_under_a_cold_bed_gives_no_more_heat():
    hot = alarm(13, "fig.mat", Condition.HOT)
    advice = advise([COLD, hot], now_at(fig_mat=29.5, fig_west=20, fig_east=19))
    assert [(Act.MAT_OFF, "long-mat"), (Act.INSULATE, "fig")] == acts(advice)


def test_harm_is_for_now_and_comfort_for_before_the_night():
    assert ms("02:10") == advise([FREEZING], NOW, at="02:10").orders[0].by
    assert ms("10:00") == advise([COLD], NOW, at="02:10").orders[0].by
    noon = alarm(12, "fig", Condition.COLD, since="12:00")
    assert ms("20:00") == advise([noon], NOW, at="13:05").orders[0].by


def test_a_mat_with_a_long_name_is_still_a_short_order():
    name = "the-mat-under-the-long-bench-by-the-window"
    mat = replace(by(Control.HAND), id=name)
    order = advise([COLD], NOW, of=rules(mats=[mat])).orders[0]
    assert ("see that the mat is on", name) == (order.words, order.target)


def test_without_a_mat_only_what_the_bin_can():
    bare = replace(FIG, can=frozenset({Remedy.COVER}))
    assert [(Act.COVER, "fig")] == acts(advise([COLD], NOW, of=rules(bins=(bare, PLUM), mats=())))
