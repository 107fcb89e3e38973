"""The edges of the figures by which alarms are reviewed: what is just too few, just too short, just too long."""

from dataclasses import replace

import pytest

from monitor.alarms.benchmarks import ENOUGH, PLANT, PUBLISHED, SHARES, WORST_SHARE, Grade, Scale, graded
from monitor.alarms.review import KEEPER, Activation, activations, fleeting, most, rate, stale
from monitor.alarms.review import Delays as Both
from monitor.checks.findings import AlarmKey, Condition, Kind, Subject
from monitor.readings import DAY, HOUR, MINUTE, SECOND
from monitor.rules import Level
from parts.orchard import alarm

KEY = AlarmKey(Subject(Kind.BIN, "fig", "shed"), Condition.COLD)


def one(began, ended, *, seen=False):
    return Activation(KEY, 1, began, ended, Level.COMFORT, seen=seen)


@pytest.mark.parametrize("name", sorted(SHARES))
def test_a_share_of_too_few_is_not_graded(name):
    assert Grade.UNSURE is graded(name, 0.0, of=ENOUGH - 1)
    assert Grade.UNSURE is not graded(name, 0.0, of=ENOUGH)


def test_the_worst_alarms_share_may_be_as_large_as_published_and_no_larger():
    assert (Grade.GOOD, Grade.POOR) == (graded("frequent", WORST_SHARE), graded("frequent", WORST_SHARE + 0.001))


@pytest.mark.parametrize("name", ["busy", "flood", "stale"])
def test_what_must_be_less_must_be_less(name):
    limit = PUBLISHED[name].value
    assert (Grade.POOR, Grade.GOOD) == (graded(name, limit), graded(name, limit - 0.001))


def test_what_lasted_as_long_as_somebody_needs_was_not_fleeting():
    delays = lambda _key: Both(0, HOUR)  # noqa: E731
    edge = KEEPER.fleeting + HOUR  # the delay of its end does not count
    assert [] == fleeting([one(0, edge)], delays)
    short = one(0, edge - 1)
    assert [short] == fleeting([short], delays)
    assert [] == fleeting([replace(short, seen=True)], delays)
    assert [] == fleeting([one(0, None)], delays)


def test_what_stands_as_long_as_allowed_is_not_yet_stale():
    standing = one(0, None)
    assert ([], [standing]) == (stale([standing], KEEPER.stale), stale([standing], KEEPER.stale + 1))
    assert [] == stale([one(0, KEEPER.stale + 5)], KEEPER.stale + 5)


def test_a_plant_has_the_spans_as_printed():
    # EEMUA 191 and ISA-18.2 as the trade press quotes them: per ten minutes, three times in a minute, gone within
    # seconds (ten are taken), standing for more than 24 h [seen-2nd]
    assert Scale(600 * SECOND, 60 * SECOND, 10 * SECOND, 24 * HOUR) == PLANT
    assert (DAY, 120 * MINUTE) == (KEEPER.ten_minutes, KEEPER.chatter)


def test_two_that_lie_a_whole_span_apart_are_not_within_one():
    assert [1, 2] == [most([0, KEEPER.ten_minutes]), most([0, KEEPER.ten_minutes - 1])]


def test_over_no_time_there_is_no_rate():
    assert [0.0, 2.0] == [rate(3, 0), rate(4, 2 * KEEPER.ten_minutes)]


def test_what_stands_from_before_the_steps_is_there_once():
    standing = alarm(7, "fig", Condition.COLD)
    assert [(7, standing.raised_at, None)] == [(a.number, a.began, a.ended) for a in activations([], [standing])]
