"""Recursive least squares of a zone, against explicit weighted least squares, statsmodels and a bed of known numbers."""

import math
import random

import numpy as np
import pytest
from statsmodels.regression.recursive_ls import RecursiveLS

from monitor.bed import zone as learning
from monitor.bed.zone import FORGETS, NOISE, Hour, Reason, Zone, begun, observe, relearn, used
from monitor.errors import BadValue
from monitor.readings import HOUR

A, B, C = 0.05, 0.6, 0.02


def lived(hours, *, seed=1, noise=0.0, a=A, b=B, c=C, watched=True):
    """Hours of a bed that follows the equation exactly, the room swinging by day, the mat on every other third hour."""
    chance = random.Random(seed)
    warmth, start = 16.0, None
    found = []
    for number in range(1, hours + 1):
        air = 12 + 5 * math.sin(number / 24 * 2 * math.pi) + chance.uniform(-2, 2)
        duty = float(number % 7 < 3)
        settles = air + (b * duty + c) / a
        after = settles + (warmth - settles) * math.exp(-a)
        read = after + chance.gauss(0, noise)
        begins = warmth if start is None else start
        found.append(Hour(number * HOUR, begins, read, air, duty if watched else None))
        warmth, start = after, read
    return found


def taught(hours, zone=None):
    zone = zone or begun(0, watts=30)
    for hour in hours:
        zone = observe(zone, hour)
    return zone


def equations(hours):
    """Each window of three hours as (causes, rise)."""
    for n in range(2, len(hours)):
        three = hours[n - 2 : n + 1]
        reach = sum(h.air_c - (h.start_c + h.end_c) / 2 for h in three)
        yield [reach, sum(h.duty for h in three), 3.0], three[-1].end_c - three[0].start_c


def test_a_bed_of_known_numbers_is_learned():
    a, b, c = used(taught(lived(24 * 30, noise=0.03)))
    assert pytest.approx(A, abs=0.004) == a
    assert pytest.approx(B, abs=0.04) == b
    assert pytest.approx(C, abs=0.04) == c


def test_it_is_what_weighted_least_squares_says_of_the_same_equations(monkeypatch):
    monkeypatch.setattr(learning, "CLIP", math.inf)
    hours = lived(200, noise=0.1, seed=3)
    causes, rises = map(np.array, zip(*equations(hours), strict=True))
    weights = FORGETS ** np.arange(len(causes) - 1, -1, -1)
    doubts = np.array(learning.DOUBTS) / NOISE
    prior = FORGETS ** len(causes) * np.diag(1 / doubts**2)
    normal = causes.T @ (weights[:, None] * causes) + prior
    first = np.array(begun(0, watts=30).theta)
    expected = np.linalg.solve(normal, causes.T @ (weights * rises) + prior @ first)
    zone = taught(hours)
    assert pytest.approx(expected, rel=1e-7) == np.array(zone.theta)
    inverse = np.linalg.inv(normal)
    assert pytest.approx(inverse[np.triu_indices(3)], rel=1e-6) == np.array(zone.spread)


def test_without_forgetting_it_is_what_statsmodels_says(monkeypatch):
    monkeypatch.setattr(learning, "CLIP", math.inf)
    monkeypatch.setattr(learning, "FORGETS", 1.0)
    monkeypatch.setattr(learning, "DOUBTS", (1e3, 1e3, 1e3))
    monkeypatch.setattr(learning, "FULL", math.inf)
    hours = lived(150, noise=0.1, seed=4)
    causes, rises = map(np.array, zip(*equations(hours), strict=True))
    expected = RecursiveLS(rises, causes).fit().params
    assert pytest.approx(expected, rel=1e-5) == np.array(taught(hours).theta)


def test_one_surprise_teaches_no_more_than_its_clip():
    hours = lived(300, noise=0.05)
    cold = [
        *hours[:-1],
        Hour(hours[-1].at, hours[-1].start_c, hours[-1].end_c - 9, hours[-1].air_c, hours[-1].duty),
    ]
    mild = [
        *hours[:-1],
        Hour(hours[-1].at, hours[-1].start_c, hours[-1].end_c - 3, hours[-1].air_c, hours[-1].duty),
    ]
    assert taught(hours).theta != taught(mild).theta
    assert pytest.approx(taught(mild).theta, abs=2e-3) == taught(cold).theta


def test_a_gap_is_never_learned_across():
    hours = lived(100)
    zone = taught(hours)
    after = taught(
        [Hour(h.at + 5 * HOUR, h.start_c + 4, h.end_c + 4, h.air_c, h.duty) for h in lived(102)[100:]], zone
    )
    assert zone.theta == after.theta
    assert zone.hours == after.hours


def test_an_hour_without_a_state_of_its_mat_teaches_nothing():
    zone = taught(lived(100))
    blind = taught([h for h in lived(110, watched=False) if h.at > zone.newest], zone)
    assert zone.theta == blind.theta


def test_a_bed_without_a_mat_learns_without_one():
    zone = taught(lived(400, b=0.0), begun(0))
    assert 0.0 == used(zone)[1]
    assert pytest.approx(A, abs=0.004) == used(zone)[0]
    assert learning.lift(zone) is None


def test_a_bed_at_rest_keeps_its_doubts_and_forgets_nothing():
    zone = taught([Hour(n * HOUR, 15.0, 15.0, 15.0, 0.0) for n in range(1, 24 * 365)], begun(0, watts=30))
    aa, _, _, bb, _, cc = zone.spread
    assert aa + bb + cc <= learning.FULL
    assert begun(0, watts=30).theta[:2] == zone.theta[:2]


def test_a_moved_mat_is_learned_anew_and_the_loss_is_kept():
    zone = taught(lived(24 * 30, noise=0.03))
    again = relearn(zone, Reason.MAT_MOVED, 24 * 30 * HOUR)
    assert zone.theta == again.theta
    assert learning.doubts(again)[1] > 4 * learning.doubts(zone)[1]
    assert 0 == again.excited
    assert not again.known
    weaker = taught(
        [Hour(h.at + 24 * 30 * HOUR, h.start_c, h.end_c, h.air_c, h.duty) for h in lived(96, b=0.2)], again
    )
    assert pytest.approx(0.2, abs=0.08) == used(weaker)[1]


def test_what_is_not_newer_changes_nothing():
    zone = taught(lived(50))
    assert zone == observe(zone, lived(50)[-1])


def test_a_vessel_and_a_mat_give_a_beginning():
    zone = begun(0, loss=1.5, heat=105.0, watts=40)
    a, b, _ = used(zone)
    assert pytest.approx(1.5 * 3.6 / 105) == a
    assert pytest.approx(40 * 0.7 * 3.6 / 105) == b


def test_half_of_the_warmth_is_told_with_its_doubt():
    likely, quick, slow = learning.half_life(taught(lived(24 * 30, noise=0.03)))
    assert pytest.approx(math.log(2) / A, rel=0.1) == likely
    assert quick < likely < slow
    young = learning.half_life(begun(0, watts=30))
    assert young[2] - young[1] > 5 * (slow - quick)


def test_a_lift_is_told_only_when_it_is_known():
    assert learning.lift(begun(0, watts=30)) is None
    likely, low, high = learning.lift(taught(lived(24 * 40, noise=0.03)))
    assert pytest.approx(B / A, rel=0.15) == likely
    assert low < likely < high


@pytest.mark.parametrize("wrong", [{"start_c": math.nan}, {"air_c": math.inf}, {"duty": 1.2}, {"duty": -0.1}])
def test_an_hour_that_cannot_be_is_refused(wrong):
    with pytest.raises(BadValue):
        Hour(**{"at": 0, "start_c": 1.0, "end_c": 1.0, **wrong})


def test_a_zone_is_a_value():
    assert isinstance(hash(taught(lived(10))), int)
    assert Zone.__dataclass_params__.frozen
