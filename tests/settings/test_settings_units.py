"""Quantities with units against pint, a units library of its own making, and the words for wrong ones."""

from contextlib import suppress

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.readings import DAY, HOUR, MINUTE, SECOND
from monitor.rules import Units
from monitor.settings import quantities as q
from monitor.settings.mistakes import Misread

PINT = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
CASES = [
    (q.TEMPERATURE, "°C", "degC", "degC"),
    (q.TEMPERATURE, "°F", "degF", "degC"),
    (q.TEMPERATURE, "K", "kelvin", "degC"),
    (q.DEGREES, "°C", "delta_degC", "delta_degC"),
    (q.DEGREES, "°F", "delta_degF", "delta_degC"),
    (q.DEGREES, "K", "kelvin", "delta_degC"),
    (q.MASS, "kg", "kilogram", "kilogram"),
    (q.MASS, "g", "gram", "kilogram"),
    (q.MASS, "lb", "pound", "kilogram"),
    (q.VOLUME, "L", "liter", "liter"),
    (q.VOLUME, "gal", "US_liquid_gallon", "liter"),
    (q.POWER, "W", "watt", "watt"),
    (q.AREA, "m2", "meter**2", "meter**2"),
    (q.AREA, "ft2", "foot**2", "meter**2"),
    (q.LENGTH, "m", "meter", "meter"),
    (q.LENGTH, "cm", "centimeter", "meter"),
    (q.LENGTH, "in", "inch", "meter"),
    (q.SPAN, "s", "second", "millisecond"),
    (q.SPAN, "min", "minute", "millisecond"),
    (q.SPAN, "h", "hour", "millisecond"),
    (q.SPAN, "d", "day", "millisecond"),
]
AMOUNTS = st.decimals(min_value=0, max_value=9999, places=3)


@pytest.mark.parametrize(
    ("quantity", "unit", "foreign", "canonical"), CASES, ids=lambda c: c if isinstance(c, str) else ""
)
@settings(deadline=None)
@given(amount=AMOUNTS)
def test_a_number_with_a_unit_is_what_pint_makes_of_it(quantity, unit, foreign, canonical, amount):
    expected = PINT.Quantity(float(amount), foreign).to(canonical).magnitude
    assert pytest.approx(expected, rel=1e-9, abs=1e-6) == q.measured(f"{amount} {unit}", quantity, Units.METRIC)


def test_every_unit_of_every_quantity_is_compared_or_spelt_like_one_that_is():
    compared = {(quantity.name, unit) for quantity, unit, _, _ in CASES}
    alike = {
        "C": "°C",
        "℃": "°C",
        "Cel": "°C",
        "F": "°F",
        "℉": "°F",
        "degF": "°F",
        "l": "L",
        "m²": "m2",
        "ft²": "ft2",
    }
    for quantity in {case[0].name: case[0] for case in CASES}.values():
        for unit in quantity.units:
            assert (quantity.name, alike.get(unit, unit)) in compared
            assert quantity.units[unit] == quantity.units[alike.get(unit, unit)]


# A bare number is read in the site's own units.
@pytest.mark.parametrize(
    ("quantity", "metric", "us"),
    [
        (q.TEMPERATURE, 70, (70 - 32) / 1.8),
        (q.DEGREES, 70, 70 / 1.8),
        (q.MASS, 70, 70 * 0.45359237),
        (q.VOLUME, 70, 70 * 3.785411784),
        (q.AREA, 70, 70 * 0.09290304),
        (q.LENGTH, 0.70, 70 * 0.0254),
        (q.POWER, 70, 70),
        (q.PERCENT, 70, 70),
    ],
    ids=lambda c: getattr(c, "name", ""),
)
def test_a_bare_number_is_in_the_sites_own_units(quantity, metric, us):
    assert pytest.approx(metric) == q.measured("70", quantity, Units.METRIC)
    assert pytest.approx(us) == q.measured("70", quantity, Units.US)


def test_a_time_span_has_no_unit_of_its_own():
    for units in Units:
        with pytest.raises(Misread, match="has no unit"):
            q.measured("5", q.SPAN, units)


@pytest.mark.parametrize(
    ("text", "span"),
    [("30 s", 30 * SECOND), ("5 min", 5 * MINUTE), ("4 h", 4 * HOUR), ("2 d", 2 * DAY), ("1.5 h", 90 * MINUTE)],
)
def test_time_spans(text, span):
    assert span == q.measured(text, q.SPAN, Units.METRIC)


@pytest.mark.parametrize(
    "text", ["21°C", " 21 °C ", "21\u00a0°C", "21 C", "21 Cel", "294.15 K", "69.8 °F", "69.8 degF"]
)
def test_a_temperature_may_be_written_in_many_ways(text):
    assert pytest.approx(21.0) == q.measured(text, q.TEMPERATURE, Units.METRIC)


@pytest.mark.parametrize("text", ["-4 °C", "−4 °C", "24.8 °F"])
def test_a_temperature_may_lie_below_zero(text):
    assert pytest.approx(-4.0) == q.measured(text, q.TEMPERATURE, Units.METRIC)


@pytest.mark.parametrize(
    "text",
    ["21..29 °C", "21 .. 29 °C", "21 °C..29 °C", "21..29", "69.8..84.2 °F", "69.8 °F..29 °C", "21 °C .. 302.15 K"],
)
def test_a_range_may_be_written_in_many_ways(text):
    assert pytest.approx((21.0, 29.0)) == q.spread(text, q.TEMPERATURE, Units.METRIC)


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "warm",
        "°C",
        "21 °",
        "21 °X",
        "21,5 °C",
        "1e3 °C",
        "٣ °C",
        "21 °C 5",
        "--4 °C",
        "21..29 °C",
        "9" * 400,
    ],
)
def test_what_is_no_temperature_is_misread(text):
    with pytest.raises(Misread):
        q.measured(text, q.TEMPERATURE, Units.METRIC)


@pytest.mark.parametrize(
    "text", ["", "21", "..", "21..", "..29 °C", "29..21 °C", "21..21 °C", "21 °C..29", "21-29 °C", "a..b"]
)
def test_what_is_no_range_is_misread(text):
    with pytest.raises(Misread):
        q.spread(text, q.TEMPERATURE, Units.METRIC)


@settings(deadline=None)
@given(st.text(max_size=30))
def test_any_text_is_a_number_or_misread(text):
    for quantity in (*q.QUANTITIES, q.DEGREES):
        with suppress(Misread):
            assert isinstance(q.measured(text, quantity, Units.US), float)
        with suppress(Misread):
            low, high = q.spread(text, quantity, Units.US)
            assert low < high


@pytest.mark.parametrize("units", list(Units))
@pytest.mark.parametrize("quantity", q.QUANTITIES, ids=lambda quantity: quantity.name)
@settings(deadline=None)
@given(amount=AMOUNTS)
def test_what_we_write_we_can_read_again(quantity, units, amount):
    value = q.measured(f"{amount} {next(iter(quantity.units))}", quantity, units)
    again = q.measured(q.written(value, quantity, units), quantity, units)
    assert pytest.approx(value, rel=1e-3, abs=0.06) == again
