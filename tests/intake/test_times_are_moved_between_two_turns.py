"""What the pump does while the clock is put right, and how readings are trusted that are ahead of an unsure clock."""

import threading
from dataclasses import replace

import pytest

from intake.probes import probe
from intake.test_pump import NOW, PLAIN, Site
from monitor.checks.memory import from_history, remember
from monitor.errors import StoreError, StoreFull
from monitor.intake.quality import Trust, judged_anew
from monitor.readings import HOUR, MINUTE, Quality, Reading

BY = 3 * HOUR
BED = probe("bed")


def errand(site, work):
    """`between` without a second thread: hand it over, let the pump take its turn, read the answer."""
    found = []

    def call():
        try:
            site.pump.between(work, 30)
        except StoreError as error:
            found.append(error)

    caller = threading.Thread(target=call)
    caller.start()
    while caller.is_alive():
        site.turns()
        caller.join(0.01)
    return found


@pytest.mark.parametrize("by", [BY, -BY])
def test_what_was_received_before_is_kept_and_what_lay_in_the_inbox_is_moved(by):
    site = Site()
    site.came(site.delivery(20.0))
    kept = []

    def work():
        kept.append(site.store.counted())
        site.came(site.delivery(21.0, received_at=NOW + 5), site.delivery(22.0, received_at=NOW + by + 6))
        return (by, NOW + 5), Trust()

    assert [] == errand(site, work)
    site.came(site.delivery(23.0, received_at=NOW + by + MINUTE)).flush()
    assert [1] == kept
    expected = [(0, 20.0), (by + 5, 21.0), (by + 6, 22.0), (by + MINUTE, 23.0)]
    assert sorted(expected) == [(at, value) for at, value, _ in site.readings()]


def test_work_that_moves_nothing_changes_nothing():
    site = Site()
    trust = site.pump._trust
    assert [] == errand(site, lambda: None)
    site.came(site.delivery(20.0)).flush()
    assert ([(0, 20.0, "GOOD")], trust) == (site.readings(), site.pump._trust)


def test_afterwards_the_probes_are_known_as_they_lie_now():
    site = Site()
    site.came(site.delivery(20.0)).flush()
    fresh = Trust()
    fresh.prime("p", [Reading("p", NOW + BY, 20.0, NOW + BY)])
    errand(site, lambda: ((BY, NOW), fresh))
    site.came(site.delivery(40.0, received_at=NOW + BY + MINUTE)).flush()
    assert (BY + MINUTE, 40.0, "JUMP") == site.readings()[-1]


def test_nothing_is_moved_while_the_store_does_not_take_what_is_in_hand():
    site = Site()
    site.fails = StoreFull("the disk is full")
    site.came(site.delivery(20.0))
    (error,) = errand(site, lambda: pytest.fail("it must not be done"))
    assert "disk is full" in str(error)
    site.fails = None
    assert site.flush().ok
    assert [(0, 20.0, "GOOD")] == site.readings()


def test_what_the_work_raises_is_told_to_whoever_asked_for_it():
    site = Site()

    def breaks():
        raise StoreFull("no room to move anything")

    (error,) = errand(site, breaks)
    assert "no room" in str(error)
    site.came(site.delivery(20.0)).flush()
    assert [(0, 20.0, "GOOD")] == site.readings()


def test_a_pump_that_never_comes_to_it_is_not_waited_for():
    with pytest.raises(StoreError):
        Site().pump.between(lambda: None, 0.01)


# Ahead of a clock that cannot be right


def judge(trust, value, ahead, *, unsure=True, at=NOW):
    return trust.judge(BED, value, at=at + ahead, received_at=at, unsure=unsure)


@pytest.mark.parametrize("ahead", [1, MINUTE, 3 * HOUR, 400 * 24 * HOUR])
def test_whoever_is_ahead_of_an_unsure_clock_is_believed_as_of_now(ahead):
    assert Quality.EARLY is judge(Trust(), 20.0, ahead)
    assert Quality.EARLY.trusted


@pytest.mark.parametrize("ahead", [0, -MINUTE])
def test_whoever_is_not_ahead_is_judged_as_ever(ahead):
    assert Quality.GOOD is judge(Trust(), 20.0, ahead)
    assert Quality.GOOD is judge(Trust(), 20.0, ahead, unsure=False)


def test_a_known_clock_takes_nobody_from_the_future():
    assert Quality.AHEAD is judge(Trust(), 20.0, HOUR, unsure=False)


@pytest.mark.parametrize("value", [-127.0, 85.0, 900.0])
def test_an_impossible_value_is_not_believed_for_being_ahead(value):
    assert Quality.AHEAD is judge(Trust(), value, HOUR)


def test_a_jump_is_a_jump_by_our_own_time():
    trust = Trust()
    assert Quality.EARLY is judge(trust, 20.0, HOUR)
    assert Quality.AHEAD is judge(trust, 40.0, 100 * HOUR, at=NOW + MINUTE)


@pytest.mark.parametrize(
    ("received", "value", "expected"),
    [
        (NOW, 20.0, Quality.GOOD),
        (NOW - 10 * MINUTE, 20.0, Quality.GOOD),
        (NOW - 10 * MINUTE - 1, 20.0, Quality.AHEAD),
        (NOW + 2 * HOUR, 20.0, Quality.STALE),
        (NOW, -127.0, Quality.DISCONNECTED),
        (NOW, 900.0, Quality.OUT_OF_RANGE),
    ],
)
def test_judged_anew_when_it_is_known_when_it_came(received, value, expected):
    early = Reading("bed", NOW, value, received, Quality.AHEAD, own_time=True)
    assert expected is judged_anew(BED, early)


def test_several_of_one_message_speak_for_its_arrival_and_the_last_counts():
    message = [Reading("bed", NOW + HOUR + n, 20.0 + n, NOW, Quality.EARLY, own_time=True) for n in range(3)]
    memory = from_history(PLAIN, reversed(message))
    assert (NOW, 22.0, ()) == (memory.trusted_at, memory.value, memory.gaps)
    later = remember(memory, Reading("bed", NOW + HOUR - 5, 25.0, NOW + MINUTE, Quality.EARLY, own_time=True))
    assert (NOW + MINUTE, 25.0, (MINUTE,)) == (later.trusted_at, later.value, later.gaps)
    assert later is remember(later, replace(message[0], received_at=NOW + 1))
