import pickle
from datetime import UTC, datetime, time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor import words
from monitor.errors import BadValue
from monitor.readings import DAY, HOUR, MINUTE, SECOND
from monitor.rules import HourClock, TimeZone


def at(text):
    """Millis of a moment written in UTC."""
    return int(datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()) * SECOND


NOW = at("2026-11-25T20:00")  # a Wednesday, 20:00 in Lisbon


@pytest.mark.parametrize(
    ("moment", "text"),
    [
        ("2026-11-25T02:10", "02:10"),
        ("2026-11-25T23:59", "23:59"),
        ("2026-11-26T00:00", "tomorrow 00:00"),
        ("2026-11-26T07:00", "tomorrow 07:00"),
        ("2026-11-30T07:00", "Mon 07:00"),
        ("2026-12-01T07:00", "Tue 07:00"),
        ("2026-12-02T07:00", "2 Dec 07:00"),
        ("2027-01-03T07:00", "3 Jan 2027 07:00"),
        ("2026-11-24T23:40", "yesterday 23:40"),
        ("2026-11-23T07:00", "last Mon 07:00"),
        ("2026-11-18T07:00", "18 Nov 07:00"),
        ("2025-11-25T07:00", "25 Nov 2025 07:00"),
    ],
)
def test_the_day_is_named_as_seen_from_now(moment, text):
    assert text == words.clock_time(at(moment), "Europe/Lisbon", NOW)


def test_the_day_is_the_one_the_keeper_lives_in():
    moment = at("2026-11-25T20:00")
    assert "tomorrow 01:45" == words.clock_time(moment, "Asia/Kathmandu", at("2026-11-25T18:00"))
    assert "15:00" == words.clock_time(moment, "America/New_York", NOW)


def test_seconds_are_left_out_and_never_rounded_up_into_the_next_minute():
    assert "02:10" == words.clock_time(at("2026-11-25T02:10") + 59_999, "Europe/Lisbon", NOW)


def test_over_the_spring_change_the_same_local_hour_is_one_hour_less_away():
    evening = at("2026-03-28T22:00")  # London, still GMT
    assert "tomorrow 07:00" == words.clock_time(evening + 8 * HOUR, "Europe/London", evening)
    assert "tomorrow 02:00" == words.clock_time(at("2026-03-29T01:00"), "Europe/London", evening)
    assert "tomorrow 00:59" == words.clock_time(at("2026-03-29T00:59"), "Europe/London", evening)


def test_in_autumn_the_hour_that_comes_twice_says_which_one():
    now = at("2026-10-25T12:00")
    assert "01:30 BST" == words.clock_time(1_792_888_200 * SECOND, "Europe/London", now)
    assert "01:30 GMT" == words.clock_time(1_792_891_800 * SECOND, "Europe/London", now)
    assert "02:00" == words.clock_time(at("2026-10-25T02:00"), "Europe/London", now)


def test_a_zone_that_nobody_knows_is_refused():
    for zone in ("Europe/Lisbonne", "", "../etc/passwd", "Europe"):
        with pytest.raises(BadValue, match="no time zone"):
            words.clock_time(NOW, zone, NOW)


@pytest.mark.parametrize(
    ("span", "text"),
    [
        (0, "0 s"),
        (45 * SECOND, "45 s"),
        (59_400, "59 s"),
        (59_600, "1 min"),
        (30 * MINUTE, "30 min"),
        (4 * HOUR, "4 h"),
        (90 * MINUTE, "1 h 30 min"),
        (10 * HOUR, "10 h"),
        (10 * HOUR + 29 * MINUTE, "10 h"),
        (10 * HOUR + 30 * MINUTE, "11 h"),
        (36 * HOUR, "36 h"),
        (DAY, "24 h"),
        (2 * DAY, "2 days"),
        (2 * DAY - MINUTE, "2 days"),
        (60 * HOUR, "2 days 12 h"),
        (14 * DAY, "14 days"),
    ],
)
def test_spans(span, text):
    assert text == words.duration(span)


def test_a_span_below_zero_is_refused():
    with pytest.raises(BadValue):
        words.duration(-1)


@given(st.integers(0, 40 * DAY))
def test_a_span_read_back_is_within_its_last_unit(span):
    sizes = {"s": SECOND, "min": MINUTE, "h": HOUR, "days": DAY}
    said = words.duration(span).split()
    read = sum(int(count) * sizes[unit] for count, unit in zip(said[::2], said[1::2], strict=True))
    last = HOUR if span >= 10 * HOUR - MINUTE else MINUTE if span >= MINUTE - SECOND else SECOND
    assert abs(read - span) <= last / 2


HALF = TimeZone("Europe/Lisbon", HourClock.HALF)


@pytest.mark.parametrize(
    ("moment", "text", "inside"),
    [
        ("2026-11-25T02:10", "2:10 am", "at 2:10 am"),
        ("2026-11-25T12:30", "12:30 pm", "at 12:30 pm"),
        ("2026-11-26T00:00", "tomorrow 12:00 midnight", "tomorrow 12:00 midnight"),
        ("2026-11-26T00:30", "tomorrow 12:30 am", "tomorrow 12:30 am"),
        ("2026-11-30T12:00", "Mon 12:00 noon", "on Mon 12:00 noon"),
        ("2026-11-24T23:40", "yesterday 11:40 pm", "yesterday 11:40 pm"),
    ],
)
def test_whoever_reads_twelve_hours_is_told_the_half_of_the_day(moment, text, inside):
    assert text == words.clock_time(at(moment), HALF, NOW)
    assert inside == words.at_time(at(moment), HALF, NOW)


def test_a_time_of_a_night_of_two_such_times_carries_its_zone_by_either_clock():
    now, back = at("2026-10-25T03:00"), 1_792_888_200 * SECOND
    assert "1:30 am BST" == words.clock_time(back, TimeZone("Europe/London", HourClock.HALF), now)


@given(st.times().filter(lambda clock: clock.minute or clock.hour % 12))
def test_twelve_hours_are_told_as_strftime_tells_them(clock):
    told = datetime.combine(datetime(2026, 1, 1), clock).strftime("%I:%M %p").lstrip("0").lower()
    assert told == words.hours(clock, HALF)


def test_twelve_sharp_is_told_without_am_or_pm():
    assert ["12:00 noon", "12:00 midnight"] == [words.hours(time(hour), HALF) for hour in (12, 0)]


def test_a_stamp_has_day_and_time():
    moment = at("2026-11-25T15:05")
    assert "2026-11-25 3:05 pm" == words.stamp(moment, HALF)
    assert "2026-11-25 15:05" == words.stamp(moment, "Europe/Lisbon")


def test_a_zone_that_was_kept_goes_by_the_same_clock_again():
    kept = pickle.loads(pickle.dumps(HALF))
    assert (HALF, HourClock.HALF) == (kept, kept.clock)
