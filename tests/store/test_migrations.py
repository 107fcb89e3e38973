"""From every file there ever was to the newest, whatever interrupts: nothing lost, nothing half done."""

import os
import signal
import sqlite3
from pathlib import Path

import pytest

from monitor.errors import StoreError
from monitor.notify.notices import Post, Posted
from monitor.readings import DAY, MINUTE, Quality
from monitor.store import migrations
from monitor.store.memory import MemoryStore
from monitor.store.promises import Delivered, Kept, Past, Request, RoundRow, Story
from monitor.store.sqlite import SqliteStore
from parts.forked import child
from parts.kept import (
    T0,
    advice,
    alarm,
    batch,
    decision,
    entry,
    notice,
    numbered,
    past,
    reading,
    refusal,
    round_,
    transition,
    undated,
    untold,
)

FIXTURES = Path(__file__).parents[2] / "fixtures" / "store"
LATER = T0 + DAY


def laid_out(path, name):
    file = sqlite3.connect(path)
    file.executescript((FIXTURES / name).read_text())
    file.close()
    return path


def schema(path):
    """Every table and index, and what was noted of the steps."""
    file = sqlite3.connect(path)
    try:
        shapes = file.execute("SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY name").fetchall()
        return shapes, file.execute("SELECT number, name FROM migration ORDER BY number").fetchall()
    finally:
        file.close()


def newest(folder):
    path = folder / "newest.db"
    SqliteStore(path).close()
    return schema(path)


def both_probes(minute):
    value = 20 + minute / 16
    quality = Quality.JUMP if minute == 3 else Quality.GOOD
    yield reading("fig-west", minute, value, quality=quality)
    late = T0 + minute * MINUTE + 340
    yield reading("fig-east", minute, value, quality=quality, received_at=late, own_time=True)


READINGS = numbered([r for minute in range(6) for r in both_probes(minute)])


def holds_version_1(store):
    assert READINGS == store.after(0)
    assert READINGS[1::2] == store.window("fig-east", 0, LATER)
    assert READINGS[-2:-1] == store.latest("fig-west")
    assert [(13, 20.5, T0)] == [(u.arrival, u.value, u.received_at) for u in store.undated()]
    assert [refusal(number=1), refusal(number=2)] == store.refusals()
    assert {("probes/fig-west", "not a number"): 2} == store.refusal_counts()
    assert {"fig-east": 3} == store.contradictions()
    assert [Delivered(7, 2**64 - 1), Delivered(8, 5)] == store.delivered()
    assert 12 == store.counted()


def test_a_version_1_file_is_brought_up_with_everything_in_it(tmp_path):
    path = laid_out(tmp_path / "kept.db", "version-1.sql")
    store = SqliteStore(path, now=LATER)
    holds_version_1(store)
    assert MemoryStore().load() == store.load()
    assert Kept(1, 1, 1, 15) == store.keep(
        batch(READINGS[0], reading(minute=1, value=99), reading(minute=9), undated=[undated()])
    )
    store.commit(round_(1, alarms=[alarm()], notices=[notice()]))
    assert alarm() == store.heard_of(1)
    store.close()
    assert newest(tmp_path) == schema(path)


def test_a_version_3_file_holds_what_was_decided(tmp_path):
    store = SqliteStore(laid_out(tmp_path / "kept.db", "version-3.sql"))
    holds_version_1(store)
    last = RoundRow(2, T0 + 2 * MINUTE, "1", 13)
    assert (
        Past(
            last_round=last,
            standing={("condition", "fig.west/cold"): "[1, 2]"},
            alarms=[alarm(1)],
            advice=[advice()],
            untold=[untold()],
            next_alarm=3,
            next_notice=2,
        )
        == store.load()
    )
    assert [RoundRow(1, T0 + MINUTE, "1", 13), last] == store.rounds()
    assert [transition(1), transition(2, who="ana")] == store.transitions()
    assert Story([transition(1)], [decision()]) == store.story(1)
    assert Story([transition(2, who="ana")], []) == store.story(2)
    assert [past()] == store.past_episodes()
    assert [decision()] == store.decisions(alarm=1)
    assert [entry()] == store.diary()
    assert [
        Post(notice(1), "phone", Posted.SENT, tries=1, sent_at=T0 + 5),
        Post(notice(1), "mail", tries=1, next_try=T0 + MINUTE, last_error="no route"),
    ] == store.notices()
    assert [Request(2, T0 + 1, "ben", "seen", 1)] == store.asked()
    store.close()


@pytest.mark.parametrize("name", ["version-1.sql", "version-3.sql"])
def test_a_step_that_was_released_is_never_changed(tmp_path, name):
    steps = int(name.removeprefix("version-").removesuffix(".sql"))
    file = sqlite3.connect(tmp_path / "today.db", isolation_level=None)
    for number, step in enumerate(migrations.STEPS[:steps], start=1):
        migrations._take(file, number, step, 0)
    file.close()
    assert schema(tmp_path / "today.db") == schema(laid_out(tmp_path / "then.db", name))


def test_each_step_is_recorded_with_the_time_handed_in(tmp_path):
    path = laid_out(tmp_path / "kept.db", "version-1.sql")
    SqliteStore(path, now=LATER).close()
    SqliteStore(path, now=LATER + DAY).close()
    file = sqlite3.connect(path)
    later = list(enumerate(migrations.STEPS[1:], start=2))
    recorded = file.execute("SELECT number, name, at FROM migration ORDER BY number").fetchall()
    file.close()
    assert [(1, "readings", T0), *((n, step.__name__, LATER) for n, step in later)] == recorded


def test_opening_a_file_that_is_up_to_date_writes_nothing(tmp_path):
    path = laid_out(tmp_path / "kept.db", "version-1.sql")
    SqliteStore(path).close()
    before = path.read_bytes()
    SqliteStore(path, now=LATER).close()
    assert before == path.read_bytes()


def test_a_step_that_fails_leaves_the_file_as_it_was(tmp_path, monkeypatch):
    path = laid_out(tmp_path / "kept.db", "version-1.sql")
    before = schema(path)

    def broken(file):
        file.execute("CREATE TABLE half (done INTEGER) STRICT")
        file.execute("INSERT INTO reading SELECT * FROM reading")

    monkeypatch.setattr(migrations, "STEPS", (migrations.readings, broken))
    with pytest.raises(StoreError, match="UNIQUE"):
        SqliteStore(path)
    assert before == schema(path)
    monkeypatch.undo()
    store = SqliteStore(path)
    holds_version_1(store)
    store.close()


def killed_before_statement(path, number):
    """Bring the file up in a child that is killed before its so-manieth statement; whether it got so far."""

    def work(say):
        file = sqlite3.connect(path, isolation_level=None)
        counted = [0]

        def count(_sql):
            counted[0] += 1
            if counted[0] == number:
                say("killed")
                os.kill(os.getpid(), signal.SIGKILL)

        file.set_trace_callback(count)
        migrations.bring_up_to_date(file, path)
        file.set_trace_callback(None)
        say("done")
        os.kill(os.getpid(), signal.SIGKILL)

    with child(work) as upgrade:
        return upgrade.lines.readline() == "killed\n"


@pytest.mark.parametrize("name", ["nothing", "version-1.sql"])
def test_killed_before_any_statement_the_next_opening_completes_and_nothing_is_lost(tmp_path, name):
    whole = newest(tmp_path)
    number = 0
    while True:
        number += 1
        folder = tmp_path / str(number)
        folder.mkdir()
        path = folder / "kept.db"
        if name != "nothing":
            laid_out(path, name)
        killed = killed_before_statement(path, number)
        store = SqliteStore(path)
        if name == "version-1.sql":
            holds_version_1(store)
        assert 1 == store.keep(batch(reading("plum-near"))).new
        store.close()
        assert whole == schema(path)
        if not killed:
            break
    assert number > 30
