"""What a file may be when it is opened, and who may have it."""

import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from monitor.errors import StoreBroken, StoreError, StoreNewer, StoreTaken
from monitor.store.sqlite import SqliteStore
from parts.forked import child
from parts.kept import T0, alarm, batch, notice, numbered, reading, round_
from parts.loop_disk import formatted, mounted


@pytest.fixture
def path(tmp_path):
    return tmp_path / "kept.db"


@pytest.fixture
def kept(path):
    """A closed store with 500 readings, half of them moved."""
    store = SqliteStore(path)
    for minute in range(0, 5000, 500):
        store.keep(batch(*(reading(f"p{n % 8}", minute + n, n % 40) for n in range(500))))
    store.commit(round_(1, alarms=[alarm()], notices=[notice()], upto=5000))
    store.close()
    return path


def held(path):
    def work(say):
        store = SqliteStore(path)
        store.keep(batch(reading()))
        say("held")
        os.read(os.pipe()[0], 1)

    return work


def refused(path, error, **how):
    """The refusal's words, after which the file is as it was and nobody's."""
    before = path.read_bytes()
    for _ in range(2):
        with pytest.raises(error) as refusal:
            SqliteStore(path, **how)
    assert before == path.read_bytes()
    return str(refusal.value)


def test_what_was_kept_is_there_after_reopening(path):
    store = SqliteStore(path)
    store.keep(batch(reading(minute=1), reading(minute=2)))
    before = store.after(0), store.load()
    store.close()
    again = SqliteStore(path)
    assert before == (again.after(0), again.load())
    again.close()


def test_numbers_go_on_after_reopening_also_when_their_rows_are_gone(path):
    store = SqliteStore(path)
    store.keep(batch(reading(minute=1), reading(minute=2)))
    store.commit(round_(1, upto=2, alarms=[alarm(8)], notices=[notice(4)]))
    store.close()
    with sqlite3.connect(path) as file:
        for table in ("arrived", "reading", "alarm", "transition", "notice", "post"):
            file.execute(f"DELETE FROM {table}")
    file.close()
    again = SqliteStore(path)
    assert 3 == again.keep(batch(reading(minute=3))).last_arrival
    assert (9, 5) == (again.load().next_alarm, again.load().next_notice)
    again.close()


def test_a_second_daemon_is_refused_while_the_first_lives(path):
    with child(held(path)) as first:
        assert "held\n" == first.lines.readline()
        with pytest.raises(StoreTaken, match="process"):
            SqliteStore(path)
        first.kill()
        second = SqliteStore(path)
        assert numbered([reading()]) == second.after(0)
        second.close()


def test_a_second_store_in_the_same_process_is_refused_too(path):
    first = SqliteStore(path)
    with pytest.raises(StoreTaken):
        SqliteStore(path)
    first.keep(batch(reading()))
    first.close()
    SqliteStore(path).close()


def test_another_way_to_the_same_file_meets_the_same_lock(path):
    first = SqliteStore(path)
    link = path.with_name("link.db")
    link.symlink_to(path)
    with pytest.raises(StoreTaken):
        SqliteStore(link)
    first.close()


def test_a_program_started_by_the_daemon_does_not_inherit_the_lock(path):
    first = SqliteStore(path)
    with subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE) as other:
        first.close()
        SqliteStore(path).close()
        other.communicate(b"\n")


def test_a_newer_file_is_refused_unchanged(kept):
    file = sqlite3.connect(kept)
    file.execute("PRAGMA user_version = 99")
    file.close()
    assert "newer" in refused(kept, StoreNewer)
    assert "newer" in refused(kept, StoreNewer, read_only=True)


@pytest.mark.parametrize("mark", ["a table", "an application id", "a version"])
@pytest.mark.parametrize("read_only", [False, True])
def test_a_database_of_something_else_is_refused_unchanged(path, mark, read_only):
    file = sqlite3.connect(path)
    file.execute({"a table": "CREATE TABLE song (title)"}.get(mark, "PRAGMA encoding = 'UTF-8'"))
    file.execute({"an application id": "PRAGMA application_id = 77"}.get(mark, "PRAGMA encoding"))
    file.execute({"a version": "PRAGMA user_version = 2"}.get(mark, "PRAGMA encoding"))
    file.commit()
    file.close()
    assert "something else" in refused(path, StoreBroken, read_only=read_only)


@pytest.mark.parametrize("read_only", [False, True])
def test_a_file_that_is_no_database_is_refused_unchanged(path, read_only):
    path.write_text("bins: {fig: {species: eudrilus-eugeniae}}\n" * 100)
    assert "begin a new one" in refused(path, StoreBroken, read_only=read_only)


def test_an_empty_file_becomes_a_store(path):
    path.touch()
    store = SqliteStore(path)
    assert 1 == store.keep(batch(reading())).new
    store.close()


def test_a_damaged_head_is_refused_with_what_to_do(kept):
    with kept.open("r+b") as file:
        file.write(b"\x00" * 60)
    assert "put the file aside" in refused(kept, StoreBroken)


def all_of(path):
    store = SqliteStore(path)
    try:
        return store.after(0), [store.window(f"p{n}", 0, T0 * 2) for n in range(8)], store.load(), store.notices()
    finally:
        store.close()


@pytest.mark.parametrize("table", ["arrived", "reading", "probe", "alarm", "notice", "round"])
def test_a_damaged_page_is_said_to_be_damaged(kept, table):
    with sqlite3.connect(kept) as file:
        (page,) = file.execute("SELECT rootpage FROM sqlite_schema WHERE name = ?", (table,)).fetchone()
    file.close()
    with kept.open("r+b") as raw:
        raw.seek((page - 1) * 1024)
        raw.write(b"\xa5" * 1024)
    with pytest.raises(StoreBroken, match="damaged"):
        all_of(kept)


def test_a_file_cut_short_is_said_to_be_damaged(kept):
    os.truncate(kept, kept.stat().st_size // 2048 * 1024)
    with pytest.raises(StoreBroken, match="damaged"):
        all_of(kept)


def test_a_document_that_cannot_be_read_is_said_to_be_broken(kept):
    with sqlite3.connect(kept) as file:
        file.execute("UPDATE alarm SET body = '{\"number\": 1}'")
    file.close()
    store = SqliteStore(kept)
    with pytest.raises(StoreBroken, match="Alarm"):
        store.load()
    store.close()


@pytest.mark.parametrize("read_only", [False, True])
def test_a_folder_that_is_not_there_is_said(tmp_path, read_only):
    with pytest.raises(StoreBroken, match="nowhere"):
        SqliteStore(tmp_path / "nowhere" / "kept.db", read_only=read_only)


@pytest.mark.parametrize("read_only", [False, True])
def test_a_folder_is_no_file(tmp_path, read_only):
    with pytest.raises(StoreBroken, match="cannot be opened"):
        SqliteStore(tmp_path, read_only=read_only)


def test_looking_makes_no_file(path):
    with pytest.raises(StoreBroken, match="not there"):
        SqliteStore(path, read_only=True)
    assert [] == list(path.parent.iterdir())


def test_looking_sees_what_the_living_daemon_keeps_and_is_never_in_its_way(path):
    daemon = SqliteStore(path)
    outside = SqliteStore(path, read_only=True)
    for number in range(1, 50):
        daemon.keep(batch(reading(minute=number)))
        daemon.commit(round_(number, upto=number))
        assert number == outside.counted() == outside.load().last_round.number
    outside.close()
    daemon.close()


def test_looking_sees_what_a_killed_daemon_left(path):
    with child(held(path)) as first:
        first.lines.readline()
    outside = SqliteStore(path, read_only=True)
    assert numbered([reading()]) == outside.after(0)
    outside.close()


def test_looking_changes_nothing_but_may_ask(kept):
    outside = SqliteStore(kept, read_only=True)
    before = outside.after(0), outside.load(), outside.notices()
    for change in (
        lambda: outside.keep(batch(reading(minute=9999))),
        lambda: outside.commit(round_(2)),
        lambda: outside.sent(1, "phone", T0),
        lambda: outside.failed(1, "phone", T0, "no"),
        lambda: outside.give_up(1, "phone", "no"),
    ):
        with pytest.raises(StoreError, match="reading only"):
            change()
    assert before == (outside.after(0), outside.load(), outside.notices())
    assert 1 == outside.ask(T0, "ana", "seen", 1)
    outside.close()


def test_what_is_asked_from_outside_reaches_the_daemon(path):
    daemon = SqliteStore(path)
    first, second = SqliteStore(path, read_only=True), SqliteStore(path, read_only=True)
    ids = [first.ask(T0, "ana", "seen", 1), second.ask(T0, "ben", "seen", 2), daemon.ask(T0, "page", "done", 3)]
    assert [1, 2, 3] == ids == [request.id for request in daemon.asked()] == [r.id for r in first.asked()]
    for store in (first, second, daemon):
        store.close()


def test_a_file_of_an_older_version_is_not_looked_into(path):
    from monitor.store import migrations

    file = sqlite3.connect(path, isolation_level=None)
    migrations._take(file, 1, migrations.readings, 0)
    file.close()
    with pytest.raises(StoreError, match="start the daemon once"):
        SqliteStore(path, read_only=True)


@pytest.mark.parametrize("left", ["closed", "killed"])
def test_on_a_card_that_turned_read_only_the_store_can_be_looked_into_but_not_run(tmp_path, left):
    image = formatted(tmp_path / "disk", 16)
    with mounted(image, tmp_path / "shed") as disk:
        if left == "closed":
            store = SqliteStore(disk / "kept.db")
            store.keep(batch(reading()))
            store.close()
        else:
            with child(held(disk / "kept.db")) as first:
                first.lines.readline()
    with mounted(image, tmp_path / "again", "ro") as disk:
        with pytest.raises(StoreBroken, match="cannot be opened"):
            SqliteStore(disk / "kept.db")
        outside = SqliteStore(disk / "kept.db", read_only=True)
        assert numbered([reading()]) == outside.after(0) == outside.latest("fig-west")
        with pytest.raises(StoreBroken):
            outside.ask(T0, "ana", "seen", 1)
        outside.close()


def test_the_store_reads_no_clock():
    for file in (Path(__file__).parents[2] / "monitor" / "store").glob("*.py"):
        words = file.read_text()
        for clock in ("time.time", "datetime", "CURRENT_TIME", "'now'", "monitor.clock", "unixepoch("):
            assert clock not in words, f"{file.name} reads the clock: {clock}"
