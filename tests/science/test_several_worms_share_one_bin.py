from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import BadValue
from monitor.readings import HOUR
from monitor.rules import Bound, Harm, Limits
from monitor.science.worms import ColdMeans, at_the_mat, names, narrowed, narrowest, species

ALL = [species(key) for key in names()]
PAIRS = list(combinations(ALL, 2))


def harmed(limits, value, hours):
    """Whether a bed that stands at `value` for so many hours is in harm, without the house's code."""
    return any(
        (value <= h.bound.value if h.below else value >= h.bound.value) and hours * HOUR >= h.lasting
        for h in limits.harm
    )


def test_one_worm_alone_keeps_its_own_limits():
    assert ALL[0] is narrowest([ALL[0]])


def test_no_worm_has_no_limits():
    with pytest.raises(BadValue, match="at least one species"):
        narrowest([])


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: "+".join(w.key for w in pair))
def test_comfort_is_what_both_are_comfortable_in(pair):
    shared = narrowest(pair)
    for quantity in ("temperature", "moisture"):
        both = [getattr(worm, quantity) for worm in pair]
        assert max(each.low.value for each in both) == getattr(shared, quantity).low.value
        assert min(each.high.value for each in both) == getattr(shared, quantity).high.value
        low, high = getattr(shared, f"target_{quantity}")
        assert getattr(shared, quantity).low.value <= low < high <= getattr(shared, quantity).high.value


@pytest.mark.parametrize("pair", PAIRS, ids=lambda pair: "+".join(w.key for w in pair))
def test_a_bed_harms_them_together_exactly_when_it_harms_one_of_them(pair):
    shared = narrowest(pair)
    for tenths in range(-50, 450):
        for hours in (0, 0.5, 2, 4, 24):
            value = tenths / 10
            either = any(harmed(worm.temperature, value, hours) for worm in pair)
            assert either == harmed(shared.temperature, value, hours), (value, hours)


@pytest.mark.parametrize("worm", ALL, ids=lambda worm: worm.key)
def test_above_a_mat_a_bed_harms_exactly_when_the_worm_or_its_mat_limit_says_so(worm):
    mat = worm.mat_harm_hot
    for tenths in range(250, 400):
        for hours in (0, 0.5, 2, 4):
            value = tenths / 10
            own = harmed(worm.temperature, value, hours)
            either = own or (mat is not None and harmed(Limits(None, None, (mat,)), value, hours))
            assert either == harmed(at_the_mat(worm), value, hours), (value, hours)


def test_cold_is_trouble_as_soon_as_the_worm_whose_comfort_ends_first_says_so():
    eisenia, eudrilus, dendrobaena = ALL[0], species("eudrilus-eugeniae"), species("dendrobaena-veneta")
    assert ColdMeans.ACT is narrowest([eisenia, eudrilus]).cold_means
    assert ColdMeans.FEED_LESS is narrowest([eisenia, dendrobaena]).cold_means


def test_of_two_worms_whose_comfort_ends_together_the_one_in_trouble_decides():
    calm = ALL[0]
    other = replace(calm, key="other", cold_means=ColdMeans.ACT)
    assert ColdMeans.ACT is narrowest([calm, other]).cold_means


def test_worms_that_have_no_climate_in_common_are_refused_by_name():
    polar = replace(
        ALL[0], latin="Polar worm", temperature=Limits(Bound(-5, "x", "proposal"), Bound(9, "x", "proposal"))
    )
    with pytest.raises(BadValue, match="Polar worm, Eudrilus eugeniae cannot share a bin"):
        narrowest([polar, species("eudrilus-eugeniae")])


def test_the_strictest_mat_limit_and_the_first_warning_hold_for_all():
    shared = narrowest([species("eudrilus-eugeniae"), ALL[0], species("lumbricus-rubellus")])
    assert 30 == shared.mat_harm_hot.bound.value
    assert species("lumbricus-rubellus").warning == shared.warning
    assert "eudrilus-eugeniae+eisenia-fetida+lumbricus-rubellus" == shared.key


harms = st.builds(
    Harm,
    below=st.booleans(),
    bound=st.builds(Bound, st.integers(0, 6).map(float), st.just("x"), st.just("proposal")),
    lasting=st.integers(0, 4).map(lambda hours: hours * HOUR),
)


@given(st.lists(harms, max_size=6), st.lists(harms, max_size=6))
def test_narrowing_any_two_lists_of_harm_changes_no_judgement(first, second):
    both = narrowed([Limits(None, None, tuple(first)), Limits(None, None, tuple(second))])
    whole = Limits(None, None, (*first, *second))
    for value in range(-1, 8):
        for hours in range(6):
            assert harmed(whole, value, hours) == harmed(both, value, hours)
    assert len(both.harm) == len(set(both.harm)), "a harm is kept once"
