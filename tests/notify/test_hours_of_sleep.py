"""Sleeping hours by each person's clock, over both changes of the clocks, against dateutil as a second opinion.

The rule for local times that do not exist or happen twice is RFC 5545 section 3.3.5.
"""

from datetime import UTC, datetime, time, timedelta

import pytest
from dateutil import tz as dateutil_tz
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.notify.hours import next_up, sleeping
from monitor.readings import HOUR, MINUTE
from monitor.rules import Person
from parts.orchard import ms

CHANGES = [
    ("Europe/London", "2027-03-28T01:00"),
    ("Europe/London", "2027-10-31T01:00"),
    ("America/New_York", "2027-03-14T07:00"),
    ("America/New_York", "2027-11-07T06:00"),
    ("Australia/Lord_Howe", "2027-04-03T15:00"),  # half an hour back
    ("Australia/Lord_Howe", "2027-10-02T15:30"),  # half an hour forward
    ("Africa/Casablanca", "2025-02-23T02:00"),  # back for Ramadan; of 2027 editions of tzdata differ
    ("Africa/Casablanca", "2025-04-06T02:00"),
]
"""The zone and the moment (UTC) at which its clocks change."""


def who(evening, up):
    as_time = time.fromisoformat
    return Person("ana", ("mail",), as_time(evening) if evening else None, as_time(up) if up else None)


def by_dateutil(person, now, zone):
    """Asleep or not, and the next `up`, built on dateutil alone."""
    there = dateutil_tz.gettz(zone)
    today = datetime.fromtimestamp(now / 1000, UTC).astimezone(there).date()
    nights = []
    for shift in range(-3, 4):
        day = today + timedelta(days=shift)
        end_day = day if person.up > person.evening else day + timedelta(days=1)
        ends = [(day, person.evening), (end_day, person.up)]
        real = [dateutil_tz.resolve_imaginary(datetime.combine(d, c, there)).timestamp() * 1000 for d, c in ends]
        if real[0] < real[1]:
            nights.append(real)
    return any(a <= now < b for a, b in nights), round(min(b for _, b in nights if b > now))


@pytest.mark.parametrize(("zone", "change"), CHANGES)
@pytest.mark.parametrize(
    ("evening", "up"),
    [("21:00", "07:00"), ("00:30", "08:00"), ("23:00", "02:30"), ("01:15", "02:15"), ("02:30", "06:00")],
)
def test_around_every_change_of_the_clocks_both_implementations_agree(zone, change, evening, up):
    person = who(evening, up)
    for minutes in range(-30 * 60, 30 * 60, 15):
        now = ms(change) + minutes * MINUTE
        asleep, gets_up = by_dateutil(person, now, zone)
        assert asleep == sleeping(person, now, zone), now
        assert gets_up == next_up(person, now, zone), now


@settings(max_examples=300, deadline=None)
@given(
    st.integers(ms("2024-01-01T00:00"), ms("2032-01-01T00:00")),
    st.sampled_from([*sorted({zone for zone, _ in CHANGES}), "Asia/Kolkata", "Pacific/Chatham"]),
    st.times(),
    st.times(),
)
def test_at_any_moment_both_implementations_agree(now, zone, evening, up):
    # A keeper writes "01:00", which names no fold; RFC 5545 takes the first of two. The reference would honour one.
    folded = Person("ana", ("mail",), evening.replace(microsecond=0), up.replace(microsecond=0))
    evening, up = evening.replace(microsecond=0, fold=0), up.replace(microsecond=0, fold=0)
    if evening == up:
        return
    person = Person("ana", ("mail",), evening, up)
    assert next_up(person, now, zone) == next_up(folded, now, zone)
    assert by_dateutil(person, now, zone) == (sleeping(person, now, zone), next_up(person, now, zone))


@pytest.mark.parametrize(("zone", "change"), CHANGES)
def test_the_night_of_the_change_is_as_long_as_it_really_is(zone, change):
    person = who("21:00", "07:00")
    asleep = sum(sleeping(person, ms(change) + m * MINUTE, zone) for m in range(-12 * 60, 12 * 60))
    before, after = (
        datetime.fromtimestamp(ms(change) / 1000 + shift, UTC).astimezone(dateutil_tz.gettz(zone)).utcoffset()
        for shift in (-60, 60)
    )
    assert 10 * 60 - (after - before) / timedelta(minutes=1) == asleep


def test_evening_counts_and_up_does_not():
    person = who("21:00", "07:00")
    assert [False, True, True, False] == [
        sleeping(person, ms(at), "Europe/Lisbon") for at in ("20:59", "21:00", "06:59", "07:00")
    ]


def test_an_evening_after_midnight_begins_on_the_day_it_ends():
    person = who("00:30", "08:00")
    assert [False, False, True, True, False] == [
        sleeping(person, ms(at), "Europe/Lisbon") for at in ("23:30", "00:29", "00:30", "07:59", "08:00")
    ]
    assert ms("2026-11-26T08:00") == next_up(person, ms("23:30"), "Europe/Lisbon")


def test_a_zone_on_the_half_hour():
    person = who("21:00", "07:00")  # 15:30 to 01:30 UTC in Kolkata
    assert [False, True, True, False] == [
        sleeping(person, ms(at), "Asia/Kolkata") for at in ("15:29", "15:30", "01:29", "01:30")
    ]


@pytest.mark.parametrize(("evening", "up"), [(None, None), ("21:00", None), (None, "07:00"), ("07:00", "07:00")])
def test_without_both_hours_nobody_ever_sleeps(evening, up):
    person = who(evening, up)
    assert not any(sleeping(person, ms("00:00") + h * HOUR, "Europe/Lisbon") for h in range(48))
    assert ms("03:00") == next_up(person, ms("03:00"), "Europe/Lisbon")


def test_up_is_always_ahead():
    person = who("21:00", "07:00")
    assert ms("07:00") == next_up(person, ms("06:59"), "Europe/Lisbon")
    assert ms("2026-11-26T07:00") == next_up(person, ms("07:00"), "Europe/Lisbon")


def test_a_night_that_a_gap_leaves_nothing_of_is_none():
    # London, 28 March 2027: 01:30 is read as 02:30, so nothing is left of 01:30 to 02:15
    person = who("01:30", "02:15")
    assert not any(sleeping(person, ms("2027-03-28T00:00") + m * MINUTE, "Europe/London") for m in range(180))
