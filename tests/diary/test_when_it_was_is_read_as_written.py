"""The times a keeper writes beside an entry: a small, strict grammar on the local clock."""

from contextlib import suppress
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from monitor.errors import RequestError
from monitor.moments import beginning, moment
from monitor.readings import DAY, MINUTE
from monitor.rules import HourClock, TimeZone
from monitor.words import clock_time
from parts.orchard import ms

LISBON = "Europe/Lisbon"
NOW = ms("12:00")
"""Wednesday 25 November 2026, noon in Lisbon."""


def at(text, zone=LISBON, now=NOW):
    return moment(text, zone, now)


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("11:30", "2026-11-25T11:30"),
        ("9:05", "2026-11-25T09:05"),
        ("12:00", "2026-11-25T12:00"),
        ("today 00:00", "2026-11-25T00:00"),
        ("yesterday 18:00", "2026-11-24T18:00"),
        ("yesterday 6 pm", "2026-11-24T18:00"),
        ("yesterday 6:05pm", "2026-11-24T18:05"),
        ("Mon 6 p.m.", "2026-11-23T18:00"),
        ("11:30 AM", "2026-11-25T11:30"),
        ("12:30 am", "2026-11-25T00:30"),
        ("yesterday 12:30 pm", "2026-11-24T12:30"),
        ("12:00 noon", "2026-11-25T12:00"),
        ("12 midnight", "2026-11-25T00:00"),
        ("Yesterday  18:00", "2026-11-24T18:00"),
        ("Mon 07:00", "2026-11-23T07:00"),
        ("monday 07:00", "2026-11-23T07:00"),
        ("Wed 07:00", "2026-11-25T07:00"),
        ("Wed 18:00", "2026-11-18T18:00"),
        ("last Wed 07:00", "2026-11-18T07:00"),
        ("Thu 18:00", "2026-11-19T18:00"),
        ("3 Nov 18:00", "2026-11-03T18:00"),
        ("3 december 18:00", "2025-12-03T18:00"),
        ("3 Dec 2024 18:00", "2024-12-03T18:00"),
        ("2026-01-03T18:00", "2026-01-03T18:00"),
        ("2026-01-03 18:00", "2026-01-03T18:00"),
        ("2026-01-03T18:00:30Z", "2026-01-03T18:00:30"),
        ("2026-01-03T18:00+02:00", "2026-01-03T16:00"),
        ("2026-01-03T18:00-0500", "2026-01-03T23:00"),
        ("2 h ago", "2026-11-25T10:00"),
        ("2h ago", "2026-11-25T10:00"),
        ("1 h 30 min ago", "2026-11-25T10:30"),
        ("an hour ago", None),
        ("3 days ago", "2026-11-22T12:00"),
        ("0 min ago", "2026-11-25T12:00"),
    ],
)
def test_what_is_written_means_one_moment(written, meant):
    if meant is None:
        with pytest.raises(RequestError):
            at(written)
    else:
        assert ms(meant) == at(written)


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("18:00", "“18:00” is still to come, it is 12:00 now: the diary tells of what was; did you mean"
         " “yesterday 18:00”?"),
        ("tomorrow 07:00", "“tomorrow 07:00” is still to come"),
        ("2026-11-25T12:01", "is still to come"),
        ("yesterday", "“yesterday” has no time of day: write the time too, as in “yesterday 18:00”"),
        ("Mon", "write the time too, as in “Mon 18:00”"),
        ("2026-01-03", "“2026-01-03” has no time of day"),
        ("now", "leave --at out for now"),
        ("18 pm", "“18 pm” is on no clock: with am and pm hours run from 1:00 to 12:59"),
        ("0:30 am", "“0:30 am” is on no clock"),
        ("3:00 noon", "“3:00 noon” is on no clock"),
        ("6:75 pm", "18:75 is on no clock"),
        ("24:00", "24:00 is on no clock: hours run from 00:00 to 23:59"),
        ("12:60", "12:60 is on no clock"),
        ("2026-02-30T10:00", "“2026-02-30T10:00” is on no calendar or clock"),
        ("31 Feb 10:00", "“31 Feb 10:00” is on no calendar or clock"),
        ("3 Foo 10:00", "begins with no day that is understood here"),
        ("soon 10:00", "begins with no day that is understood here"),
        ("2 fortnights ago", "counts in no span known here: write min, h or days"),
        ("a while back", "is no time that is understood here: write 18:00, “yesterday 18:00”"),
        ("1999-12-31T10:00", "lies before the year 2000"),
        ("99999 days ago", "lies before the year 2000"),
        ("", "is no time that is understood here"),
        ("11:30 BST", "names a zone that was not in force then: write WET"),
    ],
)  # fmt: skip
def test_whatever_else_is_refused_with_what_would_be_understood(written, words):
    with pytest.raises(RequestError) as refused:
        at(written)
    assert words in str(refused.value)


def test_a_time_that_clocks_skipped_is_refused():
    with pytest.raises(RequestError, match="that hour was skipped when clocks went forward"):
        at("2026-03-29T01:30")


def test_a_time_that_was_twice_asks_which_and_takes_either():
    with pytest.raises(RequestError, match="was twice, because clocks went back: write WEST or WET behind it"):
        at("25 Oct 01:30")
    assert ms("2026-10-25T00:30") == at("25 Oct 01:30 WEST")
    assert ms("2026-10-25T01:30") == at("25 Oct 01:30 wet")


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("yesterday", "2026-11-24T00:00"),
        ("Mon", "2026-11-23T00:00"),
        ("2026-01-03", "2026-01-03T00:00"),
        ("3 Jan", "2026-01-03T00:00"),
        ("today", "2026-11-25T00:00"),
        ("2 days ago", "2026-11-23T12:00"),
    ],
)
def test_a_list_may_begin_with_a_day_alone(written, meant):
    assert ms(meant) == beginning(written, LISBON, NOW)


ZONES = st.sampled_from(
    [LISBON, "America/New_York", "Asia/Kathmandu", "Australia/Lord_Howe", "Europe/Dublin", "UTC"]
)
CLOCKS = st.builds(TimeZone, ZONES, st.sampled_from(HourClock))


@settings(max_examples=400, deadline=None)
@given(CLOCKS, st.integers(ms("2024-01-01T00:00"), ms("2028-01-01T00:00")), st.integers(0, 800 * DAY))
@example(LISBON, ms("2026-10-25T12:00"), 11 * 60 * MINUTE)
@example(LISBON, ms("2026-10-25T12:00"), 12 * 60 * MINUTE)
@example(TimeZone(LISBON, HourClock.HALF), ms("2026-10-25T12:00"), 11 * 60 * MINUTE)
@example(TimeZone(LISBON, HourClock.HALF), ms("2026-10-25T12:00"), 12 * 60 * MINUTE)
@example(TimeZone(LISBON, HourClock.HALF), ms("2026-11-25T12:00"), 0)
@example(TimeZone(LISBON, HourClock.HALF), ms("2026-11-25T12:00"), 12 * 60 * MINUTE)
def test_whatever_the_program_prints_of_the_past_is_read_back_as_that_minute(zone, now, back):
    then = (now - back) // MINUTE * MINUTE
    printed = clock_time(then, zone, now)
    assert then == moment(printed, zone, now), printed


@settings(max_examples=300, deadline=None)
@given(ZONES, st.datetimes(datetime(2020, 1, 1), datetime(2026, 11, 24)))
def test_iso_times_agree_with_the_standard_library(zone, wall):
    """Against zoneinfo (PEP 495), which is asked the other way round."""
    text = wall.strftime("%Y-%m-%dT%H:%M")
    both = {wall.replace(second=0, microsecond=0, tzinfo=ZoneInfo(zone), fold=f).utcoffset() for f in (0, 1)}
    if 2 == len(both):
        with pytest.raises(RequestError):
            moment(text, zone, NOW)
    else:
        found = moment(text, zone, NOW)
        assert text == datetime.fromtimestamp(found / 1000, ZoneInfo(zone)).strftime("%Y-%m-%dT%H:%M")


@settings(max_examples=500, deadline=None)
@given(st.text(max_size=30))
def test_no_words_break_it(text):
    with suppress(RequestError):
        assert moment(text, LISBON, NOW) <= NOW
