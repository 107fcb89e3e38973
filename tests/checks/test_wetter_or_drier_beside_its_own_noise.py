"""What an uncalibrated probe can say: which way it goes, by whole days, and only beyond its own noise."""

import math
import random
from statistics import NormalDist

import numpy as np
import pytest

from monitor.checks.trend import SLOT, spread, trends
from monitor.readings import DAY, HOUR

NOW = 1_800_000_000_000


def slots(value, *, days=8.0, seed=1, noise=2.0):
    """Means of 3 h, `value(days from now)` each with some noise."""
    rolls, count = random.Random(seed), int(days * DAY / SLOT)
    begins = [NOW - (count - n) * SLOT for n in range(count)]
    return [(at, value((at - NOW) / DAY) + rolls.gauss(0, noise)) for at in begins]


def test_the_spread_is_that_of_a_reference_library():
    rolls = random.Random(2)
    for count in (3, 8, 20):
        values = [rolls.gauss(1500, 20) for _ in range(count)]
        deviation = np.median(np.abs(values - np.median(values))) / NormalDist().inv_cdf(0.75)
        assert pytest.approx(deviation, rel=1e-4) == spread(values)


def test_one_wild_value_does_not_widen_it():
    assert pytest.approx(spread([1, 2, 3, 4, 5, 6, 7]), rel=0.4) == spread([1, 2, 3, 4, 5, 6, 7000])
    assert 0.0 == spread([5.0]) == spread([])


def test_a_bed_that_dries_is_seen_over_a_day_and_a_week():
    day, week = trends(slots(lambda t: 1500 + 20 * t), NOW)
    assert (1, True, 7, True) == (day.days, day.moved, week.days, week.moved)
    assert pytest.approx(20, abs=4) == day.change
    assert pytest.approx(140, abs=4) == week.change


def test_slow_drying_shows_over_the_week_only():
    day, week = trends(slots(lambda t: 1500 + t), NOW)
    assert (False, True) == (day.moved, week.moved)


def test_the_swing_of_a_day_is_no_trend():
    found = trends(slots(lambda t: 1500 + 60 * math.sin(2 * math.pi * t)), NOW)
    assert [False, False] == [t.moved for t in found]


def test_noise_alone_rarely_looks_like_a_trend():
    found = [t.moved for seed in range(300) for t in trends(slots(lambda _: 1500.0, seed=seed), NOW)]
    # three standard errors of a median of eight, whose own scale is estimated out of eight: a few in a hundred
    assert 600 == len(found)
    assert sum(found) <= 0.05 * len(found)


@pytest.mark.parametrize("days", [0.5, 1.0, 1.4])
def test_before_two_days_are_known_nothing_is_said(days):
    assert [] == trends(slots(lambda _: 1500.0, days=days), NOW)


def test_a_day_with_too_few_hours_known_is_not_compared():
    known = [s for s in slots(lambda t: 1500 + 20 * t) if not NOW - 1.9 * DAY < s[0] < NOW - 1.1 * DAY]
    assert [7] == [t.days for t in trends(known, NOW)]


def test_a_slot_belongs_to_the_day_in_which_it_ends():
    assert [] == trends([(NOW - 3 * HOUR, 1.0)] * 8, NOW)
