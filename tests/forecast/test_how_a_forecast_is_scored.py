"""The scoring of the forecast bench: crossings, leads, false alarms, and the scores of weather forecasting."""

import numpy as np
import pytest

from bench.forecast.scores import Table, Told, Zone, at_rate, crossings, episodes, minima, told

HOURS = 96
LIMIT = 10.0


def zone(held, fault=(), helped=()):
    marks = [np.isin(np.arange(HOURS), list(some)) for some in (fault, helped)]
    return Zone(np.asarray(held, dtype=float), LIMIT, *marks, np.ones(HOURS, dtype=bool))


def night(at_hour, long=8, depth=1.0, hours=HOURS):
    held = np.full(hours * 4, LIMIT + 1.0)
    held[at_hour * 4 : (at_hour + long) * 4] = LIMIT - depth
    return held


def alarm(*spans):
    raised = np.zeros(HOURS, dtype=bool)
    for begins, end in spans:
        raised[begins:end] = True
    return raised, raised


def test_a_crossing_counts_after_six_hours_above_and_two_tenths_below():
    assert [48 * 4] == crossings(night(48), LIMIT).tolist()
    assert [] == crossings(night(48, depth=0.1), LIMIT).tolist()
    assert [] == crossings(night(5), LIMIT).tolist()
    twice = np.minimum(night(48, long=2), night(53))
    assert [48 * 4] == crossings(twice, LIMIT).tolist()


def test_a_lead_is_counted_from_the_end_of_the_hour_that_raised_it_to_a_day_at_most():
    held = zone(night(48))
    assert [9.0] == told(held, *alarm((38, 48))).leads
    assert [24.0] == told(held, *alarm((5, 48))).leads
    assert [0.0] == told(held, *alarm((48, 50))).leads
    assert [0.0] == told(held, *alarm((20, 30))).leads


def test_an_episode_lasts_over_six_hours_of_calm():
    raised, _ = alarm((10, 11), (16, 17), (30, 31))
    assert [(10, 22), (30, 36)] == episodes(raised, raised)
    kept = raised | np.isin(np.arange(HOURS), [20, 25])
    assert [(10, 36)] == episodes(raised, kept)


def test_an_episode_with_nothing_after_it_is_false_unless_a_fault_or_the_keeper_explains_it():
    raised, kept = alarm((20, 22))
    assert 1 == told(zone(night(60)), raised, kept).false
    assert 0 == told(zone(night(38)), raised, kept).false, "within twelve hours of its end"
    assert 0 == told(zone(night(60), fault=[30]), raised, kept).false
    assert 0 == told(zone(night(60), helped=[25]), raised, kept).false
    assert 0 == told(zone(night(15, long=30)), raised, kept).false, "already below"


def test_a_crossing_after_a_fault_is_not_one_of_the_weather():
    result = told(zone(night(48), fault=[40]), *alarm())
    assert [] == result.leads
    assert [0.0] == result.every


def test_a_share_at_a_rate_lies_on_the_line_between_two_operating_points():
    quiet, loud = Told([0, 8, 0, 0], false=0, hours=720), Told([8, 8, 8, 8], false=1, hours=720)
    assert pytest.approx(0.625) == at_rate([loud, quiet], 0.5, 6)
    assert np.isnan(at_rate([loud], 0.5, 6)), "no operating point is that quiet"


def test_the_minimum_of_the_hours_ahead_needs_most_of_them():
    held = night(12, long=1, hours=24)
    assert LIMIT - 1 == minima(held, 3)[9]
    assert LIMIT + 1 == minima(held, 3)[8]
    held[4 * 10 :] = np.nan
    assert np.isnan(minima(held, 3)[9])


def test_finleys_tornadoes_of_1884_score_as_they_are_printed():
    """Wilks, Statistical Methods in the Atmospheric Sciences, section on 2×2 verification, Finley's 2803 forecasts [memory]."""
    finley = Table(hits=28, false=72, missed=23, quiet=2680)
    assert 2803 == finley.total
    assert pytest.approx(0.966, abs=5e-4) == finley.right
    assert pytest.approx(0.228, abs=5e-4) == finley.threat
    assert pytest.approx(0.549, abs=5e-4) == finley.detection
    assert pytest.approx(0.720, abs=5e-4) == finley.false_ratio
    assert pytest.approx(1.96, abs=5e-3) == finley.bias
    assert pytest.approx(0.355, abs=5e-4) == finley.heidke
    assert pytest.approx(0.523, abs=5e-4) == finley.peirce


def test_never_forecasting_a_tornado_is_right_more_often_and_worth_nothing():
    """Gilbert's answer to Finley, 1884: 98.2 % without any skill (Murphy 1996, The Finley Affair) [memory]."""
    never = Table(hits=0, false=0, missed=51, quiet=2752)
    assert pytest.approx(0.982, abs=5e-4) == never.right
    assert pytest.approx(0.0) == never.heidke
    assert 0.0 == never.threat
