"""One notice a week and person, in the morning of a Monday; over restarts, nights, absences and both clock changes."""

from dataclasses import replace
from datetime import UTC, date, datetime, time

import pytest

from monitor.due import next_deadline
from monitor.notify.weekly import due, next_moments, seven_days, week_before
from monitor.readings import DAY, HOUR
from monitor.rules import Weekly
from parts import orchard
from parts.nights import shed
from parts.orchard import ANA, BEN, ms

MAIL = {"mail": Weekly()}
READER = replace(ANA, channels=("phone", "mail"))
SUNDAY = "2026-11-29T12:00"


def weeks(house, person=None):
    return [(n.person, n.channels, n.lines[0], n.at) for n in house.post(person) if n.slot == "the week"]


def week_shed(*people, at=SUNDAY, weekly=None, store=None):
    """Everything well since an hour before."""
    house = shed(*(people or (READER,)), at=at, store=store)
    house.restart(replace(house.rules, weekly=MAIL if weekly is None else weekly))
    return house


def told_at(house):
    return [f"{datetime.fromtimestamp(at / 1000, UTC):%a %H:%M}" for _, _, _, at in weeks(house)]


def test_it_is_told_on_monday_at_the_persons_morning_on_that_channel_alone():
    house = week_shed().until("06:45").until("07:00").until("12:00")
    assert [
        ("ana", ("mail",), "Orchard shed: the week of 23 to 29 November 2026.", ms("2026-11-30T07:00"))
    ] == weeks(house)
    assert "`vermistat week --of 2026-11-23` shows it again." in house.post()[0].lines


def test_it_is_told_once_a_week_over_a_restart_of_the_daemon():
    house = week_shed().until("07:00")
    house.restart()
    house.until("12:00").until("2026-12-06T22:00")
    house.restart()
    house.until("2026-12-07T12:00")
    assert ["Mon 07:00", "Mon 07:00"] == told_at(house)
    assert ["23 to 29 November", "30 November to 6 December"] == [
        title.partition("the week of ")[2].removesuffix(" 2026.") for _, _, title, _ in weeks(house)
    ]


def test_a_channel_that_tells_no_week_gets_none_and_nobody_does_without_one():
    assert [] == weeks(week_shed(replace(ANA, channels=("phone",))).until("12:00").until("12:00"))
    assert [] == weeks(week_shed(weekly={}).until("12:00").until("12:00"))


def test_a_day_and_hour_of_their_own_are_kept():
    own = {"mail": Weekly(2, time(18, 30))}
    house = week_shed(weekly=own).until("2026-12-02T18:15").until("18:30").until("20:00")
    assert ["Wed 18:30"] == told_at(house)
    assert "23 to 29 November" in weeks(house)[0][2]


def test_two_channels_with_one_hour_are_one_notice_and_with_two_hours_two():
    both = week_shed(weekly={"mail": Weekly(), "phone": Weekly(0, time(7))}).until("12:00").until("12:00")
    assert [("phone", "mail")] == [channels for _, channels, _, _ in weeks(both)]
    apart = week_shed(weekly={"mail": Weekly(), "phone": Weekly(0, time(9))}).until("12:00").until("12:00")
    assert [("mail",), ("phone",)] == [channels for _, channels, _, _ in weeks(apart)]


def test_one_that_was_missed_is_told_within_a_day_and_never_by_night():
    house = week_shed().until("23:00")
    house.at = ms("2026-11-30T23:30")  # the daemon was down all Monday
    house.restart()
    house.until("2026-12-01T06:45")
    assert [] == weeks(house)
    house.until("07:00").until("12:00")
    assert ["Tue 07:00"] == told_at(house)


def test_one_that_was_missed_for_longer_is_told_no_more_and_the_next_one_is():
    house = week_shed().until("23:00")
    house.at = ms("2026-12-01T10:00")
    house.restart()
    house.until("2026-12-03T12:00")
    assert [] == weeks(house)
    house.until("2026-12-07T12:00")
    assert ["Mon 07:00"] == told_at(house)


def test_a_week_without_any_reading_is_told_to_nobody():
    house = week_shed(at="2026-11-20T12:00")
    house.at = ms("2026-11-30T06:59")  # the daemon, or all probes, were away for the whole of it
    house.restart()
    house.until("12:00").until("2026-12-01T12:00")
    assert [] == weeks(house)
    house.until("2026-12-07T12:00")
    assert ["Mon 07:00"] == told_at(house)


def test_a_single_reading_in_a_week_is_enough():
    house = week_shed(at="2026-11-24T12:00")
    house.at = ms("2026-11-30T06:59")
    house.restart()
    house.until("12:00")
    assert ["Mon 07:14"] == told_at(house)


def test_whoever_is_away_is_not_bothered_and_is_told_if_they_are_back_in_time():
    whole = replace(READER, away=((date(2026, 11, 28), date(2026, 12, 2)),))
    house = week_shed(whole, BEN).until("2026-12-04T12:00")
    assert {"ben"} == {who for who, _, _, _ in weeks(house)}
    back = replace(READER, away=((date(2026, 11, 28), date(2026, 11, 30)),))
    house = week_shed(back, BEN).until("2026-12-01T12:00")
    assert [("ben", ms("2026-11-30T08:00")), ("ana", ms("2026-12-01T07:00"))] == [
        (who, at) for who, _, _, at in weeks(house)
    ]


def test_whoever_begins_in_the_middle_of_a_week_waits_for_its_monday():
    house = week_shed(at="2026-11-25T12:00").until("2026-11-29T12:00")
    assert [] == weeks(house)
    assert ["Mon 07:00"] == told_at(house.until("2026-11-30T12:00"))


def test_a_round_that_could_not_be_stored_tells_it_again():
    house = week_shed().until("06:45")
    house.later(15)
    kept, house.store.commit = house.store.commit, refuses
    house.say(**{p.replace("-", "_"): 24.0 for p in house.probes})
    house.store.commit = kept
    assert [] == weeks(house)
    assert ["Mon 07:15"] == told_at(house.until("12:00"))


def refuses(_round):
    from monitor.errors import StoreBusy

    raise StoreBusy("locked")


@pytest.mark.parametrize(
    ("first", "hours"),
    [(date(2026, 3, 23), 167), (date(2026, 10, 19), 169), (date(2026, 11, 23), 168)],
)
def test_a_week_is_as_long_as_the_clocks_make_it(first, hours):
    """In Lisbon the clocks change on 29 March and 25 October 2026 (Directive 2000/84/EC, last Sundays [memory])."""
    edges = seven_days(first, "Europe/Lisbon")
    assert hours * HOUR == edges[-1] - edges[0]
    assert first == week_before(edges[-1], "Europe/Lisbon")
    assert first != week_before(edges[-1] - 1, "Europe/Lisbon")


@pytest.mark.parametrize("monday", ["2026-03-30T06:00", "2026-10-26T07:00"])
def test_on_the_mornings_after_both_clock_changes_it_comes_at_seven_by_the_wall(monday):
    rules = replace(orchard.rules(people=(READER,)), weekly=MAIL)
    at = ms(monday)
    assert [at] == [one.at for one in due(rules, {}, at)]
    assert [at] == [one.at for one in due(rules, {"ana": at - 7 * DAY}, at)]
    assert [] == list(due(rules, {"ana": at}, at + HOUR))
    assert [at] == list(next_moments(rules, at - 1))
    assert [at] == list(next_moments(rules, at - 7 * DAY + 2 * HOUR))


def test_a_clock_moved_by_hand_stops_at_it():
    house = week_shed(replace(READER, evening=None, up=None), at="2026-11-29T22:00")
    stops, after = [], house.at
    while after < ms("2026-11-30T08:00"):
        after = next_deadline(house.rounds.stands, house.rounds._book, after=after, before=after + DAY)
        stops.append(after)
    assert ms("2026-11-30T07:30") in stops
