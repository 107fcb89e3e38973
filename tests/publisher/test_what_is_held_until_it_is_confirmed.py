"""The book of readings on their way, without any broker: a daemon of ten lines stands for the real one."""

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.intake.marks import Marks
from monitor.intake.payloads.numbered import Numbered
from monitor.publisher.held import AGAIN, BYTES, LONGEST, PACK, PATIENCE, UNANSWERED, Held

LIFE = "aa55aa55"


@pytest.fixture
def held():
    return Held(LIFE, at_most=BYTES * 1000)


def add(held, count, now=0.0, probe="fig"):
    for n in range(count):
        held.add(probe, 1_000 * n, n / 8, now=now)


def numbers(packs):
    return [[r.number for r in p.readings] for p in packs]


def test_readings_are_numbered_from_one_and_go_out_once_in_packs(held):
    add(held, 2 * PACK + 3)
    packs = held.packs(0.0, most=10)
    assert [list(range(1, PACK + 1)), list(range(PACK + 1, 2 * PACK + 1)), [201, 202, 203]] == numbers(packs)
    assert [1, 1, 1] == [p.oldest for p in packs]
    assert [] == held.packs(1.0, most=10)
    assert 2 * PACK + 3 == len(held)


def test_no_more_go_out_than_are_asked_for(held):
    add(held, 3 * PACK)
    assert 2 == len(held.packs(0.0, most=2))
    assert 1 == len(held.packs(0.0, most=2))
    assert [] == held.packs(0.0, most=0)


def test_a_mark_lets_go_of_what_is_on_disk_and_of_nothing_else(held):
    add(held, 10)
    held.packs(0.0, most=9)
    assert 7 == held.mark("fig", LIFE, through=7, heard=10, now=0.0)
    assert [8, 9, 10] == [r.number for _, r in held]


def test_a_gap_is_sent_again_but_what_has_just_been_sent_is_not(held):
    add(held, 10)
    held.packs(0.0, most=9)
    held.mark("fig", LIFE, through=3, heard=6, now=AGAIN - 1)
    assert [] == held.packs(AGAIN - 1, most=9)
    held.mark("fig", LIFE, through=3, heard=6, now=AGAIN)
    (again,) = held.packs(AGAIN, most=9)
    assert ([4, 5, 6], 4) == ([r.number for r in again.readings], again.oldest)


def test_what_is_confirmed_while_it_waits_to_be_sent_again_is_not_sent_again(held):
    add(held, 10)
    held.packs(0.0, most=9)
    held.mark("fig", LIFE, through=3, heard=6, now=AGAIN)
    held.mark("fig", LIFE, through=8, heard=8, now=AGAIN + 1)
    assert [] == held.packs(AGAIN + 2, most=9)
    assert [9, 10] == [r.number for _, r in held]


@pytest.mark.parametrize(
    ("probe", "life", "through", "heard"),
    [
        ("fig", "bb55bb55", 5, 5),
        ("plum", LIFE, 5, 5),
        ("fig", LIFE, 11, 11),
        ("fig", LIFE, 5, 11),
    ],
    ids=["another life", "another probe", "beyond what was sent", "heard of what was never sent"],
)
def test_a_mark_that_is_none_of_ours_changes_nothing(held, probe, life, through, heard):
    add(held, 10)
    held.packs(0.0, most=9)
    assert 0 == held.mark(probe, life, through=through, heard=heard, now=99.0)
    assert (10, False) == (len(held), held.marked)
    assert [] == held.packs(3.0, most=9)


def test_what_the_broker_has_not_confirmed_comes_again_on_a_new_connection_and_else_after_a_minute(held):
    add(held, 4)
    (pack,) = held.packs(0.0, most=9)
    held.connected()
    (again,) = held.packs(6.0, most=9)
    assert pack.readings == again.readings
    held.taken(again)
    held.connected()
    assert [] == held.packs(6.0 + 2 * UNANSWERED, most=9)
    add(held, 1, now=200.0)
    held.packs(200.0, most=9)
    assert [] == held.packs(200.0 + UNANSWERED - 1, most=9)
    assert [[5]] == numbers(held.packs(200.0 + UNANSWERED + 5, most=9))


def test_without_a_mark_for_long_the_oldest_come_again_ever_more_rarely(held):
    add(held, 3)
    for pack in held.packs(0.0, most=9):
        held.taken(pack)
    held.mark("fig", LIFE, through=1, heard=1, now=0.0)
    times, at = [], 0.0
    while len(times) < 5:
        at += 5.0
        for pack in held.packs(at, most=9):
            times.append(at)
            held.taken(pack)
    gaps = [b - a for a, b in zip([0.0, *times], times, strict=False)]
    assert [PATIENCE, 2 * PATIENCE, LONGEST, LONGEST, LONGEST] == gaps


def test_a_probe_that_was_never_answered_comes_again_where_another_was(held):
    add(held, 1, probe="plum")
    add(held, 2, probe="fig")
    for pack in held.packs(0.0, most=9):
        held.taken(pack)
    held.mark("plum", LIFE, through=1, heard=1, now=1.0)
    assert [] == held.packs(PATIENCE - 1, most=9)
    assert [("fig", [1, 2])] == [
        (p.probe, [r.number for r in p.readings]) for p in held.packs(PATIENCE + 4, most=9)
    ]


def test_a_probe_that_speaks_every_hour_sends_each_reading_once(held):
    for hour in range(5):
        at = 3600.0 * hour
        add(held, 1, now=at)
        (pack,) = held.packs(at, most=9)
        held.taken(pack)
        assert [] == held.packs(at + 50, most=9)
        held.mark("fig", LIFE, through=hour + 1, heard=hour + 1, now=at + 60)
    assert 0 == len(held)


def test_where_nobody_ever_confirmed_nothing_the_broker_has_is_sent_again(held):
    add(held, 3)
    for pack in held.packs(0.0, most=9):
        held.taken(pack)
    assert [] == held.packs(10 * LONGEST, most=9)


def test_the_oldest_of_the_probe_that_has_most_goes_when_there_is_no_more_room():
    held = Held(LIFE, at_most=BYTES * 10)
    add(held, 2, probe="plum")
    add(held, 12, probe="fig")
    assert (10, 4, 0) == (len(held), held.dropped, held.let_go)
    assert [5, 6, 7, 8, 9, 10, 11, 12] == [r.number for p, r in held if p == "fig"]
    assert [1, 2] == [r.number for p, r in held if p == "plum"]
    packs = held.packs(0.0, most=9)
    assert [("plum", 1, [1, 2]), ("fig", 5, list(range(5, 13)))] == [
        (p.probe, p.oldest, [r.number for r in p.readings]) for p in packs
    ]
    assert [] == held.packs(1.0, most=9)


def test_what_a_broker_has_and_no_daemon_ever_confirmed_is_let_go_without_counting_as_lost():
    held = Held(LIFE, at_most=BYTES * 10)
    add(held, 10)
    for pack in held.packs(0.0, most=9):
        held.taken(pack)
    add(held, 3)
    assert (0, 3) == (held.dropped, held.let_go)
    held.mark("fig", LIFE, through=3, heard=3, now=1.0)
    add(held, 1)
    assert (1, 3) == (held.dropped, held.let_go)


def test_what_could_not_be_handed_over_waits_again(held):
    add(held, 3)
    (pack,) = held.packs(0.0, most=9)
    held.refused(pack)
    assert [[1, 2, 3]] == numbers(held.packs(1.0, most=9))


def test_a_late_word_about_what_is_gone_is_no_harm(held):
    add(held, 3)
    (pack,) = held.packs(0.0, most=9)
    held.mark("fig", LIFE, through=3, heard=3, now=1.0)
    held.taken(pack)
    held.refused(pack)
    assert (0, []) == (len(held), held.packs(99.0, most=9))


class Daemon:
    """Stores by number, answers by marks; forgets everything but what it stored when it is restarted."""

    def __init__(self):
        self.stored = {}
        self.restart()

    def restart(self):
        self.marks = Marks(lambda: self.now, every=30.0, soon=5.0)
        self.now = 0.0

    def take(self, pack, now):
        self.now = now
        for r in pack.readings:
            self.stored.setdefault(r.at, r.value)
        first, last = pack.readings[0].number, pack.readings[-1].number
        return self.marks.kept([("t", Numbered(pack.probe, LIFE, first, last, pack.oldest))])


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32))
def test_whatever_is_lost_on_the_way_either_way_everything_arrives_in_the_end(seed):
    """The road loses messages and marks, the broker dies with what it took, the daemon is restarted; then all is well."""
    lot = random.Random(seed)
    held, daemon, now, count = Held(LIFE, at_most=BYTES * 10_000), Daemon(), 0.0, 0
    for step in range(400):
        now += 10.0
        bad = step < 250
        if step < 300:
            held.add("fig", 1000 * count, count / 8, now=now)
            count += 1
        if bad and lot.random() < 0.03:
            daemon.restart()
        if bad and lot.random() < 0.03:
            held.connected()
        for pack in held.packs(now, most=5):
            if lot.random() < 0.8:
                held.taken(pack)
            if bad and lot.random() < 0.3:
                continue  # the broker had it, and died
            for mark in daemon.take(pack, now):
                if not (bad and lot.random() < 0.3):
                    held.mark(mark.probe, mark.life, through=mark.through, heard=mark.heard, now=now)
        assert {r.at for _, r in held} | set(daemon.stored) == {1000 * n for n in range(count)}
    for _ in range(1500):
        if len(daemon.stored) == count:
            break
        now += 10.0
        for pack in held.packs(now, most=5):
            held.taken(pack)
            for mark in daemon.take(pack, now):
                held.mark(mark.probe, mark.life, through=mark.through, heard=mark.heard, now=now)
    assert count == len(daemon.stored)
    assert (0, 0) == (held.dropped, held.let_go)
