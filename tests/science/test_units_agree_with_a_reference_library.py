"""Every scale against pint, a library that knows the definitions by itself."""

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import BadValue
from monitor.science import units

REGISTRY = pint.UnitRegistry()
PINT = {
    "°C": "degC", "°F": "degF", "K": "kelvin", "kg": "kg", "g": "g", "lb": "lb", "L": "L", "mL": "mL",
    "gal": "US_liquid_gallon", "m2": "m^2", "cm2": "cm^2", "ft2": "ft^2", "m": "m", "cm": "cm", "mm": "mm",
    "ft": "ft", "in": "inch", "W": "W", "kW": "kW", "W/m2": "W/m^2", "W/ft2": "W/ft^2",
}  # fmt: skip
DIFFERENCES = {"°C": "delta_degC", "°F": "delta_degF", "K": "kelvin"}


def by_pint(value, unit, into):
    return REGISTRY.Quantity(value, unit).to(into).magnitude


def test_every_unit_we_read_is_compared():
    assert set(PINT) == set(units.SCALES)


@pytest.mark.parametrize("unit", PINT)
@pytest.mark.parametrize("value", [0.001, 1.0, 21.5, 70.0, 85.0, 1234.5])
def test_into_canonical_units_and_back_as_pint_does(unit, value):
    into = PINT[units.SCALES[unit].canonical]
    assert by_pint(value, PINT[unit], into) == pytest.approx(units.canonical(value, unit), rel=1e-12, abs=1e-9)
    assert by_pint(value, into, PINT[unit]) == pytest.approx(units.in_unit(value, unit), rel=1e-12, abs=1e-9)


@pytest.mark.parametrize("unit", DIFFERENCES)
def test_differences_of_temperature_have_no_offset(unit):
    there = by_pint(9.0, DIFFERENCES[unit], "delta_degC")
    assert there == pytest.approx(units.difference(9.0, unit))
    assert 9.0 == pytest.approx(units.difference_in(there, unit))


@given(st.floats(-200, 2000), st.sampled_from(["°C", "°F", "K"]))
def test_there_and_back_is_the_same(value, unit):
    value = abs(value) if unit == "K" else value
    assert value == pytest.approx(units.in_unit(units.canonical(value, unit), unit), abs=1e-9)


@pytest.mark.parametrize(("value", "unit"), [(-274, "°C"), (-460, "°F"), (-0.1, "K")])
def test_below_absolute_zero_there_is_no_temperature(value, unit):
    with pytest.raises(BadValue, match="absolute zero"):
        units.canonical(value, unit)


def test_absolute_zero_itself_exists_in_every_scale():
    for value, unit in ((-273.15, "°C"), (-459.67, "°F"), (0, "K")):
        assert -273.15 == pytest.approx(units.canonical(value, unit))


@pytest.mark.parametrize("ask", [units.canonical, units.in_unit, units.difference, units.difference_in])
def test_an_unknown_unit_is_refused_with_the_known_ones(ask):
    with pytest.raises(BadValue, match=r"furlong.*known are .*gal"):
        ask(1.0, "furlong")


def test_the_short_names_agree_with_the_table():
    assert 69.8 == pytest.approx(units.fahrenheit(21))
    assert 21 == pytest.approx(units.celsius(69.8))
    assert by_pint(10, "L", "US_liquid_gallon") == pytest.approx(units.gallons(10), rel=1e-12)
    assert by_pint(35, "kg", "lb") == pytest.approx(units.pounds(35), rel=1e-12)
    with pytest.raises(BadValue):
        units.celsius(-500)
