"""How the file came to be as it is: numbered steps, each in its own transaction and recorded in it.

A step is never changed once released; what must change gets a new step at the end of STEPS. SQLite keeps a
half-done transaction out of the file at a power cut, so the next opening goes on where this one stopped.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable

from monitor.errors import StoreBroken, StoreNewer
from monitor.readings import Millis

APPLICATION = int.from_bytes(b"VrmS", "big")
"""`PRAGMA application_id`: how a file says that it is ours."""

PAGE = 1024
"""Bytes. One commit writes at least a page; measured in tests/bench/footprint_store.py."""


def readings(file: sqlite3.Connection) -> None:
    """What arrives.

    `arrived` only ever grows at its end, so that a batch costs one page, and is moved into `reading` when it is
    worth a page for each probe; `moved` says where a moved arrival number went. `value` is in steps of
    1/RESOLUTION, `meta` is (received_at - at) * 64 + quality * 2 + own_time: 0 bytes for a good reading
    that is stamped on arrival. `upto` counts deliveries since the file began, `packed` holds a batch's.
    """
    file.execute("CREATE TABLE probe (number INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE) STRICT")
    file.execute(
        "CREATE TABLE arrived (arrival INTEGER PRIMARY KEY, probe INTEGER NOT NULL, at INTEGER NOT NULL,"
        " value INTEGER NOT NULL, meta INTEGER NOT NULL) STRICT"
    )
    file.execute(
        "CREATE TABLE reading (probe INTEGER NOT NULL, at INTEGER NOT NULL, value INTEGER NOT NULL,"
        " meta INTEGER NOT NULL, arrival INTEGER NOT NULL, PRIMARY KEY (probe, at)) STRICT, WITHOUT ROWID"
    )
    file.execute(
        "CREATE TABLE moved (last_arrival INTEGER NOT NULL, probe INTEGER NOT NULL, first_at INTEGER NOT NULL,"
        " last_at INTEGER NOT NULL, count INTEGER NOT NULL,"
        " PRIMARY KEY (last_arrival, probe)) STRICT, WITHOUT ROWID"
    )
    file.execute(
        "CREATE TABLE undated (arrival INTEGER PRIMARY KEY, probe INTEGER NOT NULL, value INTEGER NOT NULL,"
        " received_at INTEGER NOT NULL) STRICT"
    )
    file.execute("CREATE TABLE contradiction (probe INTEGER PRIMARY KEY, count INTEGER NOT NULL) STRICT")
    file.execute(
        "CREATE TABLE refusal (id INTEGER PRIMARY KEY, topic TEXT NOT NULL, probe TEXT, kind TEXT NOT NULL,"
        " reason TEXT NOT NULL, excerpt BLOB NOT NULL, received_at INTEGER NOT NULL) STRICT"
    )
    file.execute(
        "CREATE TABLE refused (topic TEXT NOT NULL, kind TEXT NOT NULL, count INTEGER NOT NULL,"
        " PRIMARY KEY (topic, kind)) STRICT, WITHOUT ROWID"
    )
    file.execute("CREATE TABLE delivery (upto INTEGER PRIMARY KEY, packed BLOB NOT NULL) STRICT")


def journal(file: sqlite3.Connection) -> None:
    """What was decided, by rounds. Documents lie in tables with a row number: the longer ones would not fit
    into the pages of a table without.
    """
    file.execute("CREATE TABLE settings (number INTEGER PRIMARY KEY, version TEXT NOT NULL UNIQUE) STRICT")
    file.execute(
        "CREATE TABLE round (number INTEGER PRIMARY KEY, at INTEGER NOT NULL, settings INTEGER NOT NULL,"
        " upto_arrival INTEGER NOT NULL) STRICT"
    )
    file.execute("CREATE TABLE counter (name TEXT PRIMARY KEY, next INTEGER NOT NULL) STRICT, WITHOUT ROWID")
    file.execute("INSERT INTO counter VALUES ('alarm', 1), ('notice', 1)")
    file.execute(
        "CREATE TABLE standing (id INTEGER PRIMARY KEY, kind TEXT NOT NULL, key TEXT NOT NULL, body TEXT NOT NULL,"
        " UNIQUE (kind, key)) STRICT"
    )
    file.execute("CREATE TABLE alarm (number INTEGER PRIMARY KEY, body TEXT NOT NULL) STRICT")
    file.execute(
        "CREATE TABLE transition (id INTEGER PRIMARY KEY, at INTEGER NOT NULL, body TEXT NOT NULL) STRICT"
    )
    file.execute("CREATE INDEX transition_at ON transition (at)")
    file.execute("CREATE TABLE past_episode (id INTEGER PRIMARY KEY, body TEXT NOT NULL) STRICT")
    file.execute("CREATE TABLE advice (id INTEGER PRIMARY KEY, place TEXT NOT NULL, body TEXT NOT NULL) STRICT")
    file.execute("CREATE INDEX advice_place ON advice (place)")
    file.execute(
        "CREATE TABLE decision (id INTEGER PRIMARY KEY, alarm INTEGER NOT NULL, body TEXT NOT NULL) STRICT"
    )
    file.execute("CREATE INDEX decision_alarm ON decision (alarm)")
    file.execute(
        "CREATE TABLE untold (id INTEGER PRIMARY KEY, person TEXT NOT NULL, place TEXT NOT NULL,"
        " body TEXT NOT NULL) STRICT"
    )
    file.execute("CREATE TABLE diary (id INTEGER PRIMARY KEY, at INTEGER NOT NULL, body TEXT NOT NULL) STRICT")
    file.execute("CREATE INDEX diary_at ON diary (at)")


def telling(file: sqlite3.Connection) -> None:
    """What goes out to people and what comes back from them."""
    file.execute("CREATE TABLE notice (number INTEGER PRIMARY KEY, body TEXT NOT NULL) STRICT")
    file.execute(
        "CREATE TABLE post (notice INTEGER NOT NULL, position INTEGER NOT NULL, channel TEXT NOT NULL,"
        " state TEXT NOT NULL, tries INTEGER NOT NULL, next_try INTEGER NOT NULL, last_error TEXT NOT NULL,"
        " sent_at INTEGER, PRIMARY KEY (notice, position), UNIQUE (notice, channel)) STRICT, WITHOUT ROWID"
    )
    file.execute("CREATE INDEX post_waiting ON post (notice, position) WHERE state = 'waiting'")
    file.execute(
        "CREATE TABLE request (id INTEGER PRIMARY KEY, at INTEGER NOT NULL, who TEXT NOT NULL, what TEXT NOT NULL,"
        " alarm INTEGER NOT NULL, note TEXT NOT NULL, round INTEGER) STRICT"
    )
    file.execute("CREATE INDEX request_open ON request (id) WHERE round IS NULL")


def asking(file: sqlite3.Connection) -> None:
    """A request carries what else belongs to it."""
    file.execute("ALTER TABLE request ADD COLUMN body TEXT NOT NULL DEFAULT '{}'")


def stories(file: sqlite3.Connection) -> None:
    """Every step of one alarm is found by its number."""
    file.execute("ALTER TABLE transition ADD COLUMN alarm INTEGER NOT NULL DEFAULT 0")
    file.execute("UPDATE transition SET alarm = json_extract(body, '$.number')")
    file.execute("CREATE INDEX transition_alarm ON transition (alarm)")


def accepting(file: sqlite3.Connection) -> None:
    """Every version of the settings, and each taking up of one. `packed` is zlib over JSON: texts repeat themselves."""
    file.execute(
        "CREATE TABLE accepted (number INTEGER PRIMARY KEY, at INTEGER NOT NULL, digest TEXT NOT NULL,"
        " rules TEXT NOT NULL, packed BLOB NOT NULL, UNIQUE (digest, rules)) STRICT"
    )
    file.execute(
        "CREATE TABLE taken_up (id INTEGER PRIMARY KEY, number INTEGER NOT NULL, body TEXT NOT NULL) STRICT"
    )


def shipping(file: sqlite3.Connection) -> None:
    """Where readings go on to a database: `ship` is the arrival number that goes next, and a probe's readings older than
    `before` lie there, and here no more unless they came late. `series` says under which tags they lie,
    `ghost` which points there are nothing: their time turned out to be off, and they were sent anew.
    """
    file.execute("INSERT INTO counter VALUES ('ship', 1)")
    file.execute("CREATE TABLE pruned (probe INTEGER PRIMARY KEY, before INTEGER NOT NULL) STRICT")
    file.execute("CREATE TABLE series (tag TEXT NOT NULL UNIQUE, probe INTEGER NOT NULL) STRICT")
    file.execute("CREATE INDEX series_probe ON series (probe)")
    file.execute(
        "CREATE TABLE ghost (probe INTEGER NOT NULL, at INTEGER NOT NULL, arrival INTEGER NOT NULL,"
        " PRIMARY KEY (probe, at, arrival)) STRICT, WITHOUT ROWID"
    )


def hours(file: sqlite3.Connection) -> None:
    """Hours summed up: `hour` counts since 1970, values in steps; up to when that is done for each probe; and hours into which
    something came afterwards, with the newest arrival.
    """
    file.execute(
        "CREATE TABLE hour (probe INTEGER NOT NULL, hour INTEGER NOT NULL, count INTEGER NOT NULL, total INTEGER NOT NULL,"
        " low INTEGER NOT NULL, high INTEGER NOT NULL, PRIMARY KEY (probe, hour)) STRICT, WITHOUT ROWID"
    )
    file.execute("CREATE TABLE summed (probe INTEGER PRIMARY KEY, upto INTEGER NOT NULL) STRICT")
    file.execute(
        "CREATE TABLE unsummed (probe INTEGER NOT NULL, hour INTEGER NOT NULL, arrival INTEGER NOT NULL,"
        " PRIMARY KEY (probe, hour)) STRICT, WITHOUT ROWID"
    )


def beside(file: sqlite3.Connection) -> None:
    """What messages say of whatever sends them, by topic: battery and signal, as the newest that told it."""
    file.execute(
        "CREATE TABLE beside (topic TEXT PRIMARY KEY, battery REAL, battery_unit TEXT NOT NULL, signal REAL,"
        " signal_unit TEXT NOT NULL) STRICT, WITHOUT ROWID"
    )


Step = Callable[[sqlite3.Connection], None]

STEPS: tuple[Step, ...] = (readings, journal, telling, asking, stories, accepting, shipping, hours, beside)


def version_of(file: sqlite3.Connection, path: object) -> int:
    """How many steps the file has seen; 0 for an empty one. Changes nothing.

    Raises StoreBroken for a file that is not ours and StoreNewer for one with more steps than we know.
    """
    (application,) = file.execute("PRAGMA application_id").fetchone()
    (version,) = file.execute("PRAGMA user_version").fetchone()
    (tables,) = file.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    if application != APPLICATION and (tables or application or version):
        raise StoreBroken(f"{path} is a database of something else: name another file for the store")
    if version > len(STEPS):
        raise StoreNewer(
            f"{path} was written by a newer Vermistat (its file has version {version}, this one knows"
            f" {len(STEPS)}): install that one again, or name another file for the store"
        )
    return int(version)


def bring_up_to_date(file: sqlite3.Connection, path: object, now: Millis = 0) -> list[str]:
    """Take every step the file has not seen; their names. `now` is noted beside each.

    The connection must be in autocommit mode. Raises as `version_of` does, having changed nothing.
    """
    version = version_of(file, path)
    if version == 0:
        file.execute(f"PRAGMA page_size = {PAGE}")
        file.execute("PRAGMA auto_vacuum = NONE")
    file.execute("PRAGMA journal_mode = WAL")
    taken = []
    for number, step in enumerate(STEPS[version:], start=version + 1):
        file.execute("BEGIN IMMEDIATE")
        try:
            _take(file, number, step, now)
            file.execute("COMMIT")
        except BaseException:
            if file.in_transaction:
                file.execute("ROLLBACK")
            raise
        taken.append(step.__name__)
    return taken


def _take(file: sqlite3.Connection, number: int, step: Step, now: Millis) -> None:
    file.execute(f"PRAGMA application_id = {APPLICATION}")
    file.execute(
        "CREATE TABLE IF NOT EXISTS migration (number INTEGER PRIMARY KEY, name TEXT NOT NULL,"
        " at INTEGER NOT NULL) STRICT"
    )
    step(file)
    file.execute("INSERT INTO migration VALUES (?, ?, ?)", (number, step.__name__, now))
    file.execute(f"PRAGMA user_version = {number}")
