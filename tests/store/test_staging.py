"""Moving is invisible: the same answers before and after, whatever came late, twice or out of order."""

import sqlite3
import threading

import pytest

from monitor.readings import DAY, HOUR, MINUTE
from monitor.store import sqlite_keep
from monitor.store.promises import Kept
from monitor.store.sqlite import SqliteStore
from parts.kept import T0, batch, moved_often, numbered, reading


@pytest.fixture
def path(tmp_path):
    return tmp_path / "kept.db"


def rows(path):
    """(in `arrived`, in `reading`)"""
    file = sqlite3.connect(path)
    try:
        return file.execute("SELECT (SELECT count(*) FROM arrived), (SELECT count(*) FROM reading)").fetchone()
    finally:
        file.close()


def test_a_batch_is_put_at_the_end_and_moved_when_enough_lies_there(path, monkeypatch):
    monkeypatch.setattr(sqlite_keep, "STAGED", 10)
    monkeypatch.setattr(sqlite_keep, "STAGED_A_PROBE", 0)
    store = SqliteStore(path)
    for number, expected in enumerate([(4, 0), (8, 0), (0, 12), (4, 12)]):
        store.keep(batch(*(reading(minute=number * 4 + n) for n in range(4))))
        assert expected == rows(path)
    store.close()


def test_many_probes_wait_until_a_move_is_worth_a_page_for_each(path, monkeypatch):
    monkeypatch.setattr(sqlite_keep, "STAGED", 10)
    monkeypatch.setattr(sqlite_keep, "STAGED_A_PROBE", 4)
    store = SqliteStore(path)
    for minute in range(3):
        store.keep(batch(*(reading(f"p{n}", minute) for n in range(6))))
        assert ((minute + 1) * 6, 0) == rows(path)
    store.keep(batch(*(reading(f"p{n}", 3) for n in range(6))))
    assert (0, 24) == rows(path)
    store.close()


def answers(store, end=T0 + DAY):
    return (
        *(store.after(0), store.after(7), store.after(7, 5), store.window("fig-west", T0, end)),
        *(store.latest("fig-west", 9), store.latest("fig-west", 9, 8)),
        *(store.unchanged_since("fig-west"), store.unchanged_since("fig-west", 9)),
        *(store.buckets("fig-west", T0 - DAY, end, HOUR), store.counted(), store.last_arrival()),
    )


def test_every_answer_is_the_same_before_and_after_moving(path):
    store = SqliteStore(path)
    for minutes in ([9, 3, 5], [4], [-700, 10, 11], [2, 12, 6], [13]):
        store.keep(batch(*(reading(minute=m, value=m // 5) for m in minutes), reading("fig-east", minutes[0])))
    before = answers(store)
    store._write(sqlite_keep.move)
    store.close()
    assert (0, 16) == rows(path)
    again = SqliteStore(path)
    assert before == answers(again)
    assert Kept(0, 1, 1, 16) == again.keep(batch(reading(minute=3, value=0), reading(minute=-700, value=0)))
    again.close()


@pytest.fixture
def often(path, monkeypatch):
    moved_often(monkeypatch)
    store = SqliteStore(path)
    yield store
    store.close()


def test_a_late_reading_beside_moved_ones_is_found_everywhere(often):
    often.keep(batch(*(reading(minute=n, value=n) for n in range(0, 40, 2))))
    often.keep(batch(reading(minute=11, value=11)))
    assert 11.0 in [r.value for r in often.window("fig-west", T0, T0 + DAY)]
    assert [36.0, 38.0] == [r.value for r in often.latest("fig-west", 2)]
    assert [21] == [r.arrival for r in often.after(20)]


def test_a_probe_whose_clock_is_in_the_last_century_is_found_by_arrival(often):
    old = reading("fig-east", -50 * 365 * 24 * 60, own_time=True)
    given = [reading(minute=1), old, reading(minute=2), reading("plum-near", 3), reading(minute=4)]
    for one in given:
        often.keep(batch(one))
    for arrival in range(6):
        assert numbered(given)[arrival:] == often.after(arrival)


def test_moved_readings_of_many_moves_come_back_in_order_of_arrival(often):
    given = [reading(f"p{n % 5}", (n * 37) % 101, n) for n in range(100)]
    for first in range(0, 100, 3):
        often.keep(batch(*given[first : first + 3]))
    for arrival in range(0, 100, 9):
        assert numbered(given)[arrival:] == often.after(arrival)
        assert numbered(given)[arrival : arrival + 7] == often.after(arrival, limit=7)


def test_a_move_that_cannot_be_written_leaves_everything_where_it_was(path, monkeypatch):
    store = SqliteStore(path)
    store.keep(batch(*(reading(minute=n) for n in range(20))))
    before = answers(store)
    moved_often(monkeypatch)
    store._on_writer(
        lambda file: file.execute(
            "CREATE TEMP TRIGGER no BEFORE DELETE ON arrived BEGIN SELECT RAISE(ABORT, 'no'); END"
        )
    )
    with pytest.raises(Exception, match="no"):
        store.keep(batch(reading(minute=99)))
    assert before == answers(store)
    assert (20, 0) == rows(path)
    store._on_writer(lambda file: file.execute("DROP TRIGGER no"))
    assert Kept(1, 0, 0, 21) == store.keep(batch(reading(minute=99)))
    assert (0, 21) == rows(path)
    assert T0 + 99 * MINUTE == store.latest("fig-west")[0].at
    store.close()


def test_a_week_is_a_short_look_whatever_the_number_of_other_probes(path):
    store = SqliteStore(path)
    file = sqlite3.connect(path)
    plan = " ".join(
        row[3]
        for row in file.execute(
            "EXPLAIN QUERY PLAN SELECT arrival, probe, at, value, meta FROM reading"
            " WHERE probe = (SELECT number FROM probe WHERE name = 'fig') AND at >= 1 AND at < 2 ORDER BY at"
        )
    )
    file.close()
    assert "SEARCH reading USING PRIMARY KEY (probe=? AND at>? AND at<?)" in plan
    assert "TEMP B-TREE" not in plan
    store.close()


class MovesBehindTheReader:
    """Stands in for the lock: as soon as a reader has seen what is not moved, everything is moved."""

    def __init__(self, store):
        self._store, self._lock, self._reader = store, store._tails_lock, threading.current_thread()
        self.moved = False

    def __enter__(self):
        self._lock.acquire()

    def __exit__(self, *_):
        self._lock.release()
        if threading.current_thread() is self._reader and not self.moved:
            self.moved = True
            self._store.keep(batch(reading("plum-near", 77)))


@pytest.mark.parametrize(
    "look",
    [
        lambda s: s.window("fig-west", T0, T0 + DAY),
        lambda s: s.latest("fig-west", 3),
        lambda s: s.buckets("fig-west", T0, T0 + DAY, HOUR),
        lambda s: s.unchanged_since("fig-west"),
    ],
    ids=["window", "latest", "buckets", "unchanged_since"],
)
def test_what_is_moved_between_two_looks_of_a_reader_is_seen_once(path, monkeypatch, look):
    store = SqliteStore(path)
    store.keep(batch(*(reading(minute=n, value=20) for n in range(8))))
    before = look(store)
    moved_often(monkeypatch)
    store._tails_lock = MovesBehindTheReader(store)
    assert before == look(store)
    assert store._tails_lock.moved
    assert (0, 9) == rows(path)
    store.close()
