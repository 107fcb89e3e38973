"""Versions of the settings in SQLite, and ids that go on under another."""

from __future__ import annotations

import json
import sqlite3
import zlib
from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from monitor.advice.acts import Advice
from monitor.alarms.cycle import Alarm, Transition
from monitor.amendments import Outline
from monitor.checks.findings import PastEpisode
from monitor.diary import Entry
from monitor.names import Names
from monitor.notify.notices import Decision, Notice, Untold
from monitor.readings import Millis
from monitor.store import renaming
from monitor.store.codec import read, written
from monitor.store.connections import transaction
from monitor.store.promises import TakenUp, Taking, Version
from monitor.store.sqlite_keep import NEVER, SqliteKeeping, move, unsum

FEW = 20
"""With more old ids than this every document is looked at instead of being asked for."""

DOCUMENTS: tuple[tuple[str, type, tuple[str, ...]], ...] = (
    ("transition", Transition, ()),
    ("past_episode", PastEpisode, ()),
    ("advice", Advice, ("place",)),
    ("notice", Notice, ()),
    ("decision", Decision, ()),
    ("untold", Untold, ("person", "place")),
    ("diary", Entry, ()),
)
"""Table, what its documents are, and which of their fields stand in columns of their own."""


class SqliteVersions(SqliteKeeping):
    """`promises.Versions` in SQLite."""

    def take_up(self, taking: Taking) -> TakenUp:
        """As promised."""
        packed = pack(taking.files, taking.outline)
        return self._on_writer(lambda file: self._take_up(file, taking, packed))

    def _take_up(self, file: sqlite3.Connection, taking: Taking, packed: bytes) -> TakenUp:
        standing = _newest(file)
        if standing is not None and _texts_of(file, standing.number) == (taking.digest, taking.rules):
            return standing
        with transaction(file):
            taken = TakenUp(
                taking.at,
                _numbered(file, taking, packed),
                taking.who,
                tuple(taking.amendments),
                tuple(taking.came),
                tuple(taking.went),
                _rename(file, taking.names, taking.at),
                taking.why,
            )
            self._ids_changed(file, taking.names.probes)
            file.execute("INSERT INTO taken_up (number, body) VALUES (?, ?)", (taken.number, written(taken)))
        if taking.names.probes:
            self._recall_anew(file)
        return taken

    def _ids_changed(self, file: sqlite3.Connection, probes: Mapping[str, str]) -> None:
        """For stores that keep readings elsewhere as well; in the same transaction."""

    def in_force(self) -> Version | None:
        """As promised."""
        return self._version("(SELECT number FROM taken_up ORDER BY id DESC LIMIT 1)")

    def version(self, number: int) -> Version | None:
        """As promised."""
        return self._version("?", number)

    def _version(self, number: str, *values: object) -> Version | None:
        rows = self._all(
            f"SELECT number, at, digest, rules, packed FROM accepted WHERE number = {number}", *values
        )
        return _unpacked(*rows[0]) if rows else None

    def taken_up(self, limit: int = 100) -> list[TakenUp]:
        """As promised."""
        rows = self._all("SELECT body FROM taken_up ORDER BY id DESC LIMIT ?", limit)
        return [read(TakenUp, body) for (body,) in reversed(rows)]


def pack(files: Sequence[tuple[str, str]], outline: Outline) -> bytes:
    """Texts and outline, small."""
    return zlib.compress(json.dumps([[list(one) for one in files], json.loads(written(outline))]).encode())


def _unpacked(number: int, at: Millis, digest: str, rules: str, packed: bytes) -> Version:
    files, outline = json.loads(zlib.decompress(packed))
    return Version(
        number, at, digest, rules, tuple((name, text) for name, text in files), read(Outline, json.dumps(outline))
    )


def _newest(file: sqlite3.Connection) -> TakenUp | None:
    row = file.execute("SELECT body FROM taken_up ORDER BY id DESC LIMIT 1").fetchone()
    return None if row is None else read(TakenUp, row[0])


def _texts_of(file: sqlite3.Connection, number: int) -> tuple[str, str]:
    digest, rules = file.execute("SELECT digest, rules FROM accepted WHERE number = ?", (number,)).fetchone()
    return str(digest), str(rules)


def _numbered(file: sqlite3.Connection, taking: Taking, packed: bytes) -> int:
    file.execute(
        "INSERT INTO accepted (at, digest, rules, packed) VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING",
        (taking.at, taking.digest, taking.rules, packed),
    )
    same = "SELECT number FROM accepted WHERE digest = ? AND rules = ?"
    return int(file.execute(same, (taking.digest, taking.rules)).fetchone()[0])


# Ids that go on under another


def _rename(file: sqlite3.Connection, names: Names, at: Millis) -> tuple[str, ...]:
    """Everything in the open transaction; what is told of it."""
    if not names:
        return ()
    if names.probes:
        move(file)
        for old, new in names.probes.items():
            _rename_probe(file, old, new)
    _rename_standing(file, names)
    _rename_alarms(file, names, at)
    for table, kind, columns in DOCUMENTS:
        _rename_documents(file, table, kind, columns, names)
    return names.told()


def _rename_probe(file: sqlite3.Connection, old: str, new: str) -> None:
    """`arrived` is empty: what is moved lies in `reading` alone."""
    numbers: dict[str, int] = dict(
        file.execute("SELECT name, number FROM probe WHERE name IN (?, ?)", (old, new)).fetchall()
    )
    file.execute("UPDATE refusal SET probe = ? WHERE probe = ?", (new, old))
    if old not in numbers:
        return
    if new not in numbers:
        file.execute("UPDATE probe SET name = ? WHERE name = ?", (new, old))
        return
    _merge(file, numbers[old], numbers[new])


def _merge(file: sqlite3.Connection, old: int, new: int) -> None:
    """The old number's readings to the new one's. Its own row stays, without readings: numbers have no gaps."""
    moves = [upto for (upto,) in file.execute("SELECT DISTINCT last_arrival FROM moved ORDER BY last_arrival")]
    (since,) = file.execute("SELECT coalesce(min(first_at), 0) FROM moved WHERE probe = ?", (old,)).fetchone()
    unsum(file, new, since)
    unsum(file, old, NEVER)
    file.execute("DELETE FROM summed WHERE probe = ?", (old,))
    for later, first in ((old, new), (new, old)):
        file.execute(
            "DELETE FROM reading WHERE probe = ?1 AND EXISTS (SELECT 1 FROM reading AS other WHERE other.probe = ?2"
            " AND other.at = reading.at AND other.arrival < reading.arrival)",
            (later, first),
        )
    file.execute("UPDATE reading SET probe = ? WHERE probe = ?", (new, old))
    file.execute("UPDATE undated SET probe = ? WHERE probe = ?", (new, old))
    file.execute(
        "INSERT INTO contradiction SELECT ?, count FROM contradiction WHERE probe = ?"
        " ON CONFLICT DO UPDATE SET count = count + excluded.count",
        (new, old),
    )
    file.execute("DELETE FROM contradiction WHERE probe = ?", (old,))
    file.execute("DELETE FROM moved WHERE probe IN (?, ?)", (old, new))
    file.executemany("INSERT INTO moved VALUES (?, ?, ?, ?, ?)", _moves_of(file, new, moves))


def _moves_of(
    file: sqlite3.Connection, probe: int, moves: Sequence[int]
) -> list[tuple[int, int, Millis, Millis, int]]:
    """Where each of the moves put this probe's readings."""
    spans: dict[int, tuple[Millis, Millis, int]] = {}
    for arrival, at in file.execute("SELECT arrival, at FROM reading WHERE probe = ?", (probe,)):
        upto = moves[bisect_left(moves, arrival)]
        low, high, count = spans.get(upto, (at, at, 0))
        spans[upto] = min(low, at), max(high, at), count + 1
    return [(upto, probe, *span) for upto, span in spans.items()]


def _rename_standing(file: sqlite3.Connection, names: Names) -> None:
    for id_, kind, key, body in file.execute("SELECT id, kind, key, body FROM standing").fetchall():
        said = renaming.standing_body(kind, body, names)
        if said != body:
            file.execute("UPDATE standing SET body = ? WHERE id = ?", (said, id_))
        now = renaming.standing_key(kind, key, names)
        if now != key:
            file.execute("UPDATE OR IGNORE standing SET key = ? WHERE id = ?", (now, id_))
            file.execute("DELETE FROM standing WHERE id = ? AND key = ?", (id_, key))


def _rename_alarms(file: sqlite3.Connection, names: Names, at: Millis) -> None:
    standing = [read(Alarm, body) for (body,) in file.execute("SELECT body FROM alarm ORDER BY number")]
    changed, ended, steps = renaming.alarms(standing, names, at=at)
    file.executemany("UPDATE alarm SET body = ? WHERE number = ?", [(written(a), a.number) for a in changed])
    file.executemany("DELETE FROM alarm WHERE number = ?", [(number,) for number in ended])
    file.executemany(
        "INSERT INTO transition (at, alarm, body) VALUES (?, ?, ?)", [(t.at, t.number, written(t)) for t in steps]
    )


def _rename_documents(
    file: sqlite3.Connection, table: str, kind: type, columns: tuple[str, ...], names: Names
) -> None:
    key = "number" if table == "notice" else "id"
    sets = ", ".join(f"{column} = ?" for column in ("body", *columns))
    for id_, body in _mentioning(file, table, key, renaming.old_ids(names)):
        before: Any = read(kind, body)
        after = renaming.renamed(before, names)
        if after != before:
            values = [written(after), *(getattr(after, column) for column in columns), id_]
            file.execute(f"UPDATE {table} SET {sets} WHERE {key} = ?", values)


def _mentioning(file: sqlite3.Connection, table: str, key: str, ids: Sequence[str]) -> Iterable[tuple[int, str]]:
    """Documents in which one of these may stand: a JSON text begins with its quote, a subject with `kind:`."""
    looked_for = [text for one in ids for text in (f'"{one}', f":{one}")] if len(ids) <= FEW else []
    where = " OR ".join("instr(body, ?) > 0" for _ in looked_for) or "1"
    return file.execute(f"SELECT {key}, body FROM {table} WHERE {where}", looked_for).fetchall()
