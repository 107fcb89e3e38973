"""Local times of day as moments, by RFC 5545 section 3.3.5, against dateutil as a second implementation."""

from datetime import date, datetime, time

import pytest
from dateutil import tz as dateutil_tz
from hypothesis import given
from hypothesis import strategies as st

from monitor.advice.daytime import before_the_night, moment, next_of
from parts.orchard import ms

ZONES = [
    "Europe/London",
    "America/New_York",
    "Australia/Lord_Howe",
    "Africa/Casablanca",
    "Asia/Kolkata",
    "Europe/Lisbon",
]


@pytest.mark.parametrize(
    ("day", "clock", "zone", "utc"),
    [
        # does not exist: read with the offset before the gap
        (date(2027, 3, 28), time(1, 30), "Europe/London", "2027-03-28T01:30"),
        (date(2027, 3, 14), time(2, 30), "America/New_York", "2027-03-14T07:30"),
        (date(2027, 10, 3), time(2, 15), "Australia/Lord_Howe", "2027-10-02T15:45"),
        (date(2025, 4, 6), time(2, 30), "Africa/Casablanca", "2025-04-06T02:30"),
        # happens twice: the first
        (date(2027, 10, 31), time(1, 30), "Europe/London", "2027-10-31T00:30"),
        (date(2027, 11, 7), time(1, 30), "America/New_York", "2027-11-07T05:30"),
        (date(2027, 4, 4), time(1, 45), "Australia/Lord_Howe", "2027-04-03T14:45"),
        # of 2027 editions of tzdata differ: 2025b has Ramadan there, 2026f no change of clocks
        (date(2025, 2, 23), time(2, 30), "Africa/Casablanca", "2025-02-23T01:30"),
        # half an hour off
        (date(2027, 1, 1), time(7, 0), "Asia/Kolkata", "2027-01-01T01:30"),
    ],
)
def test_gaps_take_the_old_offset_and_repeats_the_first(day, clock, zone, utc):
    assert ms(utc) == moment(day, clock, zone)


@given(st.dates(date(2020, 1, 1), date(2036, 12, 31)), st.times(), st.sampled_from(ZONES))
def test_dateutil_agrees(day, clock, zone):
    there = dateutil_tz.gettz(zone)
    wall = dateutil_tz.resolve_imaginary(datetime.combine(day, clock.replace(microsecond=0), there))
    assert round(wall.timestamp() * 1000) == moment(day, clock.replace(microsecond=0), zone)


def test_the_next_time_of_day_lies_after_and_is_the_first():
    clocks = (time(10), time(20))
    assert ms("10:00") == next_of(clocks, after=ms("09:59"), tz="Europe/Lisbon")
    assert ms("20:00") == next_of(clocks, after=ms("10:00"), tz="Europe/Lisbon")
    assert ms("2026-11-26T10:00") == next_of(clocks, after=ms("20:00"), tz="Europe/Lisbon")


def test_what_does_not_hurry_has_at_least_two_hours():
    assert ms("10:00") == before_the_night(ms("07:59"), "Europe/Lisbon")
    assert ms("20:00") == before_the_night(ms("08:01"), "Europe/Lisbon")
