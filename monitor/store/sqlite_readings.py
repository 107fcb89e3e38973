"""Readings read back from SQLite: what is moved and what is not, as one."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection

from monitor.readings import RESOLUTION, Beside, Millis, Quality, Reading, Refusal, RefusalKind, Undated, restored
from monitor.store.promises import Bucket, Delivered
from monitor.store.rows import LARGEST, ROW, Row, reading_of, unpacked
from monitor.store.sqlite_keep import SqliteKeeping, last_arrival

NUMBER = "(SELECT number FROM probe WHERE name = ?)"
TRUSTED = tuple(q * 2 + own_time for q in Quality if q.trusted for own_time in (0, 1))
"""The low six bits of `meta` of a reading that may be judged."""


class SqliteReadings(SqliteKeeping):
    """`promises.Readings` in SQLite."""

    def after(self, arrival: int, limit: int = 1_000_000) -> list[Reading]:
        """As promised. What lies in `arrived` costs nothing to find; older numbers cost a look at each move."""
        return self._read(lambda file: _after(file, arrival, limit))

    def last_arrival(self) -> int:
        """As promised."""
        return self._read(last_arrival)

    def window(self, probe: str, start: Millis, end: Millis) -> list[Reading]:
        """As promised."""
        return [reading_of(probe, row) for row in self._read(lambda file: self._rows(file, probe, start, end))]

    def buckets(self, probe: str, start: Millis, end: Millis, width: Millis) -> list[Bucket]:
        """As promised."""
        return self._read(lambda file: self._buckets(file, probe, start, end, width))

    def latest(self, probe: str, count: int = 1, upto_arrival: int | None = None) -> list[Reading]:
        """As promised."""
        upto = LARGEST if upto_arrival is None else upto_arrival
        return [reading_of(probe, row) for row in self._read(lambda file: self._newest(file, probe, count, upto))]

    def latest_of(self, probes: Collection[str], count: int = 1) -> dict[str, list[Reading]]:
        """As promised."""
        return self._read(lambda file: self._newest_of(file, frozenset(probes), count))

    def unchanged_since(self, probe: str, upto_arrival: int | None = None) -> Millis | None:
        """As promised. Costs the length of the run: 50 ms for a probe that is stuck for a year."""
        upto = LARGEST if upto_arrival is None else upto_arrival
        return self._read(lambda file: self._unchanged_since(file, probe, upto))

    def undated(self, limit: int = 100) -> list[Undated]:
        """As promised."""
        rows = self._all(
            "SELECT name, value, received_at, arrival FROM undated JOIN probe ON number = probe"
            " ORDER BY arrival DESC LIMIT ?",
            limit,
        )
        return [Undated(name, restored(value), at, arrival) for name, value, at, arrival in reversed(rows)]

    def refusals(self, limit: int = 100) -> list[Refusal]:
        """As promised."""
        rows = self._all(
            "SELECT topic, probe, kind, reason, excerpt, received_at FROM refusal ORDER BY id DESC LIMIT ?", limit
        )
        return [Refusal(t, probe, RefusalKind(k), why, body, at) for t, probe, k, why, body, at in reversed(rows)]

    def refusal_counts(self) -> dict[tuple[str, str], int]:
        """As promised."""
        return {(topic, kind): count for topic, kind, count in self._all("SELECT topic, kind, count FROM refused")}

    def contradictions(self) -> dict[str, int]:
        """As promised."""
        return dict(self._all("SELECT name, count FROM contradiction JOIN probe ON number = probe"))

    def beside(self) -> dict[str, Beside]:
        """As promised."""
        rows = self._all("SELECT topic, battery, battery_unit, signal, signal_unit FROM beside")
        return {row[0]: Beside(*row) for row in rows}

    def delivered(self, limit: int = 65_536) -> list[Delivered]:
        """As promised."""
        wanted = min(limit, 65_536)
        bodies = self._all(
            "SELECT packed FROM delivery WHERE upto > (SELECT max(upto) FROM delivery) - ? ORDER BY upto", wanted
        )
        found = [one for (body,) in bodies for one in unpacked(body)]
        return found[max(len(found) - wanted, 0) :]

    def counted(self) -> int:
        """As promised."""
        ((moved, staged),) = self._all(
            "SELECT (SELECT coalesce(sum(count), 0) FROM moved), (SELECT count(*) FROM arrived)"
        )
        return int(moved + staged)

    def elsewhere(self) -> int:
        """As promised."""
        ((probes,),) = self._all("SELECT count(*) FROM pruned")
        return int(probes)

    def _not_moved(self, file: sqlite3.Connection, probe: str) -> list[Row]:
        """One probe's rows that are not in `reading`, in the snapshot that this or an earlier look began. To be
        called once, before any other look at readings.
        """
        if self.read_only:
            return file.execute(f"SELECT {ROW} FROM arrived WHERE probe = {NUMBER}", (probe,)).fetchall()
        with self._tails_lock:
            tail = self._tails.get(probe)
            rows = tail.staged.rows(tail.number) if tail else []
        (moved,) = file.execute("SELECT coalesce(max(last_arrival), 0) FROM moved").fetchone()
        return [row for row in rows if row[0] > moved]  # the writer may have moved them between the two looks

    def _rows(self, file: sqlite3.Connection, probe: str, start: Millis, end: Millis) -> list[Row]:
        staged = [row for row in self._not_moved(file, probe) if start <= row[2] < end]
        moved = file.execute(
            f"SELECT {ROW} FROM reading WHERE probe = {NUMBER} AND at >= ? AND at < ? ORDER BY at",
            (probe, start, end),
        ).fetchall()
        return sorted(moved + staged, key=_at) if staged else moved

    def _buckets(
        self, file: sqlite3.Connection, probe: str, start: Millis, end: Millis, width: Millis
    ) -> list[Bucket]:
        """SQLite sums up what is moved (half the time that Python takes); the little that is not is added."""
        staged = [row for row in self._not_moved(file, probe) if start <= row[2] < end]
        summed = file.execute(
            "SELECT (at - ?) / ?, count(*), min(value), total(value), max(value) FROM reading"
            f" WHERE probe = {NUMBER} AND at >= ? AND at < ? AND meta & 63 IN {TRUSTED} GROUP BY 1",
            (start, width, probe, start, end),
        ).fetchall()
        sums: dict[int, tuple[int, int, float, int]] = {number: tuple(rest) for number, *rest in summed}
        for _, _, at, value, meta in staged:
            if meta & 63 in TRUSTED:
                count, low, total, high = sums.get((at - start) // width, (0, value, 0.0, value))
                sums[(at - start) // width] = (count + 1, min(low, value), total + value, max(high, value))
        return [
            Bucket(start + number * width, count, restored(low), total / (count * RESOLUTION), restored(high))
            for number, (count, low, total, high) in sorted(sums.items())
        ]

    def _newest(self, file: sqlite3.Connection, probe: str, count: int, upto: int) -> list[Row]:
        staged = [row for row in self._not_moved(file, probe) if row[0] <= upto]
        moved = file.execute(
            f"SELECT {ROW} FROM reading WHERE probe = {NUMBER} AND arrival <= ? ORDER BY at DESC LIMIT ?",
            (probe, upto, count),
        ).fetchall()
        found = sorted(moved + staged, key=_at)
        return found[max(len(found) - count, 0) :]

    def _newest_of(self, file: sqlite3.Connection, probes: frozenset[str], count: int) -> dict[str, list[Reading]]:
        staged = self._all_not_moved(file, probes, newest_alone=count == 1)
        found = {}
        for probe in probes:
            moved = file.execute(
                f"SELECT {ROW} FROM reading WHERE probe = {NUMBER} ORDER BY at DESC LIMIT ?", (probe, count)
            ).fetchall()
            rows = sorted(moved + staged.get(probe, []), key=_at)
            found[probe] = [reading_of(probe, row) for row in rows[max(len(rows) - count, 0) :]]
        return found

    def _all_not_moved(
        self, file: sqlite3.Connection, probes: frozenset[str], *, newest_alone: bool
    ) -> dict[str, list[Row]]:
        """As `_not_moved`, of several probes at once: without an index each by itself would cost a look at all."""
        if self.read_only:
            numbers = file.execute("SELECT number, name FROM probe").fetchall()
            names: dict[int, str] = {number: name for number, name in numbers if name in probes}
            # beside max() stand the other columns of its row (sqlite.org/lang_select.html, bare columns)
            columns, together = (ROW.replace(" at,", " max(at),"), "GROUP BY probe") if newest_alone else (ROW, "")
            sql = f"SELECT {columns} FROM arrived WHERE probe IN (SELECT value FROM json_each(?)) {together}"
            rows = file.execute(sql, (json.dumps(list(names)),)).fetchall()
        else:
            with self._tails_lock:
                tails = {probe: tail for probe in probes if (tail := self._tails.get(probe)) is not None}
                names = {tail.number: probe for probe, tail in tails.items()}
                rows = [row for tail in tails.values() for row in tail.staged.rows(tail.number)]
            (moved,) = file.execute("SELECT coalesce(max(last_arrival), 0) FROM moved").fetchone()
            rows = [row for row in rows if row[0] > moved]
        found: dict[str, list[Row]] = {}
        for row in rows:
            found.setdefault(names[row[1]], []).append(row)
        return found

    def _unchanged_since(self, file: sqlite3.Connection, probe: str, upto: int) -> Millis | None:
        """The first time after the newest time of another value."""
        staged = [row for row in self._not_moved(file, probe) if row[0] <= upto]
        moved = f"FROM reading WHERE probe = {NUMBER} AND arrival <= ?"

        def moved_one(what: str, *values: object) -> list[Row]:
            return file.execute(f"SELECT {ROW} {moved} {what} LIMIT 1", (probe, upto, *values)).fetchall()

        newest = max(staged + moved_one("ORDER BY at DESC"), key=_at, default=None)
        if newest is None:
            return None
        others = [row for row in staged if row[3] != newest[3]]
        other = max(map(_at, others + moved_one("AND value <> ? ORDER BY at DESC", newest[3])), default=-LARGEST)
        return min(at for at in map(_at, staged + moved_one("AND at > ? ORDER BY at", other)) if at > other)


def _at(row: Row) -> Millis:
    return row[2]


def _after(file: sqlite3.Connection, arrival: int, limit: int) -> list[Reading]:
    """Row by row: with a backlog of a week, what is read at once is what the memory of a small board is filled with."""
    names: dict[int, str] = dict(file.execute("SELECT number, name FROM probe").fetchall())
    found: list[Reading] = []
    moves = file.execute(
        "SELECT DISTINCT last_arrival FROM moved WHERE last_arrival > ? ORDER BY last_arrival", (arrival,)
    ).fetchall()
    for (upto,) in moves:
        if len(found) >= limit:
            break
        rows = file.execute(
            "SELECT r.arrival, r.probe, r.at, r.value, r.meta FROM moved m CROSS JOIN reading r"
            " ON r.probe = m.probe AND r.at BETWEEN m.first_at AND m.last_at"
            " WHERE m.last_arrival = ? AND r.arrival > ? AND r.arrival <= ? ORDER BY r.arrival LIMIT ?",
            (upto, arrival, upto, limit - len(found)),
        )
        found.extend(reading_of(names[row[1]], row) for row in rows)
        arrival = upto
    if len(found) < limit:
        rows = file.execute(
            f"SELECT {ROW} FROM arrived WHERE arrival > ? ORDER BY arrival LIMIT ?", (arrival, limit - len(found))
        )
        found.extend(reading_of(names[row[1]], row) for row in rows)
    return found
