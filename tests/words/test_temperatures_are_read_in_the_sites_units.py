import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor import words
from monitor.rules import Units

C, F = Units.METRIC, Units.US


@pytest.mark.parametrize(
    ("celsius", "units", "text"),
    [
        (21.5, C, "21.5 °C"),
        (21.5, F, "70.7 °F"),
        (21.0, C, "21.0 °C"),
        (-3.25, C, "−3.2 °C"),
        (-0.04, C, "0.0 °C"),
        (0, F, "32.0 °F"),
        (-40, F, "−40.0 °F"),
    ],
)
def test_a_measured_temperature_has_one_decimal(celsius, units, text):
    assert text == words.temperature(celsius, units)


@pytest.mark.parametrize(
    ("celsius", "units", "text"),
    [
        (21, C, "21 °C"),
        (21, F, "69.8 °F"),
        (21.11111111, F, "70 °F"),
        (15.5, C, "15.5 °C"),
        (-0.01, C, "0 °C"),
        (-5, C, "−5 °C"),
        (10, F, "50 °F"),
        (100, C, "100 °C"),
    ],
)
def test_a_limit_has_no_decimal_when_it_is_whole(celsius, units, text):
    assert text == words.limit(celsius, units)


def test_a_value_just_under_its_limit_does_not_read_like_the_limit():
    assert "20.97 °C" == words.temperature(20.97, C, beside=21)
    assert "20.996 °C" == words.temperature(20.996, C, beside=21)
    assert "20.9999 °C" == words.temperature(20.9999, C, beside=21)
    assert "20.9 °C" == words.temperature(20.9, C, beside=21)
    assert "69.78 °F" == words.temperature(20.99, F, beside=21)


def test_a_value_at_its_limit_reads_like_it():
    assert "21.0 °C" == words.temperature(21, C, beside=21)
    assert "69.8 °F" == words.temperature(21, F, beside=21)


@given(st.integers(-160, 640), st.sampled_from([15.0, 21.0, 29.0, 32.0]), st.sampled_from([C, F]))
def test_no_step_of_a_twelve_bit_probe_reads_like_a_limit_that_it_is_not_at(counts, bound, units):
    value = counts / 16
    shown = float(words.temperature(value, units, beside=bound).split()[0].replace("−", "-"))
    exact = float(words.temperature(bound, units).split()[0])
    assert (shown == exact) == (value == bound)
    assert (shown < exact) == (value < bound)


@pytest.mark.parametrize(
    ("apart", "units", "text"),
    [(2, C, "2 °C"), (2, F, "3.6 °F"), (-0.5, C, "0.5 °C"), (5, F, "9 °F"), (0, C, "0 °C")],
)
def test_a_difference_is_scaled_but_never_shifted(apart, units, text):
    assert text == words.difference(apart, units)


def test_a_rate_is_scaled_as_a_difference_and_keeps_its_sign():
    # 0.54 °C × 1.8 = 0.972 °F (exact by definition of the degree Fahrenheit)
    assert ["0.54 °C an hour", "0.97 °F an hour"] == [words.rate(0.54, units) for units in (C, F)]
    assert "−0.20 °C an hour" == words.rate(-0.2, C)


@pytest.mark.parametrize(
    ("value", "bound", "units", "text"),
    [
        (19.5, 21, C, "1.5 °C below 21 °C"),
        (34, 32, F, "3.6 °F above 89.6 °F"),
        (21, 21, C, "at 21 °C"),
        (20.99, 21, C, "less than 0.1 °C below 21 °C"),
        (-2, 1, C, "3 °C below 1 °C"),
    ],
)
def test_where_a_temperature_lies_from_a_limit(value, bound, units, text):
    assert text == words.side(value, bound, units)


def test_shares_are_whole_per_cent_unless_that_reads_like_the_limit():
    assert "72 %" == words.percent(72.4)
    assert "64.6 %" == words.percent(64.6, beside=65)
    assert "65 %" == words.percent(65, beside=65)
    assert "72 % moisture" == words.moisture(71.6)
    assert "64.96 % moisture" == words.moisture(64.96, beside=65)
