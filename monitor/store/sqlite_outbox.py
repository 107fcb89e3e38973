"""What goes out to people and what comes back from them, in SQLite."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from typing import Any

from monitor.errors import StoreError
from monitor.notify.notices import Notice, Post, Posted
from monitor.readings import Millis
from monitor.store.codec import read
from monitor.store.connections import Connections
from monitor.store.promises import Request

POST = "SELECT body, channel, state, tries, next_try, last_error, sent_at FROM post JOIN notice ON number = notice"


class SqliteRequests(Connections):
    """`promises.Requests` in SQLite."""

    def ask(self, at: Millis, who: str, what: str, alarm: int = 0, note: str = "", *, body: str = "{}") -> int:
        """As promised."""
        return self._write_unlocked(lambda file: _ask(file, (at, who, what, alarm, note, body)))

    def asked(self) -> list[Request]:
        """As promised."""
        rows = self._all(
            "SELECT id, at, who, what, alarm, note, body FROM request WHERE round IS NULL ORDER BY id"
        )
        return [Request(*row) for row in rows]


class SqliteOutbox(Connections):
    """`promises.Outbox` in SQLite, and the journal's `notices`."""

    def notices(self, limit: int = 100) -> list[Post]:
        """As promised."""
        return _posts(reversed(self._all(f"{POST} ORDER BY notice DESC, position DESC LIMIT ?", limit)))

    def due(self, now: Millis, limit: int = 100) -> list[Post]:
        """As promised."""
        sql = f"{POST} WHERE state = 'waiting' AND next_try <= ? ORDER BY notice, position LIMIT ?"
        return _posts(self._all(sql, now, limit))

    def sent(self, notice: int, channel: str, at: Millis) -> None:
        """As promised."""
        self._mark(notice, channel, "state = 'sent', sent_at = ?", "state <> 'sent'", at)

    def failed(self, notice: int, channel: str, next_try: Millis, error: str) -> None:
        """As promised."""
        self._mark(notice, channel, "next_try = ?, last_error = ?", "state = 'waiting'", next_try, error)

    def give_up(self, notice: int, channel: str, error: str) -> None:
        """As promised."""
        self._mark(notice, channel, "state = 'given up', last_error = ?", "state = 'waiting'", error)

    def waiting(self) -> int:
        """As promised."""
        ((count,),) = self._all("SELECT count(*) FROM post WHERE state = 'waiting'")
        return int(count)

    def _mark(self, notice: int, channel: str, what: str, when: str, *values: object) -> None:
        def mark(file: sqlite3.Connection) -> None:
            key = (notice, channel)
            if file.execute("SELECT 1 FROM post WHERE notice = ? AND channel = ?", key).fetchone() is None:
                raise StoreError(f"notice {notice} was never to go to {channel}")
            file.execute(
                f"UPDATE post SET tries = tries + 1, {what} WHERE notice = ? AND channel = ? AND {when}",
                (*values, *key),
            )

        self._write(mark)


def _ask(file: sqlite3.Connection, values: tuple[object, ...]) -> int:
    asked = file.execute(
        "INSERT INTO request (at, who, what, alarm, note, body) VALUES (?, ?, ?, ?, ?, ?)", values
    )
    return int(asked.lastrowid or 0)


def _posts(rows: Iterable[tuple[Any, ...]]) -> list[Post]:
    return [
        Post(read(Notice, body), channel, Posted(state), tries, next_try, error, sent_at)
        for body, channel, state, tries, next_try, error, sent_at in rows
    ]
