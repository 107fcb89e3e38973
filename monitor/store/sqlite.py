"""Everything a site keeps, in one SQLite file beside which the daemon holds a lock.

WAL with `synchronous = FULL`: what is acknowledged has been fsynced. One thread writes; readers, also those of
other processes, are never in its way nor it in theirs.
"""

from __future__ import annotations

from monitor.store.sqlite_hours import SqliteHours
from monitor.store.sqlite_journal import SqliteJournal
from monitor.store.sqlite_outbox import SqliteOutbox, SqliteRequests
from monitor.store.sqlite_shift import SqliteShift
from monitor.store.sqlite_versions import SqliteVersions


class SqliteStore(SqliteHours, SqliteShift, SqliteVersions, SqliteJournal, SqliteRequests, SqliteOutbox):
    """`promises.Store` in one SQLite file.

    `SqliteStore(path)` is the daemon's: it makes the file if need be, brings it up to date and takes the lock.
    `SqliteStore(path, read_only=True)` is for everybody else: no lock, no change, but `ask`.
    """
