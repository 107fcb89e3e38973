"""What must hold of every row of the species table, whatever its numbers are."""

import pytest

from monitor.readings import HOUR, MINUTE
from monitor.science.worms import ColdMeans, at_the_mat, names, species

KEYS = (
    "eisenia-fetida",
    "eisenia-andrei",
    "eudrilus-eugeniae",
    "perionyx-excavatus",
    "dendrobaena-veneta",
    "lumbricus-rubellus",
)
MARKS = {"seen", "seen-2nd", "memory", "derived", "common practice", "proposal"}


def bounds(limits):
    return [limits.low, limits.high, *(harm.bound for harm in limits.harm)]


def test_these_six_worms_are_known():
    assert names() == KEYS


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("quantity", ["temperature", "moisture"])
def test_harm_lies_outside_comfort_and_comfort_around_the_target(key, quantity):
    worm = species(key)
    limits, target = getattr(worm, quantity), getattr(worm, f"target_{quantity}")
    cold = [harm.bound.value for harm in limits.harm if harm.below]
    hot = [harm.bound.value for harm in limits.harm if not harm.below]
    assert cold and hot, "harm has a bound on either side"
    assert max(cold) < limits.low.value < target[0] < target[1] < limits.high.value < min(hot)


@pytest.mark.parametrize("key", KEYS)
def test_a_deeper_harm_is_never_slower(key):
    for limits in (species(key).temperature, at_the_mat(species(key))):
        for below, sign in ((True, -1), (False, 1)):
            side = sorted((h for h in limits.harm if h.below is below), key=lambda h: sign * h.bound.value)
            delays = [harm.lasting for harm in side]
            assert delays == sorted(delays, reverse=True)
            assert len(set(delays)) == len(delays), "two harms of one delay on one side: one of them does nothing"


@pytest.mark.parametrize("key", KEYS)
def test_every_limit_says_where_it_comes_from(key):
    worm = species(key)
    mat = [worm.mat_harm_hot.bound] if worm.mat_harm_hot else []
    for bound in (*bounds(worm.temperature), *bounds(worm.moisture), *mat):
        assert bound.mark in MARKS
        assert 10 < len(bound.source) < 90, bound.source
        assert bound.source.startswith("our proposal") == (bound.mark == "proposal"), bound


@pytest.mark.parametrize("key", KEYS)
def test_a_mat_zone_is_never_allowed_more_heat_than_the_bed(key):
    worm = species(key)
    hottest = min(h.bound.value for h in worm.temperature.harm if not h.below)
    assert min(h.bound.value for h in at_the_mat(worm).harm if not h.below) <= hottest
    assert at_the_mat(worm).low == worm.temperature.low


def test_right_above_a_mat_eisenia_is_harmed_from_30_and_eudrilus_from_32_within_half_an_hour():
    for key, value in (("eisenia-fetida", 30), ("eisenia-andrei", 30), ("eudrilus-eugeniae", 32)):
        first = next(h for h in at_the_mat(species(key)).harm if not h.below)
        assert (value, 30 * MINUTE) == (first.bound.value, first.lasting)


def test_a_worm_without_a_mat_limit_keeps_its_own_heat_limit_there():
    worm = species("dendrobaena-veneta")
    assert worm.mat_harm_hot is None
    assert worm.temperature == at_the_mat(worm)


def test_eudrilus_has_a_slow_and_an_at_once_harm_on_either_side():
    harm = species("eudrilus-eugeniae").temperature.harm
    expected = [(True, 15, 4 * HOUR), (True, 12, 0), (False, 32, 2 * HOUR), (False, 34, 0)]
    assert expected == [(h.below, h.bound.value, h.lasting) for h in harm]


def test_cold_means_feed_less_for_temperate_worms_and_trouble_for_tropical_ones():
    tropical = {key for key in KEYS if species(key).cold_means is ColdMeans.ACT}
    assert tropical == {"eudrilus-eugeniae", "perionyx-excavatus"}


def test_only_the_worm_that_is_mostly_sold_under_a_wrong_name_carries_a_warning():
    assert [key for key in KEYS if species(key).warning] == ["lumbricus-rubellus"]
    assert "eisenia-fetida" in species("lumbricus-rubellus").warning
