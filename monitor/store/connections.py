"""The one file: how it is opened, locked, written by one thread and read by many, and what its errors mean."""

from __future__ import annotations

import contextlib
import fcntl
import os
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

from monitor.errors import BadValue, StoreBroken, StoreBusy, StoreError, StoreFull, StoreTaken
from monitor.readings import Millis
from monitor.store.migrations import STEPS, bring_up_to_date, version_of

T = TypeVar("T")

SYNCHRONOUS = "FULL"
"""NORMAL lost every acknowledged row at a power cut, FULL none (tests/store/test_power_cut.py)."""

CHECKPOINT = 4000
"""Pages in the WAL before it is written home: a page that changes every minute is then written home once in
hours, which saves half a megabyte a day against SQLite's 1000. 4 MB are read back quickly after a power cut."""

WAL_LIMIT = 16 * 1024 * 1024
"""Bytes the WAL file is cut back to after it once had to grow."""


PAGES_IN_MEMORY = 512
"""KiB of pages that a connection remembers, instead of SQLite's 2000: there are several connections, and what they
write and read is mostly the newest. More is left to the kernel, which gives it back when memory runs short."""


class Connections:
    """The file as connections. Writers call `_write` or `_on_writer`, readers `_read`."""

    def __init__(self, path: str | Path, *, read_only: bool = False, now: Millis = 0, busy_ms: int = 5000) -> None:
        """Open `path`, or make it. `now` is noted with the migrations; `busy_ms` is how long a lock is waited for.

        Raises StoreTaken when another daemon holds it, StoreNewer, StoreBroken, StoreFull, StoreBusy.
        """
        self.path = Path(path).resolve()
        self.read_only = read_only
        self._busy_ms = busy_ms
        self._closed = False
        self._pool: list[sqlite3.Connection] = []
        self._pool_lock = threading.Lock()
        if read_only:
            self._look()
        else:
            self._take(now)

    def _look(self) -> None:
        if not self.path.exists():
            raise StoreBroken(f"{self.path} is not there: nothing has been kept yet, or it has another name")
        with translated(self.path):
            reader = self._open_reader()
            try:
                if version_of(reader, self.path) < len(STEPS):
                    raise StoreError(f"{self.path} is of an older Vermistat: start the daemon once to bring it up")
            finally:
                reader.close()

    def _take(self, now: Millis) -> None:
        from concurrent.futures import ThreadPoolExecutor  # only who writes needs it

        self._lock = locked(self.path)
        try:
            with translated(self.path):
                self._connection = self._open(writing=True)
                try:
                    bring_up_to_date(self._connection, self.path, now)
                except BaseException:
                    self._connection.close()
                    raise
            self._writer = ThreadPoolExecutor(1, thread_name_prefix="store-writer")
        except BaseException:
            os.close(self._lock)
            raise

    def _open(self, *, writing: bool, mode: str = "rwc") -> sqlite3.Connection:
        connection = sqlite3.connect(
            f"{self.path.as_uri()}?mode={mode}",
            uri=True,
            timeout=self._busy_ms / 1000,
            isolation_level=None,
            check_same_thread=False,
        )
        try:
            for pragma in (f"cache_size = -{PAGES_IN_MEMORY}", *(_writers() if writing else ("query_only = ON",))):
                connection.execute(f"PRAGMA {pragma}")
        except BaseException:
            connection.close()
            raise
        return connection

    def _open_reader(self) -> sqlite3.Connection:
        """Whoever may write the file also gets at what a killed daemon left in its WAL. On a card that has turned
        read-only a file without a WAL is nobody's to change, and is read as it lies.
        """
        mode = "rw"
        if not os.access(self.path, os.W_OK):
            mode = "ro" if self.path.with_name(self.path.name + "-wal").exists() else "ro&immutable=1"
        return self._open(writing=False, mode=mode)

    def _on_writer(self, work: Callable[[sqlite3.Connection], T]) -> T:
        """Run `work` on the writer's thread and connection and wait for it; its exceptions come here."""
        if self.read_only:
            raise StoreError(f"{self.path} is open for reading only")
        return self._handed_over(lambda: self._guarded(work))

    def _handed_over(self, job: Callable[[], T]) -> T:
        try:
            future = self._writer.submit(job)
        except RuntimeError as error:
            raise StoreError(f"{self.path} is closed") from error
        return future.result()

    def _guarded(self, work: Callable[[sqlite3.Connection], T]) -> T:
        with translated(self.path):
            return work(self._connection)

    def _write(self, work: Callable[[sqlite3.Connection], T]) -> T:
        """Run `work` on the writer's thread in one transaction and wait until it is durable."""

        def whole(file: sqlite3.Connection) -> T:
            with transaction(file):
                return work(file)

        return self._on_writer(whole)

    def _write_with_the_next(self, work: Callable[[sqlite3.Connection], T]) -> T:
        """As `_write`, but durable only with whatever is written durably next, and never before what was written
        earlier. Saves a third of all bytes to the card on a quiet day.
        """

        def whole(file: sqlite3.Connection) -> T:
            file.execute("PRAGMA synchronous = NORMAL")
            try:
                with transaction(file):
                    return work(file)
            finally:
                file.execute(f"PRAGMA synchronous = {SYNCHRONOUS}")

        return self._on_writer(whole)

    def _write_unlocked(self, work: Callable[[sqlite3.Connection], T]) -> T:
        """A short transaction that needs no lock on the store: on the writer when we have one."""
        if not self.read_only:
            return self._write(work)
        self._refuse_if_closed()
        with translated(self.path):
            file = self._open(writing=True, mode="rw")
            try:
                with transaction(file):
                    return work(file)
            finally:
                file.close()

    def _read(self, work: Callable[[sqlite3.Connection], T]) -> T:
        """Run `work` on a connection of its own, in one snapshot; never waits for the writer."""
        self._refuse_if_closed()
        with translated(self.path):
            with self._pool_lock:
                reader = self._pool.pop() if self._pool else None
            reader = reader or self._open_reader()
            try:
                reader.execute("BEGIN")
                answer = work(reader)
                reader.execute("COMMIT")
            except BaseException:
                reader.close()
                raise
            self._give_back(reader)
            return answer

    def _all(self, sql: str, *values: object) -> list[tuple[Any, ...]]:
        """Every row of one question."""
        return self._read(lambda file: file.execute(sql, values).fetchall())

    def _give_back(self, reader: sqlite3.Connection) -> None:
        with self._pool_lock:
            if not self._closed:
                self._pool.append(reader)
                return
        reader.close()

    def _refuse_if_closed(self) -> None:
        if self._closed:
            raise StoreError(f"{self.path} is closed")

    def close(self) -> None:
        """Finish what was begun and let go of the lock; closing twice is no error."""
        with self._pool_lock:
            if self._closed:
                return
            self._closed = True
            readers, self._pool = self._pool, []
        for reader in readers:
            reader.close()
        if not self.read_only:
            self._writer.shutdown(wait=True)
            self._connection.close()
            os.close(self._lock)


def _writers() -> tuple[str, ...]:
    return (
        f"synchronous = {SYNCHRONOUS}",
        "secure_delete = OFF",  # Debian's default writes every freed page once more
        f"wal_autocheckpoint = {CHECKPOINT}",
        f"journal_size_limit = {WAL_LIMIT}",
    )


@contextmanager
def transaction(file: sqlite3.Connection) -> Iterator[None]:
    """All of it or nothing; durable when left."""
    file.execute("BEGIN IMMEDIATE")
    try:
        yield
        file.execute("COMMIT")
    except BaseException:
        if file.in_transaction:
            with contextlib.suppress(sqlite3.Error):  # the first error is the one to tell
                file.execute("ROLLBACK")
        raise


def locked(path: Path) -> int:
    """A file descriptor that holds the store's lock; the kernel lets go of it when the process ends, however. Raises StoreTaken.

    The lock lies on a file beside the store: closing a second descriptor of the store itself would drop SQLite's
    own locks (sqlite.org/howtocorrupt.html, 2.2).
    """
    beside = path.with_name(path.name + ".lock")
    try:
        lock = os.open(beside, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
    except OSError as error:
        raise StoreBroken(
            f"{beside} cannot be opened ({error.strerror}): look at the folder and its owner"
        ) from error
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        holder = os.read(lock, 20).decode(errors="replace").strip()
        os.close(lock)
        raise StoreTaken(
            f"{path} is held by process {holder or 'unknown'}: two daemons cannot share it"
        ) from error
    with contextlib.suppress(OSError):  # the number only helps whoever is refused
        os.ftruncate(lock, 0)
        os.pwrite(lock, b"%d\n" % os.getpid(), 0)
    return lock


@contextmanager
def translated(path: Path) -> Iterator[None]:
    """SQLite's errors as ours."""
    try:
        yield
    except sqlite3.Error as error:
        raise _ours(error, path) from error
    except (OverflowError, UnicodeEncodeError) as error:
        raise BadValue(f"a value that cannot be kept: {error}") from error


FULL = (StoreFull, "the disk that holds {path} is full; nothing was written: make room on it")
DAMAGED = (
    StoreBroken,
    "{path} is damaged or is not a store ({error}): stop Vermistat, put the file aside without deleting it, and"
    " put a copy from before in its place or begin a new one",
)
CLOSED_TO_US = (
    StoreBroken,
    "{path} cannot be opened for what is wanted ({error}): look at its folder and its owner, and whether the card"
    " can still be written",
)
MEANINGS: dict[int, tuple[type[StoreError], str]] = {
    sqlite3.SQLITE_BUSY: (StoreBusy, "{path} is locked by another program; it may be free in a moment"),
    sqlite3.SQLITE_LOCKED: (StoreBusy, "{path} is locked by another program; it may be free in a moment"),
    sqlite3.SQLITE_FULL: FULL,
    sqlite3.SQLITE_CORRUPT: DAMAGED,
    sqlite3.SQLITE_NOTADB: DAMAGED,
    sqlite3.SQLITE_CANTOPEN: CLOSED_TO_US,
    sqlite3.SQLITE_READONLY: CLOSED_TO_US,
    sqlite3.SQLITE_PERM: CLOSED_TO_US,
    sqlite3.SQLITE_IOERR: (
        StoreBroken,
        "{path} cannot be read or written ({error}): the card may be failing, copy the file off it",
    ),
}
"""What SQLite's primary result codes mean to us (sqlite.org/rescode.html)."""


def _ours(error: sqlite3.Error, path: Path) -> StoreError:
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # above the low byte stands the detail
    kind, words = MEANINGS.get(code, (StoreError, "{path}: {error}"))
    if code in (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN) and _disk_full(path):
        kind, words = FULL
    return kind(words.format(path=path, error=error))


def _disk_full(path: Path) -> bool:
    """Whether there is no room for a step of the WAL index (32 KiB) and a little more."""
    with contextlib.suppress(OSError):
        disk = os.statvfs(path.parent)
        return disk.f_bavail * disk.f_frsize < 65_536
    return False
