"""A file of every schema there ever was, kept by the program of its time, is brought up, read and gone on with.

`fixtures/store/lived-N.sql` is a cold morning as the program with N steps kept it, `lived-N.json` what that program itself read
out of it. No program had two steps: that file is the one of three without what the third step made.
"""

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from monitor.rules import Level
from monitor.store import migrations
from monitor.store.copying import copy, look_into
from monitor.store.migrations import STEPS
from monitor.store.sqlite import SqliteStore
from parts import orchard
from parts.house import House
from parts.lived_store import facts, hours, lived
from store.test_migrations import newest, schema

FIXTURES = Path(__file__).parents[2] / "fixtures" / "store"
LIVED = {n: FIXTURES / f"lived-{n}.sql" for n in range(3, len(STEPS) + 1)}


def laid_out(number, folder):
    path = folder / "kept.db"
    with closing(sqlite3.connect(path)) as file:
        if number == 2:
            file.executescript(LIVED[3].read_text())
            file.executescript("DROP TABLE post; DROP TABLE notice; DROP TABLE request")
            file.executescript("DELETE FROM migration WHERE number = 3; PRAGMA user_version = 2")
        else:
            file.executescript((LIVED[number] if number > 1 else FIXTURES / "version-1.sql").read_text())
    return path


def told_then(number):
    told = json.loads(LIVED[max(number, 3)].with_suffix(".json").read_text())
    if number == 2:
        told |= {"notices": [], "asked": []}
    return told


@pytest.fixture(params=range(1, len(STEPS) + 1))
def number(request):
    return request.param


def test_the_file_is_what_the_steps_of_its_time_make(number, tmp_path):
    path = laid_out(number, tmp_path)
    with closing(sqlite3.connect(tmp_path / "today.db", isolation_level=None)) as file:
        for step, work in enumerate(STEPS[:number], 1):
            migrations._take(file, step, work, 0)
    assert schema(tmp_path / "today.db") == schema(path)


def test_everything_that_its_own_program_read_is_read_after_it_was_brought_up(number, tmp_path):
    path = laid_out(number, tmp_path)
    with closing(SqliteStore(path)) as store:
        found = json.loads(json.dumps(facts(store)))
    assert newest(tmp_path) == schema(path)
    if number == 1:
        assert [["fig-west", 20.5]] == [row[:2] for row in found["undated"]]
        assert 6 == len(found["readings"]["fig-west"])  # held in full in test_migrations
        return
    told = told_then(number)
    if number >= 8:
        assert [list(row) for row in hours(path)] == told["hours"]
        assert told["hours"]
    assert found == {key: value for key, value in told.items() if key != "hours"}


def test_the_rounds_of_today_go_on_with_it(number, tmp_path):
    with closing(SqliteStore(laid_out(number, tmp_path))) as store:
        house = House(store=store, at=orchard.ms("11:00"))
        before = house.standing()
        report = house.later(15).say(fig_west=12.5, fig_east=12.25, fig_mat=24.0, plum_near=18.0)
        assert ({}, True) == (dict(report.failed), report.stored)
        assert [] == store.asked()
        house.through(6 * 60, fig_west=24.0, fig_east=24.0, fig_mat=24.0, plum_near=18.0)
        after = house.standing()
        if number > 1:
            assert Level.HARM == before["fig", "cold"].level
            assert 1 == before["fig", "cold"].number
            assert ("fig", "cold", "returned") in house.steps("cold")
            assert ("fig", "cold") not in after
        numbers = [alarm.number for alarm in after.values()]
        assert len(numbers) == len(set(numbers))
        house.restart()
        assert after == house.standing()


def test_a_backup_of_it_can_be_made_and_looked_into_before_it_is_brought_up(number, tmp_path):
    path = laid_out(number, tmp_path)
    copy(path, tmp_path / "copy.db")
    assert number == look_into(tmp_path / "copy.db").version
    with closing(SqliteStore(tmp_path / "copy.db")) as store:
        from_the_copy = facts(store)
    with closing(SqliteStore(path)) as store:
        assert facts(store) == from_the_copy


def test_there_is_a_file_of_the_schema_of_today_and_it_is_what_this_program_makes(tmp_path):
    """Whoever adds a step runs tests/parts/lived_store.py."""
    assert all(file.exists() for file in LIVED.values())
    with closing(lived(tmp_path / "today.db")) as store:
        made = json.loads(json.dumps(facts(store)))
    told = told_then(len(STEPS))
    assert made["readings"] == told["readings"]
    assert made.keys() | {"hours"} == told.keys()
