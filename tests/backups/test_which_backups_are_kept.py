"""Of each of the last days and weeks the newest, and nothing of the last day is removed. No source: common practice."""

from datetime import UTC, datetime

from hypothesis import given
from hypothesis import strategies as st

from monitor import words
from monitor.backups import Named, name_of, of_site, superseded
from monitor.nightly import due
from monitor.readings import DAY, HOUR, MINUTE

LISBON = "Europe/Lisbon"


def ms(text):
    return round(datetime.fromisoformat(text).timestamp()) * 1000


def nights(first, count, at="03:30"):
    start = ms(f"{first}T{at}+00:00")
    return of_site([name_of("orchard", start + n * DAY) for n in range(count)], "orchard")


def days_of(backups):
    return [f"{datetime.fromtimestamp(one.at // 1000, UTC):%m-%d}" for one in backups]


def test_a_name_is_found_again_and_no_other_name_is_taken_for_one():
    name = name_of("orchard", ms("2026-11-26T03:30:07+00:00"))
    assert "vermistat-orchard-20261126T033007Z" == name
    others = [f"{name}.partial", "vermistat-orchard", "vermistat-orchard-2-20261126T033007Z", "photos", f"x{name}"]
    assert [Named(ms("2026-11-26T03:30:07+00:00"), name)] == of_site([*others, name], "orchard")


def test_seven_days_and_five_weeks_of_forty_nights():
    # 1 October 2026 is a Thursday; the forty nights end on Monday 9 November
    backups = nights("2026-10-01", 40)
    gone = superseded(backups, days=7, weeks=5, zone=LISBON)
    kept = [one for one in backups if one not in gone]
    sundays = [
        "10-18",
        "10-25",
        "11-01",
    ]  # 11-08 and 11-09 are among the seven days, and the newest of their weeks
    assert [*sundays, "11-03", "11-04", "11-05", "11-06", "11-07", "11-08", "11-09"] == days_of(kept)


def test_a_second_removing_removes_nothing_more():
    backups = nights("2026-01-01", 200)
    gone = superseded(backups, days=7, weeks=5, zone=LISBON)
    left = [one for one in backups if one not in gone]
    assert [] == superseded(left, days=7, weeks=5, zone=LISBON)


def test_two_of_the_same_morning_stay_for_a_day():
    first, second = (Named(ms(f"2026-11-26T{t}:00+00:00"), t) for t in ("09:00", "11:00"))
    night = Named(second.at + DAY + MINUTE, "night")
    assert [] == superseded([first, second], days=1, weeks=0, zone=LISBON)
    assert [first, second] == superseded([first, second, night], days=1, weeks=0, zone=LISBON)


@given(
    st.lists(st.integers(0, 400 * 24), min_size=1, max_size=60, unique=True),
    st.integers(1, 10),
    st.integers(0, 10),
    st.sampled_from([LISBON, "Pacific/Auckland", "America/New_York"]),
)
def test_the_newest_of_each_of_the_last_days_is_never_removed(hours, days, weeks, zone):
    backups = sorted(Named(ms("2026-01-01T00:00+00:00") + h * HOUR, str(h)) for h in hours)
    gone = superseded(backups, days=days, weeks=weeks, zone=zone)
    by_day = {}
    for one in backups:
        by_day[words.local(one.at, zone).date()] = one
    for day in sorted(by_day)[-days:]:
        assert by_day[day] not in gone
    by_week = {}
    for one in backups:
        by_week[words.local(one.at, zone).isocalendar()[:2]] = one
    wanted = set(list(dict(sorted(by_week.items())).values())[-weeks:] if weeks else [])
    assert not wanted & set(gone)
    left = [one for one in backups if one not in gone and one.at <= backups[-1].at - DAY]
    assert len(left) <= days + weeks
    assert backups[-1] not in gone


# When one is due


def at(text, newest):
    return due(ms(text), None if newest is None else ms(newest), nightly=210, zone=LISBON)


def test_the_first_is_due_at_once_and_the_next_at_half_past_three():
    assert at("2026-11-26T15:00+00:00", None)
    assert not at("2026-11-27T03:29+00:00", "2026-11-26T15:00+00:00")
    assert at("2026-11-27T03:30+00:00", "2026-11-26T15:00+00:00")
    assert not at("2026-11-27T03:31+00:00", "2026-11-27T03:30:05+00:00")


def test_a_night_that_was_slept_through_is_made_up_for():
    assert at("2026-11-27T09:00+00:00", "2026-11-26T03:30:05+00:00")


def test_by_the_local_clock_in_summer_and_in_the_nights_that_it_is_changed():
    assert not at("2026-07-02T02:29+00:00", "2026-07-01T12:00+00:00")
    assert at("2026-07-02T02:30+00:00", "2026-07-01T12:00+00:00")
    # 25 October 2026: 02:00 WEST becomes 01:00 WET, so half past three is 03:30 UTC
    assert not at("2026-10-25T03:29+00:00", "2026-10-24T12:00+00:00")
    assert at("2026-10-25T03:30+00:00", "2026-10-24T12:00+00:00")


def test_one_that_was_made_under_a_wrong_clock_in_the_future_counts_for_nothing():
    assert at("2026-11-27T02:00+00:00", "2099-01-01T00:00+00:00")
