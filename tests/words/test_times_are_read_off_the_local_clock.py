from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor import words
from monitor.errors import BadValue
from monitor.readings import DAY, HOUR, MINUTE, SECOND


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
