"""What becomes of alarms and delays when the limit changes that they stand on, or what they are about is taken out."""

from dataclasses import replace

import pytest

from monitor.readings import MINUTE, Measures
from monitor.rules import Bound, Harm
from parts.house import House
from parts.orchard import FIG

HEAT = Measures.TEMPERATURE
WELL = {"fig_mat": 25.0, "plum_near": 18.0, "fig_east_damp": 1500.0, "plum_near_damp": 1500.0, "shed_air": 9.0,
        "shed_damp": 80.0, "sloe_top": 24.0, "sloe_top_damp": 1500.0}  # fmt: skip


def fig(**more):
    """The fig with other limits of temperature."""
    limits = {**FIG.limits, HEAT: replace(FIG.limits[HEAT], **more)}
    return replace(FIG, limits=limits)


def rules_with(house, bed):
    return replace(house.rules, bins={**house.rules.bins, "fig": bed}, version="2")


def bound(value):
    return Bound(value, "settings: bins.fig", "settings")


def cold(house, celsius=11.0):
    house.later(5).say(fig_west=celsius, fig_east=celsius - 0.2, **WELL)
    assert [("fig", "cold", "raised")] == house.steps("cold")
    return house


@pytest.fixture
def house():
    house = House()
    house.through(60, fig_west=25.0, fig_east=25.0, **WELL)
    return house


EASY = {"low": bound(5), "harm": (Harm(True, bound(2), 0),)}


def test_an_alarm_whose_limit_has_moved_away_ends_at_once_and_says_so(house):
    cold(house)
    house.rounds.use(rules_with(house, fig(**EASY)))
    house.later(1).rounds.run()
    assert ("fig", "cold", "removed") == house.steps("cold")[-1]
    assert "limits changed" == house.store.transitions()[-1].cause
    assert {} == house.standing()


def test_an_alarm_that_is_one_by_the_new_limit_too_goes_on_under_its_number(house):
    cold(house)
    house.rounds.use(rules_with(house, fig(low=bound(20), harm=(Harm(True, bound(12), 0),))))
    house.later(1).rounds.run()
    assert [("fig", "cold", "raised")] == house.steps("cold")
    assert 1 == house.standing()["fig", "cold"].number


def test_an_alarm_that_is_none_yet_by_the_new_limit_ends_and_is_raised_when_its_delay_is_full(house):
    cold(house)
    house.rounds.use(rules_with(house, fig(harm=(Harm(True, bound(2), 0),))))
    house.through(75, fig_west=11.0, fig_east=10.8, **WELL)
    assert ["raised", "removed", "raised"] == [event for _, _, event in house.steps("cold")]
    assert "comfort" == house.standing()["fig", "cold"].level


def test_where_nothing_fresh_is_known_it_waits_and_then_ends_with_the_same_cause(house):
    cold(house)
    house.later(hours=4)
    house.rounds.use(rules_with(house, fig(**EASY)))
    house.rounds.run()
    assert [("fig", "cold", "raised")] == house.steps("cold")
    house.later(1).say(fig_west=11.0, fig_east=10.8, **WELL)
    assert "limits changed" == [t for t in house.store.transitions() if t.key.condition == "cold"][-1].cause


def test_another_limit_of_the_same_bin_changes_nothing_about_it(house):
    cold(house)
    house.rounds.use(rules_with(house, fig(high=bound(28))))
    house.through(90, fig_west=25.0, fig_east=25.0, **WELL)
    assert ["raised", "returned"] == [event for _, _, event in house.steps("cold")]


def test_a_tightened_limit_is_judged_by_the_readings_there_are(house):
    house.through(120, fig_west=25.0, fig_east=25.0, **WELL)
    house.rounds.use(rules_with(house, fig(low=bound(26))))
    house.later(1).rounds.run()
    assert [("fig", "cold", "raised")] == house.steps("cold")
    assert 3 * 60 * MINUTE >= house.standing()["fig", "cold"].evidence.held >= 60 * MINUTE


def test_a_bin_that_is_taken_out_ends_its_alarms_and_keeps_its_history(house):
    cold(house)
    house.rounds.use(replace(house.rules, bins={"plum": house.rules.bins["plum"]}, mats={}))
    house.later(1).rounds.run()
    assert ("fig", "cold", "removed") == house.steps("cold")[-1]
    assert "settings changed" == house.store.transitions()[-1].cause
    assert 5 == len(house.store.window("fig-west", 0, house.at))


def test_a_bin_that_comes_back_has_its_past(house):
    whole = house.rules
    house.rounds.use(replace(house.rules, bins={"plum": house.rules.bins["plum"]}, mats={}))
    house.later(15).say(fig_west=11.0, fig_east=11.0, **WELL)
    assert [] == house.steps("cold")
    house.rounds.use(whole)
    house.later(1).rounds.run()
    assert [("fig", "cold", "raised")] == house.steps("cold")
