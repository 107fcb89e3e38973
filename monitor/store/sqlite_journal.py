"""What was decided, in SQLite: one transaction for each round. A quiet round is one row at the end of a table."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Iterable, Sequence
from typing import TypeVar

from monitor.advice.acts import Advice
from monitor.alarms.cycle import Alarm, Transition
from monitor.checks.findings import PastEpisode
from monitor.diary import Entry
from monitor.errors import StoreError
from monitor.notify.notices import Decision, Notice, Untold
from monitor.readings import Millis
from monitor.store.codec import read, written
from monitor.store.connections import Connections
from monitor.store.promises import APART, Past, Round, RoundRow, Standing, Story
from monitor.store.rows import LARGEST

T = TypeVar("T")

ROUND = "SELECT r.number, r.at, s.version, r.upto_arrival FROM round r JOIN settings s ON s.number = r.settings"


_STANDING = f"SELECT kind, key, body FROM standing WHERE kind NOT IN ({', '.join('?' * len(APART))})"


class SqliteJournal(Connections):
    """`promises.Journal` without `notices`, in SQLite."""

    def load(self) -> Past:
        """As promised."""
        return self._read(_load)

    def standing(self, kind: str, under: Collection[str] | None = None) -> dict[str, str]:
        """As promised."""
        if under is None:
            return dict(self._all("SELECT key, body FROM standing WHERE kind = ?", kind))
        # between `key/` and `key0` lie all keys with more behind the slash
        sql = "SELECT key, body FROM standing WHERE kind = ? AND (key = ? OR (key >= ? AND key < ?))"
        return {key: body for one in under for key, body in self._all(sql, kind, one, f"{one}/", f"{one}0")}

    def commit(self, round_: Round) -> None:
        """As promised."""
        write = self._write_with_the_next if round_.is_quiet else self._write
        write(_Documents(round_).write)

    def transitions(self, start: Millis = 0, end: Millis | None = None, limit: int = 1000) -> list[Transition]:
        """As promised."""
        sql = "SELECT body FROM transition WHERE at >= ? AND at < ? ORDER BY id DESC LIMIT ?"
        return self._documents(Transition, sql, start, LARGEST if end is None else end, limit)

    def story(self, alarm: int) -> Story:
        """As promised."""
        return self._read(lambda file: _story(file, alarm))

    def past_episodes(self, limit: int = 100) -> list[PastEpisode]:
        """As promised."""
        return self._documents(PastEpisode, "SELECT body FROM past_episode ORDER BY id DESC LIMIT ?", limit)

    def advice(self, place: str, limit: int = 1) -> list[Advice]:
        """As promised."""
        return self._documents(
            Advice, "SELECT body FROM advice WHERE place = ? ORDER BY id DESC LIMIT ?", place, limit
        )

    def decisions(self, alarm: int | None = None, limit: int = 100) -> list[Decision]:
        """As promised."""
        if alarm is None:
            return self._documents(Decision, "SELECT body FROM decision ORDER BY id DESC LIMIT ?", limit)
        sql = "SELECT body FROM decision WHERE alarm = ? ORDER BY id DESC LIMIT ?"
        return self._documents(Decision, sql, alarm, limit)

    def rounds(self, limit: int = 100) -> list[RoundRow]:
        """As promised."""
        return [RoundRow(*row) for row in reversed(self._all(f"{ROUND} ORDER BY r.number DESC LIMIT ?", limit))]

    def diary(self, limit: int = 100) -> list[Entry]:
        """As promised."""
        return self._documents(Entry, "SELECT body FROM diary ORDER BY at DESC, id DESC LIMIT ?", limit)

    def heard_of(self, alarm: int) -> Alarm | None:
        """As promised."""
        found = self._documents(Alarm, "SELECT body FROM alarm WHERE number = ?", alarm)
        return found[0] if found else None

    def _documents(self, kind: type[T], sql: str, *values: object) -> list[T]:
        """The documents of a question that asks for the newest first, newest last."""
        return [read(kind, body) for (body,) in reversed(self._all(sql, *values))]


class _Documents:
    """A round with its documents written out, which the caller's thread does before the writer is troubled."""

    def __init__(self, round_: Round) -> None:
        self.round = round_
        self.alarms = [(a.number, written(a)) for a in round_.alarms]
        self.transitions = [(t.at, t.number, written(t)) for t in round_.transitions]
        self.past = [(written(p),) for p in round_.past]
        self.advice = [(a.place, written(a)) for a in round_.advice]
        self.notices = [(n.number, written(n)) for n in round_.notices]
        self.decisions = [(d.alarm, written(d)) for d in round_.decisions]
        self.untold = [(u.person, u.place, written(u)) for u in round_.untold]
        self.diary = [(e.at, written(e)) for e in round_.diary]

    def write(self, file: sqlite3.Connection) -> None:
        """All of it, in the transaction that is open."""
        round_ = self.round
        _write_row(file, round_.row)
        write_standing(file, round_.standing)
        file.executemany("INSERT OR REPLACE INTO alarm VALUES (?, ?)", self.alarms)
        file.executemany("DELETE FROM alarm WHERE number = ?", [(number,) for number in round_.ended])
        file.executemany("INSERT INTO transition (at, alarm, body) VALUES (?, ?, ?)", self.transitions)
        file.executemany("INSERT INTO past_episode (body) VALUES (?)", self.past)
        file.executemany("INSERT INTO advice (place, body) VALUES (?, ?)", self.advice)
        file.executemany("INSERT INTO decision (alarm, body) VALUES (?, ?)", self.decisions)
        file.executemany("DELETE FROM untold WHERE person = ? AND place = ?", round_.told)
        file.executemany("INSERT INTO untold (person, place, body) VALUES (?, ?, ?)", self.untold)
        file.executemany("INSERT INTO diary (at, body) VALUES (?, ?)", self.diary)
        file.executemany(
            "UPDATE request SET round = ? WHERE id = ?",
            [(round_.row.number, request) for request in round_.requests],
        )
        self._write_notices(file)
        alarms = [a.number for a in round_.alarms] + [t.number for t in round_.transitions]
        _count_up(file, "alarm", [*alarms, *round_.ended])

    def _write_notices(self, file: sqlite3.Connection) -> None:
        notices = self.round.notices
        if not notices:
            return
        (free,) = file.execute("SELECT next FROM counter WHERE name = 'notice'").fetchone()
        lowest = min(n.number for n in notices)
        if lowest < free:  # the same number twice in one round meets the table's own key
            raise StoreError(f"notice {lowest} is used already; the next number is {free}")
        file.executemany("INSERT INTO notice VALUES (?, ?)", self.notices)
        file.executemany("INSERT INTO post VALUES (?, ?, ?, 'waiting', 0, 0, '', NULL)", list(_posts(notices)))
        _count_up(file, "notice", (n.number for n in notices))


def _posts(notices: Sequence[Notice]) -> Iterable[tuple[int, int, str]]:
    for notice in notices:
        for position, channel in enumerate(dict.fromkeys(notice.channels)):
            yield notice.number, position, channel


def _write_row(file: sqlite3.Connection, row: RoundRow) -> None:
    (last,) = file.execute("SELECT max(number) FROM round").fetchone()
    if last is not None and row.number <= last:
        raise StoreError(f"round {row.number} comes after round {last}: nothing was kept")
    known = file.execute("SELECT number FROM settings WHERE version = ?", (row.settings,)).fetchone()
    if known is None:
        known = (file.execute("INSERT INTO settings (version) VALUES (?)", (row.settings,)).lastrowid,)
    file.execute("INSERT INTO round VALUES (?, ?, ?, ?)", (row.number, row.at, known[0], row.upto_arrival))


def write_standing(file: sqlite3.Connection, standing: Sequence[Standing]) -> None:
    """One by one, because the order counts. A document that says what stands already costs no page."""
    for one in standing:
        if one.body is None:
            file.execute("DELETE FROM standing WHERE kind = ? AND key = ?", (one.kind, one.key))
        else:
            file.execute(
                "INSERT INTO standing (kind, key, body) VALUES (?, ?, ?)"
                " ON CONFLICT DO UPDATE SET body = excluded.body WHERE body <> excluded.body",
                (one.kind, one.key, one.body),
            )


def _story(file: sqlite3.Connection, alarm: int) -> Story:
    def of(table: str) -> Iterable[str]:
        question = f"SELECT body FROM {table} WHERE alarm = ? ORDER BY id"
        return (body for (body,) in file.execute(question, (alarm,)))

    return Story(
        [read(Transition, body) for body in of("transition")], [read(Decision, body) for body in of("decision")]
    )


def _count_up(file: sqlite3.Connection, name: str, used: Iterable[int]) -> None:
    """No number is given twice, also when nothing stands any more that bears it."""
    highest = max(used, default=None)
    if highest is not None:
        file.execute("UPDATE counter SET next = ?1 + 1 WHERE name = ?2 AND next <= ?1", (highest, name))


def _load(file: sqlite3.Connection) -> Past:
    last = file.execute(f"{ROUND} ORDER BY r.number DESC LIMIT 1").fetchone()
    counters = dict(file.execute("SELECT name, next FROM counter").fetchall())
    newest = "SELECT body FROM advice WHERE id IN (SELECT max(id) FROM advice GROUP BY place) ORDER BY place"
    return Past(
        last_round=None if last is None else RoundRow(*last),
        standing={(kind, key): body for kind, key, body in file.execute(_STANDING, tuple(APART))},
        alarms=[read(Alarm, body) for (body,) in file.execute("SELECT body FROM alarm ORDER BY number")],
        advice=[read(Advice, body) for (body,) in file.execute(newest)],
        untold=[read(Untold, body) for (body,) in file.execute("SELECT body FROM untold ORDER BY id")],
        next_alarm=counters["alarm"],
        next_notice=counters["notice"],
    )
