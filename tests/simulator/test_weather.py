"""The demo's night: invented, but not against nature."""

import math
from itertools import pairwise

import pytest

from monitor.simulator.weather import COLDEST, WARMEST, Night, Place, air

NIGHT = Night(high=4.5, low=-4.0, dew_point=-2.0)


def test_the_night_falls_from_its_warmest_to_its_coldest_and_never_beyond():
    assert (4.5, -4.0) == pytest.approx((NIGHT.outdoors(WARMEST), NIGHT.outdoors(COLDEST)))
    falling = [NIGHT.outdoors(WARMEST + h) for h in range(18)]
    assert sorted(falling, reverse=True) == falling
    rising = [NIGHT.outdoors(COLDEST + h) for h in range(8)]
    assert sorted(rising) == rising


def test_every_day_is_like_the_first():
    for hour in (0.0, 5.5, 14.5, 17.0, 23.9):
        assert NIGHT.outdoors(hour) == pytest.approx(NIGHT.outdoors(hour + 48))


def test_the_day_closes_without_a_step():
    minutes = [NIGHT.outdoors(m / 60) for m in range(24 * 60 + 1)]
    assert max(abs(b - a) for a, b in pairwise(minutes)) < 0.05


def test_a_place_gets_two_thirds_of_the_way_in_its_lag():
    # Newton: 1 − 1/e of the way after one time constant
    assert 10 - 10 * (1 - math.exp(-1)) == pytest.approx(Place(lift=0.0, lag=2.0).after(10.0, 0.0, 7200))


def test_warming_air_makes_it_drier_and_cooling_it_below_its_dew_point_leaves_it_damp():
    humid = [air(t, NIGHT).humidity for t in (-6.0, 0.0, 10.0, 20.0)]
    assert sorted(humid, reverse=True) == humid
    assert 97.0 == humid[0]
