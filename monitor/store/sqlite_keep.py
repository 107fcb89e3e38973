"""Keeping readings in SQLite: a batch is put at the end of `arrived`, and `arrived` is moved into `reading` when
it is worth it.

The writer holds the store's lock, so it can remember what lies in `arrived`: the same reading twice is found
without an index, which every batch would have to write to once for each probe.
"""

from __future__ import annotations

import sqlite3
import threading
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from monitor.readings import HOUR, Beside, Millis, Refusal
from monitor.store.connections import Connections, transaction
from monitor.store.promises import Batch, Delivered, Kept
from monitor.store.rows import LARGEST, ROW, Row, meta_of, packed, steps_of
from monitor.store.staged import Staged

STAGED = 4096
"""Readings in `arrived` before they are moved; two to three moves a day at eight probes a minute."""
STAGED_A_PROBE = 64
"""With many probes: what fills a page for each of them, so that a move does not mostly write old rows again."""
STAGED_MOST = 131_072
"""However many probes; 4 MB of memory."""
REFUSALS = 1000
DELIVERED = 65_536
SLACK = 4096
"""Refusals and deliveries beyond what is promised are cleared away each time so many have come."""
NEVER = -LARGEST


@dataclass(slots=True)
class Tail:
    """What the writer knows of one probe: its number, a time above which nothing was moved, a time above which
    nothing is kept, and what still lies in `arrived`.
    """

    number: int
    moved: Millis = NEVER
    high: Millis = NEVER
    staged: Staged = field(default_factory=Staged)


@dataclass(slots=True)
class SortedOut:
    """A batch against what is kept, before anything is written."""

    last: int
    packed: bytes = b""
    born: dict[str, Tail] = field(default_factory=dict)
    fresh: dict[tuple[int, Millis], Row] = field(default_factory=dict)
    undated: list[tuple[int, int, int, Millis]] = field(default_factory=list)
    same: int = 0
    other: Counter[int] = field(default_factory=Counter)


class SqliteKeeping(Connections):
    """The writing half of `promises.Readings` in SQLite."""

    def __init__(self, path: str | Path, *, read_only: bool = False, now: Millis = 0, busy_ms: int = 5000) -> None:
        """As `Connections`."""
        super().__init__(path, read_only=read_only, now=now, busy_ms=busy_ms)
        self._tails: dict[str, Tail] = {}
        self._numbered: dict[int, Tail] = {}
        self._tails_lock = threading.Lock()
        self._staged = self._last = 0
        if not read_only:
            try:
                self._on_writer(self._recall)
            except BaseException:
                self.close()
                raise

    def _recall(self, file: sqlite3.Connection) -> None:
        """What the writer has to know, from the file."""
        newest = "SELECT name, number, (SELECT max(at) FROM reading WHERE probe = number) FROM probe"
        for name, number, at in file.execute(newest):
            self._tails[name] = self._numbered[number] = Tail(number, NEVER if at is None else at)
        self._stage(file.execute(f"SELECT {ROW} FROM arrived ORDER BY arrival"))
        for tail in self._tails.values():
            tail.high = max(tail.moved, tail.staged.newest()) if tail.staged else tail.moved
        self._last = last_arrival(file)

    def _recall_anew(self, file: sqlite3.Connection) -> None:
        """After ids or times have changed. Readers copy under the same lock, and only then look into the file."""
        with self._tails_lock:
            self._tails, self._numbered, self._staged = {}, {}, 0
            self._recall(file)

    def keep(self, batch: Batch) -> Kept:
        """As promised."""
        return self._on_writer(lambda file: self._keep(file, batch))

    def _keep(self, file: sqlite3.Connection, batch: Batch) -> Kept:
        found = self._sorted_out(file, batch)
        if found.fresh or found.undated or found.other or found.packed or batch.refusals or batch.beside:
            room = min(max(STAGED, STAGED_A_PROBE * len(self._tails)), STAGED_MOST)
            full = self._staged + len(found.fresh) >= room
            with transaction(file):
                _write_readings(file, found)
                self._note_late(file, found)
                _write_refusals(file, batch.refusals)
                _write_beside(file, batch.beside)
                _write_deliveries(file, batch.delivered, found.packed)
                if full:
                    move(file)
            self._remember(found, moved=full)
        return Kept(len(found.fresh), found.same, found.other.total(), self._last)

    def _note_late(self, file: sqlite3.Connection, found: SortedOut) -> None:
        """For whoever has summed up what a batch still adds to; in its transaction."""

    def _sorted_out(self, file: sqlite3.Connection, batch: Batch) -> SortedOut:
        found = SortedOut(self._last, packed(batch.delivered))
        tails, fresh = self._tails, found.fresh
        for reading in batch.readings:
            tail = tails.get(reading.probe) or self._newborn(reading.probe, found.born)
            number, at, value = tail.number, reading.at, steps_of(reading.value)
            if at > tail.high:
                tail.high = at
            else:
                before = _kept_value(file, tail, fresh, at)
                if before == value:
                    found.same += 1
                    continue
                if before is not None:
                    found.other[number] += 1
                    continue
            found.last += 1
            fresh[number, at] = (found.last, number, at, value, meta_of(reading))
        for undated in batch.undated:
            tail = tails.get(undated.probe) or self._newborn(undated.probe, found.born)
            found.last += 1
            found.undated.append((found.last, tail.number, steps_of(undated.value), undated.received_at))
        return found

    def _newborn(self, probe: str, born: dict[str, Tail]) -> Tail:
        return born.get(probe) or born.setdefault(probe, Tail(len(self._tails) + len(born) + 1))

    def _remember(self, found: SortedOut, *, moved: bool) -> None:
        """What is durable now. Readers copy under the same lock, and only then look into the file."""
        with self._tails_lock:
            self._tails.update(found.born)
            self._numbered.update((tail.number, tail) for tail in found.born.values())
            self._stage(found.fresh.values())
            if moved:
                self._unstage()
            self._last = found.last

    def _stage(self, rows: Iterable[Row]) -> None:
        numbered = self._numbered
        for row in rows:
            numbered[row[1]].staged.add(row)
            self._staged += 1

    def _unstage(self) -> None:
        for tail in self._tails.values():
            tail.moved = tail.high
            tail.staged = Staged()
        self._staged = 0


def _kept_value(
    file: sqlite3.Connection, tail: Tail, fresh: dict[tuple[int, Millis], Row], at: Millis
) -> int | None:
    row = fresh.get((tail.number, at))
    staged = tail.staged.value_at(at) if row is None else row[3]
    if staged is not None:
        return staged
    if at > tail.moved:
        return None
    moved = file.execute("SELECT value FROM reading WHERE probe = ? AND at = ?", (tail.number, at)).fetchone()
    return None if moved is None else int(moved[0])


def _write_readings(file: sqlite3.Connection, found: SortedOut) -> None:
    born = [(tail.number, name) for name, tail in found.born.items()]
    file.executemany("INSERT INTO probe (number, name) VALUES (?, ?)", born)
    file.executemany(f"INSERT INTO arrived ({ROW}) VALUES (?, ?, ?, ?, ?)", found.fresh.values())
    file.executemany("INSERT INTO undated VALUES (?, ?, ?, ?)", found.undated)
    if found.other:
        file.executemany(
            "INSERT INTO contradiction VALUES (?, ?) ON CONFLICT DO UPDATE SET count = count + excluded.count",
            found.other.items(),
        )


def _write_beside(file: sqlite3.Connection, beside: Sequence[Beside]) -> None:
    for one in beside:
        row = (one.topic, one.battery, one.battery_unit, one.signal, one.signal_unit)
        file.execute(
            "INSERT INTO beside VALUES (?1, ?2, ?3, ?4, ?5) ON CONFLICT DO UPDATE SET"
            " battery_unit = CASE WHEN ?2 IS NULL THEN battery_unit ELSE ?3 END, battery = coalesce(?2, battery),"
            " signal_unit = CASE WHEN ?4 IS NULL THEN signal_unit ELSE ?5 END, signal = coalesce(?4, signal)",
            row,
        )


def _write_refusals(file: sqlite3.Connection, refusals: Sequence[Refusal]) -> None:
    if not refusals:
        return
    file.executemany(
        "INSERT INTO refusal (topic, probe, kind, reason, excerpt, received_at) VALUES (?, ?, ?, ?, ?, ?)",
        [(r.topic, r.probe, r.kind, r.reason, r.excerpt, r.received_at) for r in refusals],
    )
    file.executemany(
        "INSERT INTO refused VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET count = count + excluded.count",
        [(*key, count) for key, count in Counter((r.topic, r.kind) for r in refusals).items()],
    )
    (newest,) = file.execute("SELECT max(id) FROM refusal").fetchone()
    if crossed(newest, len(refusals)):
        file.execute("DELETE FROM refusal WHERE id <= ?", (newest - REFUSALS,))


def _write_deliveries(file: sqlite3.Connection, delivered: Sequence[Delivered], body: bytes) -> None:
    if not body:
        return
    (before,) = file.execute("SELECT coalesce(max(upto), 0) FROM delivery").fetchone()
    newest = before + len(delivered)
    file.execute("INSERT INTO delivery (upto, packed) VALUES (?, ?)", (newest, body))
    if crossed(newest, len(delivered)):
        file.execute("DELETE FROM delivery WHERE upto <= ?", (newest - DELIVERED,))


def crossed(newest: int, added: int) -> bool:
    """Whether a multiple of SLACK lies among the `added` newest numbers."""
    return newest // SLACK != (newest - added) // SLACK


def move(file: sqlite3.Connection) -> None:
    """Everything from `arrived` into `reading`, with a note of where it went, for `after`. What stands in both (it
    cannot, but a file can be meddled with) must not stop intake for ever: the first wins.
    """
    file.execute(f"INSERT OR IGNORE INTO reading ({ROW}) SELECT {ROW} FROM arrived ORDER BY probe, at")
    file.execute(
        "INSERT INTO moved SELECT (SELECT max(arrival) FROM arrived), probe, min(at), max(at), count(*)"
        " FROM arrived GROUP BY probe"
    )
    file.execute("DELETE FROM arrived")


def unsum(file: sqlite3.Connection, number: int, since: Millis) -> None:
    """A probe's hours from this time on are no longer summed up: its readings there have changed."""
    hour = since // HOUR
    file.execute("DELETE FROM hour WHERE probe = ? AND hour >= ?", (number, hour))
    file.execute("DELETE FROM unsummed WHERE probe = ? AND hour >= ?", (number, hour))
    file.execute("UPDATE summed SET upto = min(upto, ?) WHERE probe = ?", (max(hour * HOUR, NEVER), number))


def last_arrival(file: sqlite3.Connection) -> int:
    """The newest arrival number the file knows of; a round that saw one remembers it when its rows are gone."""
    newest = file.execute(
        "SELECT max(coalesce((SELECT max(arrival) FROM arrived), 0),"
        " coalesce((SELECT max(arrival) FROM undated), 0),"
        " coalesce((SELECT max(last_arrival) FROM moved), 0),"
        " coalesce((SELECT upto_arrival FROM round ORDER BY number DESC LIMIT 1), 0))"
    )
    return int(newest.fetchone()[0])
