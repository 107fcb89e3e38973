"""Air against psychrolib, a reference library for the ASHRAE Handbook's formulas, and as properties."""

import math

import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import BadValue
from monitor.science import air

psychrolib.SetUnitSystem(psychrolib.SI)

warm = st.floats(0, 45)
humid = st.floats(1, 100)


@given(warm)
def test_saturation_agrees_with_hyland_and_wexler_to_a_third_of_a_per_cent(celsius):
    assert psychrolib.GetSatVapPres(celsius) == pytest.approx(air.saturation(celsius), rel=0.0035)


@given(warm, humid)
def test_dew_points_agree_with_the_library(celsius, humidity):
    found = air.dew_point(celsius, humidity)
    theirs = psychrolib.GetTDewPointFromRelHum(celsius, humidity / 100)
    if theirs > 0:  # below it the library goes over to ice
        assert theirs == pytest.approx(found, abs=0.06)


@given(warm, humid, st.floats(70_000, 105_000))
def test_humidity_ratios_agree_with_the_library(celsius, humidity, pressure):
    ours = air.humidity_ratio(celsius, humidity, pressure=pressure)
    assert psychrolib.GetHumRatioFromRelHum(celsius, humidity / 100, pressure) == pytest.approx(ours, rel=0.004)


@given(st.floats(-500, 8000))
def test_pressure_at_a_height_agrees_with_the_library(height):
    assert psychrolib.GetStandardAtmPressure(height) == pytest.approx(air.pressure_at(height), rel=1e-9)


@given(warm, humid)
def test_air_cooled_to_its_dew_point_is_full(celsius, humidity):
    dew = air.dew_point(celsius, humidity)
    assert dew <= celsius + 1e-9
    if dew >= air.COLDEST:
        assert air.vapour(celsius, humidity) == pytest.approx(air.saturation(dew), rel=1e-9)


@given(warm)
def test_full_air_has_no_deficit_and_drips_where_it_is(celsius):
    assert air.dew_point(celsius, 100) == pytest.approx(celsius, abs=1e-9)
    assert air.deficit(celsius, 100) == pytest.approx(0, abs=1e-9)


def test_dry_air_never_drips():
    assert air.dew_point(20, 0) is None


@given(warm, warm, humid)
def test_a_bed_dries_into_the_room_when_and_only_when_it_holds_more_vapour(bed, room, humidity):
    pull = air.bed_deficit(bed, room, humidity)
    low, high = air.drying(bed, room, humidity, area=0.24, cover=1)
    assert high == 2 * low >= 0
    if abs(bed - room) < 1e-9:
        assert pull >= 0
    if low > 0.001:
        assert air.water_content(bed, 100) > air.water_content(room, humidity)


def test_a_worked_bed_that_dries():
    # h_c 3 W/m²K, bed and room 22 °C at 60 %: 1.67 kg/m² a day; 0.24 m² under a cover of 0.2: 0.08 L (worked by hand)
    low, _ = air.drying(22, 22, 60, area=1, cover=1)
    assert low == pytest.approx(1.67, abs=0.02)
    assert air.drying(22, 22, 60, area=0.24, cover=0.2)[0] == pytest.approx(0.080, abs=0.001)


def test_a_litre_a_day_takes_as_much_heat_as_a_small_lamp():
    assert air.drying_watts(1, 20) == pytest.approx(28.4, abs=0.1)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: air.saturation(61),
        lambda: air.saturation(math.nan),
        lambda: air.vapour(20, 101),
        lambda: air.vapour(20, -1),
        lambda: air.humidity_ratio(60, 100, pressure=1000),
        lambda: air.pressure_at(12_000),
        lambda: air.latent_heat(-1),
        lambda: air.drying_watts(-1),
        lambda: air.drying(20, 20, 50, area=0, cover=1),
        lambda: air.drying(20, 20, 50, area=1, cover=1.1),
        lambda: air.drying(math.nan, 20, 50, area=1, cover=1),
    ],
)
def test_nonsense_is_refused(wrong):
    with pytest.raises(BadValue):
        wrong()
