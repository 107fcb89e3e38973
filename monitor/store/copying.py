"""The one file copied while it is in use, and a copy looked into. Everything here works on files that nobody else holds, but
for the source of a copy.
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from monitor.errors import StoreBroken, StoreError, StoreTaken
from monitor.readings import Millis
from monitor.store.connections import locked, translated
from monitor.store.migrations import version_of

STEP = 256
"""Pages copied at once: a quarter of a megabyte, some milliseconds of a card."""
CHUNK = 1 << 20
"""Bytes hashed at once."""
TICKS = 20_000
"""Instructions of SQLite between two questions whether to go on."""


@dataclass(frozen=True, slots=True)
class Contents:
    """What a store's file holds: its schema's version, rows by table, and the times of its first and last reading."""

    version: int
    rows: dict[str, int]
    first: Millis | None
    last: Millis | None

    @property
    def readings(self) -> int:
        """How many readings lie in it."""
        return self.rows.get("reading", 0) + self.rows.get("arrived", 0)


class Ended(StoreError):
    """Whoever asked for the work wants it no more."""


def copy(source: Path, to: Path, *, rest: Callable[[], None] = lambda: None) -> None:
    """Make `to`, one file without a WAL, from everything that is committed in `source` at this moment.

    One snapshot is read in small steps: whoever writes meanwhile neither waits nor is seen (sqlite.org/isolation.html), but
    their WAL is not written home until the end. `rest` is called after each step, and may raise to end it. Raises StoreError.
    """
    with translated(source), closing(_reader(source)) as reader:
        reader.execute("BEGIN")
        version_of(reader, source)  # a transaction's snapshot is that of its first read
        with _of_either(source, to), closing(_alone(to, "rwc")) as copied:
            copied.execute("PRAGMA synchronous = OFF")  # synced once, at the end
            reader.backup(copied, pages=STEP, progress=lambda *_: rest())
    with translated(to), closing(_alone(to, "rw")) as copied:
        (mode,) = copied.execute("PRAGMA journal_mode = DELETE").fetchone()
    if mode != "delete":
        raise StoreBroken(f"{to} could not be made one file of its own (it stays in mode {mode})")
    synced(to)


@contextmanager
def _of_either(source: Path, to: Path) -> Iterator[None]:
    """SQLite's words do not say whose error it was: damage is the source's, what is lacking is the copy's."""
    try:
        yield
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF
        if code == sqlite3.SQLITE_IOERR:
            raise StoreBroken(
                f"{source} could not be copied to {to} ({error}): one of the two can no longer be read or written"
            ) from error
        with translated(source if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB) else to):
            raise


def _reader(source: Path) -> sqlite3.Connection:
    """As `Connections` reads: whoever may write the file also gets at what a killed daemon left in its WAL."""
    if not source.exists():
        raise StoreBroken(f"{source} is not there: nothing has been kept yet, or it has another name")
    mode = "rw"
    if not os.access(source, os.W_OK):
        mode = "ro" if source.with_name(source.name + "-wal").exists() else "ro&immutable=1"
    reader = sqlite3.connect(f"{source.resolve().as_uri()}?mode={mode}", uri=True, isolation_level=None)
    reader.execute("PRAGMA query_only = ON")
    return reader


def _alone(path: Path, mode: str) -> sqlite3.Connection:
    """A file that is ours alone, also where its file system knows no locks (a share in the network)."""
    connection = sqlite3.connect(
        f"{path.resolve().as_uri()}?mode={mode}&vfs=unix-none", uri=True, isolation_level=None
    )
    connection.execute("PRAGMA locking_mode = EXCLUSIVE")
    return connection


def look_into(path: Path, *, going_on: Callable[[], bool] = lambda: True) -> Contents:
    """What a copy holds, every page and index of it looked at. Changes nothing.

    Raises StoreBroken for one that is damaged or not ours, StoreNewer for one of a newer program, Ended when `going_on` says so.
    """
    if not path.is_file():
        raise StoreBroken(f"{path} is not there")
    with translated(path), closing(_alone(path, "ro&immutable=1")) as file:
        file.set_progress_handler(lambda: not going_on(), TICKS)
        try:
            return _contents(file, path)
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode == sqlite3.SQLITE_INTERRUPT:
                raise Ended(f"looking into {path} was ended") from error
            raise


def _contents(file: sqlite3.Connection, path: Path) -> Contents:
    version = version_of(file, path)
    if version == 0:
        raise StoreBroken(f"{path} is empty: nothing was ever kept in it")
    said = [str(row[0]) for row in file.execute("PRAGMA integrity_check(3)")]
    if said != ["ok"]:
        raise StoreBroken(f"{path} is damaged ({said[0].splitlines()[0]})")
    tables = [
        str(name)
        for (name,) in file.execute(
            "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%' ORDER BY name"
        )
    ]
    rows = {name: int(file.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0]) for name in tables}
    first, last = file.execute(
        "SELECT min(low), max(high) FROM (SELECT min(at) AS low, max(at) AS high FROM reading"
        " UNION ALL SELECT min(at), max(at) FROM arrived)"
    ).fetchone()
    return Contents(version, rows, first, last)


def hashed(path: Path, *, anew: bool = False, going_on: Callable[[], bool] = lambda: True) -> str:
    """The SHA-256 of a file that is no store in use. `anew` asks the disk itself once more, as far as it can be asked."""
    digest = hashlib.sha256()
    with path.open("rb") as file:
        if anew:
            os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
        while chunk := file.read(CHUNK):
            if not going_on():
                raise Ended(f"reading {path} was ended")
            digest.update(chunk)
    return digest.hexdigest()


def synced(path: Path) -> None:
    """A file, or the names in a folder, durable. Raises OSError."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def nobody_elses(path: Path) -> Iterator[None]:
    """The store's own lock, which a daemon holds as long as it runs. Raises StoreTaken when one does."""
    try:
        lock = locked(path)
    except StoreTaken as error:
        raise StoreTaken(f"{error}: end it first (as a service: systemctl stop vermistat)") from error
    try:
        yield
    finally:
        os.close(lock)


def settle(path: Path) -> bool:
    """Write home what lies in the WAL of a store that is ours alone, so that it is one file; whether that could be done."""
    try:
        with closing(sqlite3.connect(f"{path.as_uri()}?mode=rw", uri=True, timeout=1)) as file:
            (mode,) = file.execute("PRAGMA journal_mode = DELETE").fetchone()
    except sqlite3.Error:
        return False
    return bool(mode == "delete")
