"""A household of two and four bins through the demo's January: its whole post, against the budget, and without the rules."""

from collections import Counter
from itertools import pairwise

import pytest

from monitor.notify import evening, habit, plan
from monitor.notify.budget import A_DAY, counted, sentence
from monitor.notify.notices import Slot
from monitor.readings import DAY
from monitor.simulator.month import DAYS, START
from monitor.words import local
from parts.month import FastMonth

TZ = "Europe/Prague"


@pytest.fixture(scope="module")
def month():
    return FastMonth().live(DAYS)


def counts(lived, days=DAYS):
    return [counted(person, lived.post, days=days, tz=TZ) for person in lived.rules.people.values()]


def day(notice):
    return (notice.at - START) // DAY + 1


def test_the_budget_is_kept(month, record_property):
    for count in counts(month):
        print(sentence(count))
        record_property("post", sentence(count))
        assert count.kept, sentence(count)
        assert 2 >= max(count.a_day.values())
        assert count.mean <= A_DAY / 3


def test_who_is_away_is_told_nothing_and_who_stands_in_is_told_then(month):
    by_day = {person: {day(n) for n in month.post if n.person == person} for person in ("ana", "ben")}
    assert not by_day["ana"] & set(range(10, 19))
    assert by_day["ben"] <= {*range(9, 20), 21}


def test_the_mat_that_dies_is_told_in_the_evening_wakes_as_harm_and_goes_on_unanswered(month):
    found = [(local(n.at, TZ).strftime("%d %H:%M"), n.person, n.slot) for n in month.post if day(n) in (20, 21)]
    assert [
        ("20 21:30", "ana", Slot.EVENING),
        ("21 05:00", "ana", Slot.NIGHT),
        ("21 05:30", "ben", Slot.PASSED_ON),
    ] == found


def test_nobody_reads_the_same_first_line_on_two_days_running_unless_it_is_harm(month):
    for person in ("ana", "ben"):
        mine = [n for n in month.post if n.person == person]
        for one, other in pairwise(mine):
            if other.at - one.at < 2 * DAY and other.slot is not Slot.PASSED_ON:
                assert one.title != other.title


def test_what_goes_on_for_nights_is_said_once_a_week(month):
    weekly = [n for n in month.post if "This is said once a week, until something changes." in n.lines]
    assert 2 <= len(weekly) <= 4
    assert all(n.slot is Slot.EVENING for n in weekly)
    for person in ("ana", "ben"):
        times = [n.at for n in weekly if n.person == person]
        assert all(b - a >= 6 * DAY for a, b in pairwise(times))


def test_every_notice_keeps_its_form(month):
    for notice in month.post:
        assert len(notice.title) <= 90
        assert len(notice.lines) >= 2
        assert all(notice.lines)


def test_without_the_rules_the_same_month_breaks_the_budget(monkeypatch, month):
    """The control: everything is told when it happens, and again every night."""
    monkeypatch.setattr(habit, "LIKE_NIGHTS", 10**6)
    monkeypatch.setattr(plan, "_cannot_wait", lambda *_: True)
    monkeypatch.setattr(plan, "sleeping", lambda *_: False)
    monkeypatch.setattr(plan, "has_hours", lambda _: False)
    loud = FastMonth(answer=False).live(24)
    with_rules = sum(day(n) <= 24 for n in month.post)
    assert len(loud.post) > 1.5 * with_rules
    busiest = max(max(count.a_day.values()) for count in counts(loud, 24))
    assert busiest > max(max(count.a_day.values()) for count in counts(month))


def test_a_restart_in_every_night_changes_nothing_of_the_first_two_weeks(month):
    other = FastMonth()
    for _ in range(14):
        other.live(1)
        other.restart()
    assert [(n.at, n.person, n.lines) for n in month.post if day(n) <= 14] == [
        (n.at, n.person, n.lines) for n in other.post
    ]


def test_the_slots_are_as_they_are_named(month):
    slots = Counter(n.slot for n in month.post)
    assert slots[Slot.MORNING] + slots[Slot.EVENING] > slots[Slot.AT_ONCE]
    assert evening.LATE < DAY
