"""Lines of axes: round values, and local hours, with days counted by pandas' own calendar."""

import itertools
import math
from datetime import date, datetime
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.charts.ticks import days, hours, midnight, nights, values
from monitor.errors import BadValue
from monitor.readings import HOUR

LISBON = "Europe/Lisbon"


def ms(text, tz=LISBON):
    return int(datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(tz)).timestamp() * 1000)


@given(st.floats(-60, 100), st.floats(0.01, 200), st.integers(3, 12))
def test_values_are_round_evenly_apart_and_inside(low, span, most):
    found = values(low, low + span, most)
    assert 1 <= len(found) <= most
    assert all(low - 1e-6 * span <= v <= low + span + 1e-6 * span for v in found)
    for a, b in itertools.pairwise(found):
        step = (b - a) / 10 ** math.floor(math.log10((b - a) * (1 + 1e-6)))
        assert min(abs(step - digits) for digits in (1, 2, 5)) < 1e-3


def test_a_beds_usual_axis_reads_as_one_would_write_it():
    assert [10, 15, 20, 25, 30] == values(10, 30)


def test_an_hour_skipped_in_spring_has_no_line():
    # Portugal, 2026-03-29: 01:00 WET becomes 02:00 WEST (IANA tz database, rule EU).
    found = hours(ms("2026-03-29"), ms("2026-03-30"), LISBON, every=1)
    assert [h for h in range(24) if h != 1] == [
        datetime.fromtimestamp(t / 1000, ZoneInfo(LISBON)).hour for t in found
    ]


def test_an_hour_that_comes_twice_in_autumn_has_two_lines():
    # Portugal, 2026-10-25: 02:00 WEST becomes 01:00 WET (IANA tz database, rule EU).
    found = hours(ms("2026-10-25"), ms("2026-10-26"), LISBON, every=1)
    assert 25 == len(found)
    assert {HOUR} == {b - a for a, b in itertools.pairwise(found)}


@pytest.mark.parametrize("tz", [LISBON, "America/Santiago", "Australia/Lord_Howe", "Asia/Kathmandu", "UTC"])
def test_a_years_days_begin_where_pandas_says(tz):
    # Santiago's clocks go forward at midnight, so that one of its days has no 00:00.
    ends = [pd.Timestamp("2026-01-01", tz=tz), pd.Timestamp("2027-01-01", tz=tz)]
    every = pd.date_range("2026-01-01", "2026-12-31", freq="D").tz_localize(
        tz, nonexistent="shift_forward", ambiguous=True
    )
    start, end = (int(t.timestamp() * 1000) for t in ends)
    assert [int(t.timestamp() * 1000) for t in every] == days(start, end, tz)


def test_axes_that_cannot_be_are_refused():
    for odd in ((2.0, 1.0), (1.0, 1.0), (0.0, math.inf)):
        with pytest.raises(BadValue):
            values(*odd)
    with pytest.raises(BadValue):
        hours(0, HOUR, LISBON, every=5)


@pytest.mark.parametrize(
    ("tz", "change"), [(LISBON, "2026-03-29"), (LISBON, "2026-10-25"), ("America/Santiago", "2026-09-06")]
)
def test_nights_begin_and_end_by_the_clock_through_both_changes(tz, change):
    day = pd.Timestamp(f"{change}T12:00", tz=tz)
    start, end = ms(f"{(day - pd.Timedelta('36h')).date()}", tz), ms(f"{(day + pd.Timedelta('60h')).date()}", tz)
    found = nights(start, end, tz, dusk=22, dawn=6)
    hands = [tuple(datetime.fromtimestamp(t / 1000, ZoneInfo(tz)).hour for t in night) for night in found]
    assert {(22, 6)} == set(hands)
    assert {7 * HOUR, 8 * HOUR} == {b - a for a, b in found} or {9 * HOUR, 8 * HOUR} == {b - a for a, b in found}
    assert all(a < end and b > start for a, b in found)
    assert found[0][0] < start < found[0][1], "the night in which it begins is there"


def test_a_day_begins_where_pandas_says_also_where_midnight_is_skipped():
    first = pd.Timestamp("2026-09-06").tz_localize("America/Santiago", nonexistent="shift_forward")
    assert int(first.timestamp() * 1000) == midnight(date(2026, 9, 6), "America/Santiago")
