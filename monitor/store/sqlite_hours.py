"""Hours summed up, so that a year is drawn from thousands of rows and not from half a million, and no extreme is lost.

An hour is summed up once it is a while over (`summarise`), for history that came before as well. What comes late into such
an hour is noted, and the hour is drawn from its readings until it is summed up anew. Days are drawn from hours when they are
asked for: a keeper's day changes its length twice a year, and another time zone would change them all.
"""

from __future__ import annotations

import sqlite3
from bisect import bisect_left, bisect_right
from collections.abc import Collection, Iterable, Iterator, Sequence
from functools import partial
from itertools import pairwise

from monitor.readings import DAY, HOUR, RESOLUTION, Millis, restored
from monitor.store.connections import transaction
from monitor.store.promises import Bucket
from monitor.store.rows import steps_of
from monitor.store.sqlite_keep import NEVER, SortedOut
from monitor.store.sqlite_readings import SqliteReadings

AT_ONCE: Millis = 30 * DAY
"""What one look sums up of one probe."""
PROBES = 8
"""Of how many probes."""
LATE = 200
"""How many late hours."""

BEHIND = """
WITH extent AS (
    SELECT probe, min(first_at) AS first_at, max(last_at) AS last_at
    FROM (SELECT probe, first_at, last_at FROM moved UNION ALL SELECT probe, at, at FROM arrived) GROUP BY probe
)
SELECT name, number, coalesce(upto, first_at) AS since, last_at
FROM extent JOIN probe ON number = extent.probe LEFT JOIN summed ON summed.probe = number
WHERE since < ?1 AND since <= last_at ORDER BY since LIMIT ?2
"""
BETWEEN = """
SELECT (hour - ?) / ?, sum(count), sum(total), min(low), max(high) FROM hour
WHERE probe = ? AND hour >= ? AND hour < ? GROUP BY 1
"""
Sum = tuple[int, int, int, int]
"""Count, total, low and high, the last three in steps of the resolution."""


class SqliteHours(SqliteReadings):
    """`promises.Summaries` in SQLite."""

    _summed: dict[int, Millis]
    """Up to when each probe's hours are summed up. Only the writer's thread looks and changes."""

    def _recall(self, file: sqlite3.Connection) -> None:
        super()._recall(file)
        self._looked: Millis | None = None
        self._summed = dict(file.execute("SELECT probe, upto FROM summed").fetchall())

    def _note_late(self, file: sqlite3.Connection, found: SortedOut) -> None:
        summed = self._summed
        late = [(n, at // HOUR, found.last) for n, at in found.fresh if at < summed.get(n, NEVER)]
        file.executemany(
            "INSERT INTO unsummed VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET arrival = excluded.arrival", late
        )

    def summarise(self, upto: Millis) -> bool:
        """As promised."""
        upto = upto // HOUR * HOUR
        worked = False
        behind: list[tuple[str, int, Millis, Millis]] = []
        if upto != self._looked:  # the look goes over every move there was: once an hour is enough
            self._looked = upto
            behind = self._all(BEHIND, upto, PROBES)
        for name, number, since, last_at in behind:
            start = since // HOUR * HOUR
            end = min(start + AT_ONCE, upto, (last_at // HOUR + 1) * HOUR)
            if start < end:
                self._on_writer(partial(self._is_summing, number, end))
                self._on_writer(partial(_put, self._summing(name, number, start, end), number, start, end))
                worked = True
        if worked:
            self._looked = None
        return self._sum_up_late() or worked

    def _is_summing(self, number: int, end: Millis, _: sqlite3.Connection) -> None:
        """From now on what comes into these hours is late; what came before lies in the file."""
        self._summed[number] = end

    def _sum_up_late(self) -> bool:
        late = self._all(
            "SELECT name, number, hour, arrival FROM unsummed JOIN probe ON number = probe LIMIT ?", LATE
        )
        for name, number, hour, arrival in late:
            rows = self._summing(name, number, hour * HOUR, (hour + 1) * HOUR)
            self._on_writer(partial(_put_late, rows, number, hour, arrival))
        return bool(late)

    def _summing(self, name: str, number: int, start: Millis, end: Millis) -> list[tuple[int, ...]]:
        return [
            (
                number,
                b.start // HOUR,
                b.count,
                round(b.mean * b.count * RESOLUTION),
                steps_of(b.low),
                steps_of(b.high),
            )
            for b in self.buckets(name, start, end, HOUR)
        ]

    def spans(self, probe: str, edges: Sequence[Millis]) -> list[Bucket]:
        """As promised. Whole hours between whole hours are summed up by SQLite, a year of days in a few looks."""
        if len(edges) < 2:
            return []
        ragged = {edge // HOUR for edge in edges if edge % HOUR}
        first = -(-edges[0] // HOUR)
        upto, sums, late = self._hours(probe, edges, ragged)
        last = max(min(edges[-1], upto) // HOUR, first)
        raw = sorted(hour for hour in ragged | late if first <= hour < last)
        pieces = [(hour * HOUR, (hour + 1) * HOUR) for hour in raw]
        pieces += [(edges[0], min(first * HOUR, edges[-1])), (max(last * HOUR, edges[0]), edges[-1])]
        for start, end in {(start, end) for start, end in pieces if start < end}:
            self._add_readings(probe, max(start, edges[0]), min(end, edges[-1]), edges=edges, sums=sums)
        return [
            Bucket(edges[n], count, restored(low), total / (count * RESOLUTION), restored(high))
            for n, (count, total, low, high) in sorted(sums.items())
        ]

    def _hours(
        self, probe: str, edges: Sequence[Millis], ragged: Collection[int]
    ) -> tuple[Millis, dict[int, Sum], set[int]]:
        """Up to when hours are summed up; the sums between edges of those that are, without the ragged ones; and the hours
        into which something came late.
        """

        def look(file: sqlite3.Connection) -> tuple[Millis, dict[int, Sum], set[int]]:
            row = file.execute(
                "SELECT number, upto FROM probe JOIN summed ON probe = number WHERE name = ?", (probe,)
            ).fetchone()
            if row is None:
                return NEVER, {}, set()
            number, upto = row
            between = (number, edges[0] // HOUR, edges[-1] // HOUR)
            late = file.execute("SELECT hour FROM unsummed WHERE probe = ? AND hour BETWEEN ? AND ?", between)
            away = {hour for (hour,) in late}
            sums: dict[int, Sum] = {}
            for n, start, end, step in _runs(edges, sorted(away | set(ragged)), upto // HOUR):
                rows = file.execute(BETWEEN, (start, step, number, start, end))
                for k, count, total, low, high in rows:
                    _add(sums, n + k, (count, total, low, high))
            return int(upto), sums, away

        return self._read(look)

    def _add_readings(
        self, probe: str, start: Millis, end: Millis, *, edges: Sequence[Millis], sums: dict[int, Sum]
    ) -> None:
        for reading in self.window(probe, start, end):
            if reading.quality.trusted:
                value = steps_of(reading.value)
                _add(sums, bisect_right(edges, reading.at) - 1, (1, value, value, value))


def _runs(edges: Sequence[Millis], away: Sequence[int], upto: int) -> Iterator[tuple[int, int, int, int]]:
    """The whole hours below `upto` and not `away`, as runs that one look sums up: the first bucket's number, first and last
    hour (excluded), and how many hours a bucket of the run has.
    """
    run: tuple[int, int, int, int] | None = None
    for n, start, end in _whole(edges, away, upto):
        if (
            run is not None
            and run[2] == start
            and end - start == run[3]
            and n == run[0] + (start - run[1]) // run[3]
        ):
            run = (run[0], run[1], end, run[3])
            continue
        if run is not None:
            yield run
        run = (n, start, end, end - start)
    if run is not None:
        yield run


def _whole(edges: Sequence[Millis], away: Sequence[int], upto: int) -> Iterator[tuple[int, int, int]]:
    """The stretches of whole hours in each bucket: its number, first hour and last (excluded)."""
    for n, (left, right) in enumerate(pairwise(edges)):
        start, end = -(-left // HOUR), min(right // HOUR, upto)
        for gap in away[bisect_left(away, start) : bisect_left(away, end)]:
            if start < gap:
                yield n, start, gap
            start = gap + 1
        if start < end:
            yield n, start, end


def _add(sums: dict[int, Sum], number: int, more: Sum) -> None:
    known = sums.get(number)
    if known is not None:
        more = (known[0] + more[0], known[1] + more[1], min(known[2], more[2]), max(known[3], more[3]))
    sums[number] = more


def _put(
    rows: Iterable[tuple[int, ...]], number: int, start: Millis, end: Millis, file: sqlite3.Connection
) -> None:
    with transaction(file):
        between = (number, start // HOUR, end // HOUR)
        file.execute("DELETE FROM hour WHERE probe = ? AND hour >= ? AND hour < ?", between)
        file.executemany("INSERT INTO hour VALUES (?, ?, ?, ?, ?, ?)", rows)
        file.execute(
            "INSERT INTO summed VALUES (?, ?) ON CONFLICT DO UPDATE SET upto = excluded.upto", (number, end)
        )


def _put_late(
    rows: Iterable[tuple[int, ...]], number: int, hour: int, arrival: int, file: sqlite3.Connection
) -> None:
    """What came in since the look is still noted."""
    with transaction(file):
        file.execute("DELETE FROM hour WHERE probe = ? AND hour = ?", (number, hour))
        file.executemany("INSERT INTO hour VALUES (?, ?, ?, ?, ?, ?)", rows)
        file.execute("DELETE FROM unsummed WHERE probe = ? AND hour = ? AND arrival = ?", (number, hour, arrival))
