"""Every printed quantity, over the ranges a keeper meets, against pint: within half of its last printed digit."""

import re

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor import words
from monitor.rules import Units

REGISTRY = pint.UnitRegistry()
TEMPERATURES = st.floats(-30, 60)
NUMBER = re.compile(r"[−-]?\d+(?:\.\d+)?")
PARTS = {"¼": 0.25, "½": 0.5, "¾": 0.75}
TRADE = {"°C": "degC", "°F": "degF", "kg": "kg", "lb": "lb", "L": "L", "gal": "US_liquid_gallon", "m²": "m^2",
         "ft²": "ft^2", "W": "W"}  # fmt: skip


def printed(text):
    """(number, unit, half of the last digit) of a text like `−3.5 °F`."""
    number, unit = text.rsplit(" ", 1)
    places = len(number.partition(".")[2])
    return float(number.replace("−", "-")), unit, 0.5 * 10**-places + 1e-9


def by_pint(value, unit, into):
    return REGISTRY.Quantity(value, unit).to(into).magnitude


@given(TEMPERATURES, st.sampled_from(Units))
def test_a_temperature(celsius, units):
    for text in (words.temperature(celsius, units), words.limit(celsius, units)):
        number, unit, half = printed(text)
        assert unit == ("°C" if units is Units.METRIC else "°F")
        assert abs(number - by_pint(celsius, "degC", TRADE[unit])) <= half


@given(TEMPERATURES, TEMPERATURES, st.sampled_from(Units))
def test_a_difference_has_no_offset(one, other, units):
    number, unit, half = printed(words.difference(one - other, units))
    apart = by_pint(abs(one - other), "delta_degC", "delta_degF" if unit == "°F" else "delta_degC")
    assert abs(number - apart) <= half


def test_no_difference_is_none_in_both():
    assert ["0 °C", "0 °F"] == [words.difference(0.0, units) for units in Units]


@given(st.floats(0.01, 500), st.sampled_from(Units))
def test_a_mass(kilos, units):
    number, unit, half = printed(words.kilograms(kilos, units))
    assert abs(number - by_pint(kilos, "kg", TRADE[unit])) <= half


@given(st.floats(0.01, 20), st.sampled_from(Units))
def test_a_floor(square_metres, units):
    number, unit, half = printed(words.area(square_metres, units))
    assert abs(number - by_pint(square_metres, "m^2", TRADE[unit])) <= half


@given(st.floats(0.001, 9999), st.sampled_from(["kg", "L", "W"]), st.sampled_from(Units))
def test_what_was_measured_out_keeps_three_digits(amount, unit, units):
    number, shown, _ = printed(words.measured(amount, unit, units))
    assert shown == (unit if units is Units.METRIC or unit == "W" else {"kg": "lb", "L": "gal"}[unit])
    assert number == pytest.approx(by_pint(amount, unit, TRADE[shown]), rel=0.005)


@pytest.mark.parametrize(
    ("pounds", "text"), [(1, "1 lb"), (3, "3 lb"), (10, "10 lb"), (0.5, "0.5 lb"), (120, "120 lb")]
)
def test_what_was_written_in_pounds_is_shown_as_written(pounds, text):
    assert text == words.measured(by_pint(pounds, "lb", "kg"), "kg", Units.US)


@pytest.mark.parametrize(("gallons", "text"), [(0.25, "0.25 gal"), (0.5, "0.5 gal"), (1, "1 gal"), (12, "12 gal")])
def test_what_was_written_in_gallons_is_shown_as_written(gallons, text):
    assert text == words.measured(by_pint(gallons, "US_liquid_gallon", "L"), "L", Units.US)


CANS = {"litre": "L", "gallon": "US_liquid_gallon", "cup": "cup"}
STEPS = {
    "litre": [(1, 0.1), (5, 0.5), (20, 1), (1e9, 5)],
    "gallon": [(2, 0.25), (5, 0.5), (1e9, 1)],
    "cup": [(1e9, 0.5)],
}


def quarters(text):
    """`2½`, `½`, `1.5` as a number."""
    part = PARTS.get(text[-1:], 0.0)
    whole = text[:-1] if part else text
    return (float(whole) if whole else 0.0) + part


@given(st.floats(0.05, 60), st.floats(1, 4), st.sampled_from(Units))
def test_an_amount_of_water_is_the_range_to_the_nearest_step_of_a_can(low, factor, units):
    high = low * factor
    text = words.litres(low, high, units)
    name = next(can for can in CANS if can in text)
    assert (name == "litre") is (units is Units.METRIC)
    most = REGISTRY.Quantity(high, "L").to(CANS[name]).magnitude
    least = REGISTRY.Quantity(low, "L").to(CANS[name]).magnitude
    step = next(step for upto, step in STEPS[name] if most <= upto + 1e-9)
    numbers = [quarters(n) for n in re.findall(r"\d+(?:\.\d+)?[¼½¾]?|[¼½¾]", text)]
    if text.startswith("about"):
        assert numbers[0] == pytest.approx(max(round((least + most) / 2 / step) * step, step), abs=step * 0.51)
    elif text.startswith(("up to", "less than")):
        assert least < step + 1e-9 or text.startswith("less")
        assert numbers[-1] == pytest.approx(most, abs=step * 0.51 + 1e-6) or text.startswith("less")
    else:
        assert -1e-6 <= least - numbers[0] < step + 1e-6
        assert numbers[1] == pytest.approx(most, abs=step * 0.51 + 1e-6)


@given(st.floats(0.05, 60), st.floats(1, 4), st.sampled_from(Units))
def test_one_is_singular_and_everything_else_is_not(low, factor, units):
    text = words.litres(low, low * factor, units)
    number, name = text.rsplit(" ", 1)
    last = number.rsplit(" ", 1)[-1]
    singular = last == "1" or (name.startswith(("gallon", "cup")) and last in PARTS)
    assert singular is not name.endswith("s")


@pytest.mark.parametrize(("count", "said"), [(0, "0 bins"), (1, "1 bin"), (2, "2 bins"), (21, "21 bins")])
def test_counted_things_are_singular_at_one_alone(count, said):
    assert said == words.amount(count, "bin")


@pytest.mark.parametrize(
    ("minutes", "said"),
    [(1, "1 min"), (59, "59 min"), (60, "1 h"), (90, "1 h 30 min"), (120, "2 h"), (47 * 60, "47 h"), (48 * 60, "2 days"),
     (72 * 60, "3 days")],
)  # fmt: skip
def test_spans_are_told_in_units_that_need_no_plural_until_two_days(minutes, said):
    assert said == words.duration(minutes * 60_000)
