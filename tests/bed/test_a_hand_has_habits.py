"""A mat that is switched by hand: when, and at what warmth, somebody usually does it; and what is counted on."""

from dataclasses import replace

import pytest

from monitor.bed import habit as habits
from monitor.bed import kept
from monitor.bed.forecast import Learned, forecast
from monitor.bed.habit import FORGOTTEN, Habit, hand, took, usual
from monitor.bed.keeping import learned_of, written
from monitor.bed.plan import Hand, Plan, as_now, by_hand, rolled
from monitor.bed.room import AHEAD, Room
from monitor.bed.zone import Hour, begun
from monitor.readings import DAY, HOUR


def lived(switches, hours, *, warmth=lambda hour: 20.0, begin=None):
    """Hours from midnight on, UTC; `switches` says from which hour on it is on or off."""
    found, on = begin or Habit(), False
    for hour in range(hours):
        on = switches.get(hour, on)
        found = took(found, Hour((hour + 1) * HOUR, warmth(hour), warmth(hour), 8.0, float(on)))
    return found


EVENINGS = {20: True, 44: False, 68: True, 92: False}
"""At eight in the evening, of four days."""


def by_day(hour):
    """20 °C on the first day, and a degree less each day."""
    return 20.0 - hour // 24


def test_three_evenings_at_the_same_hour_are_a_habit():
    assert usual(lived({20: True, 44: False}, 60), 60 * HOUR) is None
    kept = lived({20: True, 44: False, 68: True}, 80)
    assert 20 == usual(kept, 80 * HOUR)


def test_an_hour_sooner_or_later_is_the_same_habit_and_any_hour_is_none():
    assert 20 == usual(lived({20: True, 45: False, 67: True, 92: False}, 100), 100 * HOUR)
    assert 0 == usual(lived({0: True, 23: False, 48: True, 73: False, 96: True}, 100), 100 * HOUR)
    assert usual(lived({20: True, 39: False, 55: True, 81: False}, 100), 100 * HOUR) is None


def test_it_is_switched_on_below_the_highest_and_off_above_the_lowest_it_was():
    kept = lived(EVENINGS, 100, warmth=by_day)
    assert ((20.0, 18.0), (19.0, 17.0)) == (kept.on_at, kept.off_at)
    assert Hand(16, 20.0, 17.0) == hand(kept, 100 * HOUR)
    assert Hand(0, 20.0, 17.0) == hand(kept, 116 * HOUR)


def test_what_was_left_alone_at_its_hour_is_no_warmth_to_switch_at_any_more():
    kept = lived(EVENINGS, 100, warmth=by_day)
    left = took(replace(kept, newest=116 * HOUR), Hour(117 * HOUR, 18.5, 18.4, 8.0, 0.0))
    assert (18.0,) == left.on_at
    other_hour = took(replace(kept, newest=117 * HOUR), Hour(118 * HOUR, 18.5, 18.4, 8.0, 0.0))
    assert kept.on_at == other_hour.on_at
    warm = took(replace(kept, newest=116 * HOUR, on=True), Hour(117 * HOUR, 18.5, 18.4, 8.0, 1.0))
    assert (19.0,) == warm.off_at


def test_a_mat_nobody_knows_of_a_silence_and_a_long_time_are_no_habit():
    assert Habit() == took(Habit(), Hour(HOUR, 20.0, 20.0, 8.0, None))
    kept = lived(EVENINGS, 100)
    silent = took(kept, Hour(117 * HOUR, 20.0, 20.0, 8.0, 1.0))
    assert (kept.hours, kept.on_at) == (silent.hours, silent.on_at)
    assert (True, 117 * HOUR) == (silent.on, silent.newest)
    assert 20 == usual(kept, kept.switched + FORGOTTEN)
    assert usual(kept, kept.switched + FORGOTTEN + HOUR) is None
    assert hand(kept, kept.switched + FORGOTTEN + HOUR) is None


def test_only_the_newest_switches_are_remembered():
    kept = lived({20 + 24 * day: day % 2 == 0 for day in range(30)}, 24 * 30, warmth=by_day)
    assert habits.HOURS_KEPT == len(kept.hours)
    assert (-2.0, -4.0, -6.0, -8.0) == kept.on_at
    assert (-3.0, -5.0, -7.0, -9.0) == kept.off_at


def test_a_hand_turns_at_its_hour_by_how_warm_it_is_then():
    """1 °C an hour down without the mat: 12 °C after 8 h, and from then on up again; each step by hand."""
    slow = (1e-9, 2.0, -1.0)
    path = rolled(slow, 20.0, [[0.0] * AHEAD], Plan(as_now(0.0).duties, hand=Hand(8, 12.5, 30.0)))[0]
    assert [0.0] * 8 + [1.0] * 16 == list(path.duties)
    assert pytest.approx([20.0 - h for h in range(1, 9)] + [12.0 + h for h in range(1, 17)], abs=1e-5) == list(
        path.warmth
    )
    left = rolled(slow, 20.0, [[0.0] * AHEAD], Plan(as_now(0.0).duties, hand=Hand(8, 11.5, 30.0)))[0]
    assert [0.0] * 24 == list(left.duties)
    off = rolled(slow, 20.0, [[0.0] * AHEAD], Plan(as_now(1.0).duties, hand=Hand(8, 12.5, 27.5)))[0]
    assert [1.0] * 8 + [0.0] * 16 == list(off.duties)


@pytest.fixture
def evening():
    """A zone of 20 °C in a room of 5 °C at noon, whose mat is usually switched on at eight below 18.5 °C, off above 21 °C."""
    noon = 10 * DAY + 12 * HOUR
    habit = Habit(noon, False, noon - DAY, (20,) * 4, (18.5,), (21.0,))
    return Learned(begun(0, watts=40), habit=habit), Room(noon, (5.0,)), noon


def told(case, plan, now=20.0):
    learned, room, at = case
    found, _ = forecast(learned, room, at=at, now_c=now, limits=(15.0, 25.0), plan=plan)
    return found


def test_a_night_is_expected_as_it_usually_goes_and_its_alarm_counts_on_nobody(evening):
    usually, stays = told(evening, by_hand(0.0)), told(evening, as_now(0.0))
    assert usually.paths[0].duties == (0.0,) * 8 + (1.0,) * 16
    assert usually.least[1].rolled > stays.least[1].rolled + 1
    assert stays.alarm[0] == usually.alarm[0]
    assert stays.below == usually.below or usually.below.likely is not None
    assert usually.hand == Hand(8, 18.5, 21.0)
    assert (stays.hand, stays.unhelped) == (None, None)


def test_an_alarm_of_heat_counts_on_nobody_either(evening):
    learned, _, at = evening
    warm = replace(learned, habit=replace(learned.habit, on=True)), Room(at, (21.0,)), at
    usually, stays = told(warm, by_hand(1.0)), told(warm, as_now(1.0))
    assert usually.paths[0].duties == (1.0,) * 8 + (0.0,) * 16
    assert usually.greatest[1].rolled < stays.greatest[1].rolled
    assert stays.alarm[1] == usually.alarm[1]
    assert stays.alarm[0] == usually.alarm[0]


def test_the_other_side_of_the_mat_goes_by_the_same_hours(evening):
    near = told(evening, by_hand(0.0))
    _, room, at = evening
    far, _ = forecast(Learned(begun(0, watts=40)), room, at=at, now_c=18.0, limits=(15.0, None), plan=near.duties)
    alone, _ = forecast(
        Learned(begun(0, watts=40)), room, at=at, now_c=18.0, limits=(15.0, None), plan=as_now(0.0)
    )
    assert near.paths[0].duties == far.paths[0].duties
    assert alone.alarm[0] == far.alarm[0]


def test_a_habit_is_kept_and_what_was_kept_before_there_were_any_has_none(evening):
    learned = evening[0]
    text = written(learned)
    assert learned == learned_of(text)
    before = text.replace(text[text.index(',"habit":') : text.rindex("}")], "")
    assert replace(learned, habit=Habit()) == learned_of(before)


def test_when_the_clock_was_off_the_last_switch_goes_with_its_hour_and_nothing_is_taken_for_following(evening):
    """Seven hours too early by that clock, from a day before noon on."""
    learned, _, noon = evening
    learned = replace(learned, past=replace(learned.past, newest=noon))
    begin = learned.habit.switched
    moved = learned_of(kept.bed_moved(written(learned), lambda at: at + 7 * HOUR, begin - 1)).habit
    assert (None, begin + 7 * HOUR) == (moved.newest, moved.switched)
    assert (learned.habit.hours, learned.habit.on_at) == (moved.hours, moved.on_at)
    after = took(moved, Hour(noon + 8 * HOUR, 18.0, 18.4, 8.0, 1.0))
    assert moved.hours == after.hours
