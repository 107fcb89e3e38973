import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor import words
from monitor.errors import BadValue
from monitor.rules import Units

L, GAL = Units.METRIC, Units.US


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [
        (1, 2, "1 to 2 litres"),
        (0.3, 0.6, "0.3 to 0.6 litres"),
        (1.9, 2.1, "about 2 litres"),
        (0.5, 0.5, "about 0.5 litres"),
        (1, 1, "about 1 litre"),
        (0, 3, "up to 3 litres"),
        (4.9, 10.1, "4 to 10 litres"),
        (12.6, 23.8, "10 to 25 litres"),
        (1.5, 4.4, "1.5 to 4.5 litres"),
        (0, 0, "no water"),
        (0.01, 0.04, "less than 0.1 litres"),
    ],
)
def test_in_litres(low, high, text):
    assert text == words.litres(low, high, L)


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [
        (0.95, 0.95, "about ¼ gallon"),
        (1, 2, "¼ to ½ gallon"),
        (0.3, 0.6, "1 to 2½ cups"),
        (3.785411784, 3.785411784, "about 1 gallon"),
        (3.8, 9.5, "1 to 2½ gallons"),
        (0.237, 0.237, "about 1 cup"),
        (0, 3, "up to ¾ gallon"),
        (21, 44, "5 to 12 gallons"),
        (0, 0, "no water"),
        (0.01, 0.04, "less than ½ cup"),
    ],
)
def test_in_us_gallons_and_below_a_quarter_of_one_in_cups(low, high, text):
    assert text == words.litres(low, high, GAL)


@pytest.mark.parametrize(("low", "high"), [(-1, 2), (2, 1), (0, math.inf), (math.nan, 1), (0, math.nan)])
def test_nonsense_is_no_amount(low, high):
    for units in Units:
        with pytest.raises(BadValue):
            words.litres(low, high, units)


@given(st.floats(0, 60), st.floats(0, 60))
def test_the_low_end_of_a_range_is_never_rounded_up(a, b):
    low, high = sorted((a, b))
    text = words.litres(low, high, L)
    if " to " in text and not text.startswith("up to"):
        first, last = text.removesuffix("s").removesuffix(" litre").split(" to ")
        assert float(first) <= low + 1e-6
        assert abs(float(last) - high) <= 2.5 + 1e-9
        assert float(first) < float(last)


@pytest.mark.parametrize(
    ("kg", "units", "text"), [(35, L, "35 kg"), (1.5, L, "1.5 kg"), (35, GAL, "77 lb"), (2, GAL, "4.4 lb")]
)
def test_masses(kg, units, text):
    assert text == words.kilograms(kg, units)


@pytest.mark.parametrize(
    ("m2", "units", "text"), [(0.3, L, "0.3 m²"), (0.3, GAL, "3.2 ft²"), (0.06, L, "0.06 m²")]
)
def test_floors(m2, units, text):
    assert text == words.area(m2, units)
