"""That somebody is expected at the mat's switch is said, with the hour, and that no alarm counts on it."""

from monitor import words
from monitor.bed.forecast import Learned, forecast
from monitor.bed.habit import Habit
from monitor.bed.hours import Known
from monitor.bed.living import Bed, Drive, Told
from monitor.bed.plan import by_hand as stays
from monitor.bed.room import Room
from monitor.bed.zone import Hour, begun
from monitor.checks.ahead import by_hand
from monitor.readings import DAY, HOUR

NOON = 10 * DAY + 12 * HOUR


def said(duty, *, looks=20, warmth=20.0, air=5.0):
    habit = Habit(NOON, duty > 0.5, NOON - DAY, (looks,) * 4, (18.5,), (21.0,))
    learned, room, plan = Learned(begun(0, watts=40), habit=habit), Room(NOON, (air,)), stays(duty)
    found, learned = forecast(learned, room, at=NOON, now_c=warmth, plan=plan)
    hour = Hour(NOON, warmth, warmth, air, duty)
    told = Told(NOON, Bed(learned), room, hour, (None, None), Drive(duty, Known.DIARY, plan), found)
    return by_hand(told, lambda at: words.clock_time(at, "Europe/Lisbon", NOON))


def test_in_the_evening_it_is_switched_on():
    (line,) = said(0.0)
    assert "Its mat is expected to be switched on about 21:00, as it usually is; no alarm counts on that." == line


def test_in_this_very_hour_it_is_switched_off():
    (line,) = said(1.0, looks=12, warmth=23.0, air=20.0)
    assert "switched off about 13:00" in line


def test_nothing_is_said_where_nobody_is_expected():
    assert () == said(0.0, warmth=24.0, air=24.0)
