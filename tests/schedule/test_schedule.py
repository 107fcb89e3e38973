"""A round is due a period after the last by monotonic time, whatever the wall clock does."""

import threading
import time
from datetime import UTC, datetime, timedelta

import pytest

from monitor.clock import Patience
from monitor.schedule import JOB, PeriodFromNow, Schedule


@pytest.fixture
def made():
    schedules = []

    def make(round_, period=0.05, missed=lambda _s: None):
        schedule = Schedule(
            round_, period=period, patience=Patience(), beat=lambda: None, missed=missed, tolerated=period
        )
        schedules.append(schedule)
        return schedule

    yield make
    for schedule in schedules:
        schedule.stop()


def counted(wanted):
    reached, seen = threading.Event(), []

    def round_():
        seen.append(1)
        if len(seen) >= wanted:
            reached.set()

    return round_, reached, seen


def test_the_trigger_says_at_once_and_then_one_period_from_now():
    trigger, now = PeriodFromNow(timedelta(seconds=60)), datetime(2026, 1, 10, 3, tzinfo=UTC)
    assert now == trigger.get_next_fire_time(None, now)
    assert now + timedelta(seconds=60) == trigger.get_next_fire_time(now - timedelta(days=3650), now)


def test_rounds_follow_each_other(made):
    round_, reached, _ = counted(5)
    made(round_).start()
    assert reached.wait(10)


def test_a_wall_clock_that_went_back_an_hour_does_not_stop_the_rounds(made):
    """After such a step APScheduler believes the next run to be an hour away; the watcher brings it back."""
    first, again = threading.Event(), threading.Event()
    seen = []

    def round_():
        seen.append(1)
        (again if first.is_set() and len(seen) > stuck_at else threading.Event()).set()

    stuck_at = 1
    schedule = made(round_, period=0.2)
    schedule.start()
    while not seen:
        time.sleep(0.005)
    schedule._scheduler.modify_job(JOB, next_run_time=datetime.now(UTC) + timedelta(hours=1))
    stuck_at = len(seen)
    first.set()
    assert again.wait(10)


def test_without_the_watcher_the_step_back_does_stop_them(made):
    """The control of the test above: the protection taken away, the rounds stand still."""
    round_, reached, seen = counted(10**6)
    schedule = made(round_, period=0.1)
    schedule._watch = lambda: None
    schedule._watcher = threading.Thread(target=schedule._watch)
    schedule.start()
    while not seen:
        time.sleep(0.005)
    schedule._scheduler.modify_job(JOB, next_run_time=datetime.now(UTC) + timedelta(hours=1))
    time.sleep(0.05)
    stood = len(seen)
    assert not reached.wait(1.0)
    assert stood == len(seen)


def test_a_round_that_raises_is_followed_by_the_next(made, caplog):
    seen, reached = [], threading.Event()

    def round_():
        seen.append(1)
        if len(seen) == 3:
            reached.set()
        raise RuntimeError("one bad round")

    made(round_).start()
    assert reached.wait(10)
    assert "one bad round" in caplog.text


def test_a_round_that_takes_longer_than_two_periods_is_reported(made):
    told = threading.Event()
    made(lambda: time.sleep(0.4), period=0.1, missed=lambda _s: told.set()).start()
    assert told.wait(10)


def test_stopping_waits_for_the_running_round_and_begins_no_other(made):
    inside, finished = threading.Event(), []

    def round_():
        inside.set()
        time.sleep(0.2)
        finished.append(1)

    schedule = made(round_)
    schedule.start()
    assert inside.wait(10)
    schedule.stop()
    ended = len(finished)
    assert ended >= 1
    time.sleep(0.2)
    assert ended == len(finished)
