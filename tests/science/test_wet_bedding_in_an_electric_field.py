"""Permittivity to water share to wet basis: round trips, order, and why a soil curve misleads in bedding."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import BadValue
from monitor.science import dielectric as field
from monitor.science.dielectric import Medium


@given(st.floats(5, 90), st.floats(50, 900))
def test_moisture_to_share_and_back_is_the_same(moisture, density):
    share = field.share_of_moisture(moisture, density)
    back = field.moisture_of_share(share, field.dry_density(density, moisture))
    assert moisture == pytest.approx(back, abs=1e-9)


@pytest.mark.parametrize("medium", Medium)
@given(k=st.floats(3, 60), more=st.floats(0.01, 10))
def test_more_permittivity_is_more_water(medium, k, more):
    low, high = field.water_share(k, medium), field.water_share(min(k + more, 60), medium)
    assert low < high or low == high == 1.0 or k + more > 60


@pytest.mark.parametrize("k", range(5, 45, 5))
def test_light_bedding_is_wetter_than_the_soil_curve_says(k):
    # Roth 1992, Nagare 2011, Myllys & Simojoki 1996, Kellner & Lundin 2001 against Topp 1980
    assert all(field.water_share(k, m) > field.water_share(k) for m in Medium if m is not Medium.MINERAL_SOIL)


def test_in_air_there_is_no_water():
    assert 0 == field.water_share(1)


def test_thirty_five_per_cent_of_volume_may_be_three_quarters_of_weight():
    assert field.moisture_of_share(0.35, 120) == pytest.approx(74.5, abs=0.05)


@given(st.floats(0, 59))
def test_warm_water_is_seen_as_less(celsius):
    assert field.water_permittivity(celsius) > field.water_permittivity(celsius + 1)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: field.water_share(0.9),
        lambda: field.water_share(90),
        lambda: field.soil_permittivity(1.2),
        lambda: field.water_permittivity(-1),
        lambda: field.share_of_moisture(80, 2000),
        lambda: field.share_of_moisture(120, 500),
        lambda: field.moisture_of_share(0.3, 0),
        lambda: field.dry_density(500, 100),
    ],
)
def test_nonsense_is_refused(wrong):
    with pytest.raises(BadValue):
        wrong()
