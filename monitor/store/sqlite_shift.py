"""Times that turned out to be off, put right in SQLite: one transaction, or nothing of it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from monitor.advice.acts import Advice
from monitor.alarms.cycle import Alarm, Transition
from monitor.checks.findings import PastEpisode
from monitor.diary import Entry
from monitor.notify.notices import Decision, Notice, Untold
from monitor.readings import MINUTE, Millis, Quality
from monitor.store.codec import read, written
from monitor.store.connections import transaction
from monitor.store.promises import Mark, Shift, Standing, TakenUp
from monitor.store.rows import ROW, Row, meta_of, reading_of
from monitor.store.sqlite_journal import write_standing
from monitor.store.sqlite_keep import SqliteKeeping, last_arrival, move, unsum

if TYPE_CHECKING:
    from monitor.shifting import Move

MARKED = {
    "refusal": "id",
    "round": "number",
    "transition": "id",
    "past_episode": "id",
    "advice": "id",
    "decision": "id",
    "notice": "number",
    "diary": "id",
    "request": "id",
    "taken_up": "id",
    "accepted": "number",
}
"""Tables of which the mark holds how far they go, and by which column."""

AHEAD = f"(meta & 63) >> 1 IN ({int(Quality.AHEAD)}, {int(Quality.EARLY)})"
OURS = "meta & 1 = 0"
"""Rows that carry our stamp."""
RECEIVED = "at + (meta >> 6)"


class SqliteShift(SqliteKeeping):
    """`promises.Timekeeping` in SQLite."""

    def mark(self) -> Mark:
        """As promised."""
        return self._read(_mark)

    def settle(self, standing: Sequence[Standing]) -> None:
        """As promised."""
        self._write(lambda file: write_standing(file, standing))

    def shift(self, shift: Shift) -> None:
        """As promised. Costs a second or two for a hundred thousand readings."""
        self._on_writer(lambda file: self._shift(file, shift))

    def _shift(self, file: sqlite3.Connection, shift: Shift) -> None:
        with transaction(file):
            move(file)  # one table less to put right
            before = self._placed(file, shift)
            spans = _spans(file, shift.above["arrival"])
            for number, first_at, _ in spans:
                unsum(file, number, min(first_at, first_at + shift.by))
            _move_ours(file, shift, spans)
            _put_right(file, shift, spans)
            _move_the_undated(file, shift)
            if shift.overtaken:
                _disown(file, shift.now)
            _move_the_journal(file, shift)
            write_standing(file, shift.standing)
            self._replaced(file, shift, before)
        self._recall_anew(file)

    def _placed(self, file: sqlite3.Connection, shift: Shift) -> Mapping[int, tuple[int, Millis]]:
        """For stores that keep readings elsewhere as well: where lies what a shift may move, by arrival number."""
        return {}

    def _replaced(self, file: sqlite3.Connection, shift: Shift, before: Mapping[int, tuple[int, Millis]]) -> None:
        """And what becomes of it there; in the shift's transaction."""


def _mark(file: sqlite3.Connection) -> dict[str, int]:
    tables = ((name, f"SELECT coalesce(max({column}), -1) FROM {name}") for name, column in MARKED.items())
    return {"arrival": last_arrival(file)} | {name: file.execute(sql).fetchone()[0] for name, sql in tables}


Span = tuple[int, Millis, Millis]
"""A probe's number, and between which times its rows above the mark lie."""


def _spans(file: sqlite3.Connection, above: int) -> list[Span]:
    sql = "SELECT probe, min(first_at), max(last_at) FROM moved WHERE last_arrival > ? GROUP BY probe"
    return file.execute(sql, (above,)).fetchall()


def _rows(file: sqlite3.Connection, shift: Shift, span: Span, which: str) -> list[Row]:
    sql = (
        f"SELECT {ROW} FROM reading WHERE probe = ? AND at BETWEEN ? AND ? AND arrival > ? AND {RECEIVED} <= ?"
        f" AND {which} ORDER BY at"
    )
    return file.execute(sql, (*span, shift.above["arrival"], shift.end)).fetchall()


def _move_ours(file: sqlite3.Connection, shift: Shift, spans: Iterable[Span]) -> None:
    """Probe by probe, so that only one probe's rows are ever in memory."""
    by = shift.by
    for span in spans if by else ():
        shift.alive()
        rows = _rows(file, shift, span, OURS)
        file.executemany("DELETE FROM reading WHERE probe = ? AND at = ?", [(row[1], row[2]) for row in rows])
        met = [
            row
            for row in rows
            if not file.execute(
                f"INSERT OR IGNORE INTO reading ({ROW}) VALUES (?, ?, ?, ?, ?)", (*row[:2], row[2] + by, *row[3:])
            ).rowcount
        ]
        for row in met:
            _put_next(file, row, by)
        file.execute(
            "UPDATE moved SET first_at = first_at + min(?1, 0), last_at = last_at + max(?1, 0) + ?2"
            " WHERE probe = ?3 AND last_arrival > ?4",
            (by, len(met), span[0], shift.above["arrival"]),
        )


def _put_next(file: sqlite3.Connection, row: Row, by: Millis) -> None:
    """Where another reading of the probe stands already: a millisecond later, or as many as it takes."""
    arrival, probe, at, value, meta = row
    late = 1
    insert = f"INSERT OR IGNORE INTO reading ({ROW}) VALUES (?, ?, ?, ?, ?)"
    while not file.execute(insert, (arrival, probe, at + by + late, value, meta - late * 64)).rowcount:
        late += 1


def _put_right(file: sqlite3.Connection, shift: Shift, spans: Iterable[Span]) -> None:
    """Rows with a time of their own: when they were received, and how far those are to be trusted that were ahead."""
    names: dict[int, str] = dict(file.execute("SELECT number, name FROM probe").fetchall())
    again: list[Row] = []
    for span in spans:
        shift.alive()
        file.execute(
            "UPDATE reading SET meta = meta + ? * 64 WHERE probe = ? AND at BETWEEN ? AND ? AND arrival > ?"
            f" AND {RECEIVED} <= ? AND NOT {OURS} AND NOT {AHEAD}",
            (shift.by, *span, shift.above["arrival"], shift.end),
        )
        for row in _rows(file, shift, span, f"NOT {OURS} AND {AHEAD}"):
            before = reading_of(names[row[1]], (*row[:4], row[4] + shift.by * 64))
            right = replace(before, quality=shift.anew(before))
            moved_row = (*row[:4], meta_of(right))
            file.execute("UPDATE reading SET meta = ? WHERE probe = ? AND at = ?", (moved_row[4], row[1], row[2]))
            if right.quality.trusted and not before.quality.trusted:
                again.append(moved_row)
    _arrive_again(file, again)


def _arrive_again(file: sqlite3.Connection, rows: Sequence[Row]) -> None:
    last = last_arrival(file)
    for number, row in enumerate(sorted(rows), last + 1):
        _take_out(file, row)
        file.execute(f"INSERT INTO arrived ({ROW}) VALUES (?, ?, ?, ?, ?)", (number, *row[1:]))


def _take_out(file: sqlite3.Connection, row: Row) -> None:
    arrival, probe, at = row[:3]
    file.execute("DELETE FROM reading WHERE probe = ? AND at = ?", (probe, at))
    file.execute(
        "UPDATE moved SET count = count - 1 WHERE probe = ?1 AND last_arrival ="
        " (SELECT min(last_arrival) FROM moved WHERE probe = ?1 AND last_arrival >= ?2)",
        (probe, arrival),
    )


def _move_the_undated(file: sqlite3.Connection, shift: Shift) -> None:
    file.execute(
        "UPDATE undated SET received_at = min(received_at + ?, ?) WHERE arrival > ? AND received_at <= ?",
        (shift.by, shift.now, shift.above["arrival"], shift.end),
    )
    file.execute(
        "UPDATE refusal SET received_at = min(received_at + ?, ?) WHERE id > ?",
        (shift.by, shift.now, shift.above["refusal"]),
    )


def _disown(file: sqlite3.Connection, now: Millis) -> None:
    """What is stamped later than now has no time that anybody knows."""
    false: list[Row] = file.execute(
        f"SELECT {', '.join('r.' + c for c in ROW.split(', '))} FROM probe CROSS JOIN reading r"
        f" ON r.probe = probe.number AND r.at > ? WHERE r.{OURS}",
        (now + MINUTE,),
    ).fetchall()
    for row in false:
        unsum(file, row[1], row[2])
        _take_out(file, row)
    file.executemany("INSERT INTO undated VALUES (?, ?, ?, ?)", [(r[0], r[1], r[3], now) for r in false])


# ── the journal ───────────────────────────────────────────────────────────────────────────────────────────────


def _move_the_journal(file: sqlite3.Connection, shift: Shift) -> None:
    from monitor.shifting import Move  # all that beds have learned comes with it

    by, above = Move(shift.by, shift.begin, shift.now), shift.above
    for table, kind in _DOCUMENTS.items():
        column, first = MARKED.get(table, "number" if table == "alarm" else "id"), above.get(table, -1)
        rows = file.execute(f"SELECT {column}, body FROM {table} WHERE {column} > ?", (first,)).fetchall()
        at = ", at = ?3" if table in ("transition", "diary") else ""
        right = list(_moved(rows, kind, by, with_at=bool(at)))
        file.executemany(f"UPDATE {table} SET body = ?2{at} WHERE {column} = ?1", right)
    for table in ("round", "request", "accepted"):
        _move_column(file, table, "at", f"{MARKED[table]} > {above[table]}", shift)
    _move_column(file, "post", "sent_at", "sent_at IS NOT NULL", shift)
    file.execute("UPDATE post SET next_try = next_try + ? WHERE next_try >= ?", (shift.by, shift.begin))


_DOCUMENTS: dict[str, type[Any]] = {
    "transition": Transition,
    "past_episode": PastEpisode,
    "advice": Advice,
    "decision": Decision,
    "diary": Entry,
    "notice": Notice,
    "alarm": Alarm,
    "untold": Untold,
    "taken_up": TakenUp,
}
"""What lies in which table; of alarms and of what waits to be told only what stands is kept, so all of it."""


def _moved(
    rows: Iterable[tuple[int, str]], kind: type[Any], by: Move, *, with_at: bool
) -> Iterator[tuple[Any, ...]]:
    from monitor.shifting import moved

    for number, body in rows:
        right = moved(read(kind, body), by)
        yield (number, written(right), right.at) if with_at else (number, written(right))


def _move_column(file: sqlite3.Connection, table: str, column: str, which: str, shift: Shift) -> None:
    file.execute(
        f"UPDATE {table} SET {column} = min({column} + iif({column} >= ?1, ?2, 0), ?3)"
        f" WHERE ({column} >= ?1 OR {column} > ?3) AND {which}",
        (shift.begin, shift.by, shift.now),
    )
