"""A full disk and a locked file are temporary: nothing was written, nothing is lost, and it goes on afterwards."""

import sqlite3
import threading
from contextlib import contextmanager

import pytest

from monitor.errors import StoreBroken, StoreBusy, StoreError, StoreFull
from monitor.store.sqlite import SqliteStore
from parts.kept import T0, alarm, batch, moved_often, notice, numbered, reading, round_, transition
from parts.loop_disk import fill, formatted, mounted


@pytest.fixture
def disk(tmp_path):
    with mounted(formatted(tmp_path / "disk", 2), tmp_path / "shed") as disk:
        yield disk


def many(number, count=200):
    return batch(*(reading(f"p{n % 8}", number * count + n, n) for n in range(count)))


def everything(store):
    return store.after(0), store.load(), store.notices(), store.transitions(limit=10**6), store.asked()


def until_full(write):
    for number in range(10_000):
        try:
            write(number)
        except StoreError as error:
            return number, error
    raise AssertionError("the disk never was full")


@pytest.mark.parametrize("staged", ["moved often", "moved seldom"])
def test_on_a_full_disk_a_batch_is_refused_whole_and_kept_when_there_is_room(disk, monkeypatch, staged):
    if staged == "moved often":
        moved_often(monkeypatch)
    store = SqliteStore(disk / "kept.db")
    store.keep(many(0))
    ballast = fill(disk)
    number, error = until_full(lambda n: store.keep(many(n + 1)))
    assert isinstance(error, StoreFull)
    assert error.temporary
    assert "make room" in str(error)
    before = everything(store)
    assert (number + 1) * 200 == len(before[0]) == store.last_arrival() == store.counted()
    for _ in range(3):
        with pytest.raises(StoreFull):
            store.keep(many(number + 1))
        assert before == everything(store)
    ballast.unlink()
    assert 200 == store.keep(many(number + 1)).new
    assert list(range(1, (number + 2) * 200 + 1)) == [r.arrival for r in store.after(0)]
    store.close()


def test_on_a_full_disk_a_round_is_refused_whole_and_kept_when_there_is_room(disk):
    store = SqliteStore(disk / "kept.db")

    def decided(number):
        steps = [transition(number)] * 30
        return round_(number, alarms=[alarm(number)], transitions=steps, notices=[notice(number)])

    store.commit(decided(1))
    ballast = fill(disk)
    number, error = until_full(lambda n: store.commit(decided(n + 2)))
    assert isinstance(error, StoreFull)
    before = everything(store)
    with pytest.raises(StoreFull):
        store.commit(decided(number + 2))
    assert before == everything(store)
    assert number + 1 == before[1].last_round.number == len(before[1].alarms)
    ballast.unlink()
    store.commit(decided(number + 2))
    assert number + 2 == store.load().last_round.number
    store.close()


def test_a_store_that_filled_the_disk_holds_everything_after_reopening(disk):
    store = SqliteStore(disk / "kept.db")
    ballast = fill(disk)
    until_full(lambda n: store.keep(many(n)))
    before = everything(store)
    store.close()
    ballast.unlink()
    store = SqliteStore(disk / "kept.db")
    assert before == everything(store)
    store.close()


def test_opening_on_a_full_disk_says_so_and_works_when_there_is_room(disk):
    ballast = fill(disk)
    with pytest.raises(StoreFull):
        SqliteStore(disk / "kept.db")
    ballast.unlink()
    store = SqliteStore(disk / "kept.db")
    assert 200 == store.keep(many(0)).new
    store.close()


@pytest.mark.parametrize("read_only", [False, True])
def test_opening_what_was_kept_on_a_full_disk_says_so_and_works_when_there_is_room(disk, read_only):
    store = SqliteStore(disk / "kept.db")
    store.keep(many(0))
    store.close()
    ballast = fill(disk)
    with pytest.raises(StoreFull, match="make room"):
        SqliteStore(disk / "kept.db", read_only=read_only)
    ballast.unlink()
    store = SqliteStore(disk / "kept.db", read_only=read_only)
    assert 200 == store.counted()
    store.close()


def test_a_file_that_may_not_grow_is_full(tmp_path):
    store = SqliteStore(tmp_path / "kept.db")
    store._on_writer(lambda file: file.execute("PRAGMA max_page_count = 60"))
    number, error = until_full(lambda n: store.keep(many(n)))
    assert isinstance(error, StoreFull)
    assert number * 200 == store.counted()
    store.close()


@contextmanager
def locked(path):
    """Another program writes and does not finish."""
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    try:
        yield
    finally:
        other.execute("ROLLBACK")
        other.close()


@pytest.fixture
def path(tmp_path):
    return tmp_path / "kept.db"


def test_a_locked_file_is_busy_nothing_is_kept_and_it_works_again_afterwards(path):
    store = SqliteStore(path, busy_ms=20)
    store.keep(batch(reading(minute=0)))
    with locked(path):
        for write in (
            lambda: store.keep(batch(reading(minute=1), reading("new"))),
            lambda: store.commit(round_(1)),
            lambda: store.ask(T0, "ana", "seen", 1),
        ):
            with pytest.raises(StoreBusy) as refusal:
                write()
            assert refusal.value.temporary
        assert numbered([reading(minute=0)]) == store.after(0) == store.latest("fig-west")
        assert [] == store.rounds() == store.asked()
    assert 2 == store.keep(batch(reading(minute=1), reading("new"))).new
    assert numbered([reading(minute=0), reading(minute=1), reading("new")]) == store.after(0)
    store.close()


def test_whoever_asks_from_outside_waits_its_turn(path):
    daemon = SqliteStore(path)
    outside = SqliteStore(path, read_only=True, busy_ms=20)
    with locked(path), pytest.raises(StoreBusy):
        outside.ask(T0, "ana", "seen", 1)
    assert 1 == outside.ask(T0, "ana", "seen", 1)
    outside.close()
    daemon.close()


def test_a_write_waits_for_a_lock_that_is_let_go_of(path):
    store = SqliteStore(path)
    other = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")
    later = threading.Timer(0.2, other.execute, ["ROLLBACK"])
    later.start()
    assert 1 == store.keep(batch(reading())).new
    later.join()
    other.close()
    store.close()


def test_a_locked_file_can_be_read(path):
    store = SqliteStore(path)
    store.keep(batch(reading()))
    outside = SqliteStore(path, read_only=True)
    with locked(path):
        assert numbered([reading()]) == outside.after(0) == store.after(0)
    outside.close()
    store.close()


def test_a_file_that_vanishes_under_us_is_an_error_of_ours(path):
    store = SqliteStore(path)
    store.keep(batch(reading()))
    path.unlink()
    with pytest.raises(StoreBroken):
        SqliteStore(path, read_only=True)
    store.close()
