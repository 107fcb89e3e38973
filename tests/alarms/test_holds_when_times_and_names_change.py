"""A shelf and a work go along when the clock turns out to have been off, and when what they lie over gets another id."""

from dataclasses import replace

import pytest

from monitor.alarms.cycle import Event
from monitor.alarms.holds import Shelf, Work, shelf_key, shelf_of, shelf_text, work_key, work_of, work_text
from monitor.checks.findings import Condition
from monitor.names import Names
from monitor.readings import HOUR
from monitor.rules import Level
from monitor.shifting import STANDING, Move, moved
from monitor.store.renaming import renamed, standing_key
from parts.orchard import alarm, ms, step

BY = Move(by=3 * HOUR, begin=ms("10:00"), now=ms("16:00"))
SHELF = Shelf(ms("11:00"), ms("15:00"), "ana", Level.HARM, 1)
WORK = Work("fig", ms("11:30"), ms("13:30"), "ben", spared=(1,))
COLD = replace(alarm(1, "fig", Condition.COLD, since="09:00"), shelf=SHELF, work=WORK)


def test_what_was_begun_by_the_wrong_clock_moves_with_its_end():
    after = moved(COLD, BY)
    assert (ms("14:00"), ms("18:00")) == (after.shelf.since, after.shelf.until)
    assert (ms("14:30"), ms("16:30")) == (after.work.since, after.work.until)


def test_what_was_begun_before_that_clock_does_not():
    early = replace(SHELF, since=ms("09:30"))
    assert early == moved(replace(COLD, shelf=early), BY).shelf


@pytest.mark.parametrize("since", ["09:30", "11:00"])
def test_what_stands_and_what_lies_over_an_alarm_move_alike(since):
    shelf, work = replace(SHELF, since=ms(since)), replace(WORK, since=ms(since))
    after = moved(replace(COLD, shelf=shelf, work=work), BY)
    assert after.shelf == shelf_of(STANDING["shelf"](shelf_text(shelf), BY, 0))
    assert after.work == work_of(work_key("fig"), STANDING["work"](work_text(work), BY, 0))


def test_so_does_the_end_that_a_step_names():
    row = step(COLD, Event.SHELVED, at="11:00", until=ms("15:00"))
    assert (ms("14:00"), ms("18:00")) == (moved(row, BY).at, moved(row, BY).until)
    assert moved(step(COLD, at="11:00"), BY).until is None


def test_a_bin_that_gets_another_id_takes_both_along():
    names = Names(bins={"fig": "pear"})
    after = renamed(COLD, names)
    assert ("pear", "pear", SHELF) == (after.key.subject.id, after.work.bed, after.shelf)
    assert shelf_key(after.key) == standing_key("shelf", shelf_key(COLD.key), names)
    assert work_key("pear") == standing_key("work", work_key("fig"), names)
    assert after.work == work_of(work_key("pear"), work_text(COLD.work))


def test_a_shelf_over_what_the_daemon_says_of_itself_is_called_as_before():
    key = shelf_key(alarm(1, "", Condition.BROKER_LOST).key)
    assert key == standing_key("shelf", key, Names(bins={"fig": "pear"}, places={"shed": "barn"}))
