"""A moisture probe that reads beyond its own points: judged where the point alone decides, and only there.

The points are invented; that a probe in the air reads drier than any bedding is common practice (it is the
wiring test of every maker's guide).
"""

import pytest

from checks.beds import T0, WATER, Watching, bed, damp, every, reading, thermometer, zone
from monitor.checks.findings import Condition
from monitor.checks.values import decides
from monitor.checks.watches import Statistic, watch_over
from monitor.readings import HOUR, MINUTE, Measures
from monitor.rules import Level, Point
from monitor.science.moisture import Firm, firm

STEP = 15 * MINUTE
CLIMATE = {Measures.MOISTURE: WATER}
"""Comfort 70 to 78 %, harm at 60 % and below; deadband 2 points."""


def points(*pairs):
    return damp("fig-damp", tuple(Point(c, m) for c, m in pairs))


NARROW = points((2000, 66), (1600, 76))
WETTEST_IS_WET = points((2000, 60), (1600, 80))
DRIEST_IS_DRY = points((2000, 68), (1600, 80))


def living(probe, values):
    fig = bed(zone("west", probe, limits=CLIMATE), limits=CLIMATE)
    return Watching(fig).live(every(STEP, values, probe="fig-damp"))


def steps(life):
    return [(f.key.condition, f.level) for f in life.said]


def test_inside_its_points_a_value_is_what_they_say():
    assert Firm(71.0) == firm(NARROW, 1800)


@pytest.mark.parametrize(
    ("probe", "counts", "expected"),
    [
        (NARROW, 1500, Firm(76, 1)),
        (NARROW, 2100, Firm(66, -1)),
        (NARROW, 4600, Firm(66, -1)),  # the line is at 1 % there
        (NARROW, 4700, None),  # and below 0 % here
        (points((2700, 12), (1450, 80)), 2800, Firm(12, -1)),
        (points((2700, 12), (1450, 80)), 3300, None),
        (points((1450, 12), (2700, 80)), 2800, Firm(80, 1)),  # a board that reads more the wetter it is
        (points((1450, 12), (2700, 80)), 900, None),
    ],
)
def test_beyond_them_it_is_at_least_or_at_most_the_outermost(probe, counts, expected):
    assert expected == firm(probe, counts)


def test_wetter_than_a_point_that_is_too_wet_itself_is_too_wet():
    life = living(WETTEST_IS_WET, [1500] * 30)
    assert [(Condition.WET, Level.COMFORT)] == steps(life)
    evidence = life.said[0].evidence
    assert (80, 1) == (evidence.value, evidence.side)
    assert evidence.arithmetic.startswith("at least 80 %, at or above 78 %")


def test_wetter_than_a_point_that_is_not_too_wet_says_nothing():
    assert [] == steps(living(NARROW, [1500] * 60))


def test_drier_than_a_point_that_is_too_dry_itself_is_too_dry():
    life = living(DRIEST_IS_DRY, [2100] * 60)
    assert [(Condition.DRY, Level.COMFORT)] == steps(life)
    evidence = life.said[0].evidence
    assert (68, -1) == (evidence.value, evidence.side)
    assert "at most 68 %" in evidence.arithmetic


def test_harm_that_the_point_does_not_reach_is_not_claimed():
    assert Level.HARM not in [level for _, level in steps(living(DRIEST_IS_DRY, [3000] * 60))]


def test_a_probe_in_the_air_says_nothing_of_the_bed():
    assert [] == steps(living(DRIEST_IS_DRY, [60_000] * 60))


def test_what_is_only_known_from_the_other_side_does_not_end_an_alarm():
    """A wet bed, and then a reading beyond the driest point that could be damp enough or not: 66 % at most is past wet."""
    life = living(WETTEST_IS_WET, [1550] * 30)
    assert [(Condition.WET, Level.COMFORT)] == steps(life)
    after = [reading("fig-damp", T0 + 30 * STEP + n * STEP, 60_000) for n in range(20)]
    for one in after:
        life.round(one)
    assert {Condition.WET} == {key.condition for key in life.standing}


def test_at_most_so_wet_ends_what_was_too_wet():
    life = living(NARROW, [1500])
    wet = living(WETTEST_IS_WET, [1550] * 30)
    assert Condition.WET in {key.condition for key in wet.standing}
    for n in range(8):
        wet.round(reading("fig-damp", T0 + (30 + n) * STEP, 2100))
    assert Condition.WET not in {key.condition for key in wet.standing}
    assert {} == life.standing


def test_a_bed_that_only_has_a_thermometer_knows_no_sides():
    fig = bed(zone("west", thermometer("fig-west")))
    life = Watching(fig).live(every(HOUR // 2, [20.0] * 6))
    assert [0] == [f.evidence.side for f in life.said]


@pytest.mark.parametrize(
    ("condition", "known", "expected"),
    [
        (Condition.DRY, Firm(70, -1), True),  # a limit includes its number
        (Condition.DRY, Firm(70.5, -1), False),
        (Condition.DRY, Firm(72, 1), False),  # and a deadband too
        (Condition.DRY, Firm(72.5, 1), True),
        (Condition.WET, Firm(78, 1), True),
        (Condition.WET, Firm(77.5, 1), False),
        (Condition.WET, Firm(76, -1), False),
        (Condition.WET, Firm(75.5, -1), True),
    ],
)
def test_what_is_only_known_from_one_side_decides_from_the_limits_number_on(condition, known, expected):
    watched = watch_over(bed(zone("west", NARROW, limits=CLIMATE), limits=CLIMATE))
    [view] = [
        v
        for v in watched.views
        if v.statistic is not Statistic.RISE and any(k.condition is condition for k, _ in v.keys)
    ]
    assert expected is decides(view, known)
