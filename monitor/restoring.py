"""A backup put back in place of the store, which is kept beside it."""

from __future__ import annotations

import contextlib
import os
import shutil
from datetime import UTC, datetime
from pathlib import Path

from monitor.backups import OUTSIDE, SETTINGS, STORE, Back, Manifest
from monitor.errors import RequestError, StoreBroken
from monitor.readings import SECOND, Millis
from monitor.store.copying import hashed, nobody_elses, settle, synced


def put_back(folder: Path, manifest: Manifest, store: Path, *, at: Millis) -> Back:
    """The store of a backup that was looked at, in place of `store`. At no moment is there neither.

    Whatever was signed for the page until now ends: numbers of alarms and notices go on from where they were then, and a link
    to an old one must not open a new one. Raises StoreTaken while a daemon runs, StoreBroken, RequestError, OSError.
    """
    store.parent.mkdir(parents=True, exist_ok=True)
    with nobody_elses(store):
        fresh = _brought(folder / STORE, store, manifest)
        try:
            kept = _put_aside(store, at) if store.exists() else None
            os.replace(fresh, store)
            synced(store.parent)
        except BaseException:
            fresh.unlink(missing_ok=True)
            raise
        store.with_suffix(".key").unlink(missing_ok=True)
    return Back(store, kept)


def _brought(source: Path, store: Path, manifest: Manifest) -> Path:
    """A copy beside the store, durable and compared once more."""
    fresh = store.with_name(store.name + ".restoring")
    disk = os.statvfs(store.parent)
    if disk.f_bavail * disk.f_frsize < source.stat().st_size:
        raise RequestError(f"there is no room for it in {store.parent}: nothing was changed")
    try:
        shutil.copyfile(source, fresh)
        was = (store if store.exists() else store.parent).stat()
        with contextlib.suppress(PermissionError):
            os.chown(fresh, was.st_uid, was.st_gid)
        fresh.chmod(was.st_mode & 0o666)
        synced(fresh)
        (wanted,) = (file.sha256 for file in manifest.files if file.name == STORE)
        if hashed(fresh, anew=True) != wanted:
            raise StoreBroken(f"{fresh} is not what was read from the backup: is the card failing?")
    except BaseException:
        fresh.unlink(missing_ok=True)
        raise
    return fresh


def _put_aside(store: Path, at: Millis) -> Path:
    """A second name for the store as it is now; where it was is only freed by what takes its place.

    What lies in its WAL is written home first: a WAL that stayed behind would be taken for that of the store put back. One
    that is damaged cannot be made one file; then its WAL is kept with it, from before SQLite looked at it, which may delete it.
    """
    kept = _free_name(store, at)
    wal, kept_wal = store.with_name(store.name + "-wal"), kept.with_name(kept.name + "-wal")
    if wal.exists():
        shutil.copy2(wal, kept_wal)
    if settle(store):
        kept_wal.unlink(missing_ok=True)
    for end in ("-wal", "-shm"):
        store.with_name(store.name + end).unlink(missing_ok=True)
    try:
        os.link(store, kept)
    except OSError:  # a file system without second names
        store.rename(kept)
    return kept


def _free_name(store: Path, at: Millis) -> Path:
    stamp = f"{datetime.fromtimestamp(at // SECOND, UTC):%Y%m%dT%H%M%SZ}"
    for number in range(1000):
        kept = store.with_name(f"{store.name}.before-{stamp}{f'-{number}' if number else ''}")
        if not kept.exists():
            return kept
    raise RequestError(f"too many earlier stores are kept in {store.parent}: put some elsewhere")


def differing(folder: Path, manifest: Manifest, texts: tuple[tuple[str, str], ...]) -> list[str]:
    """The settings' files that say something else now than then, or are there only now or only then."""
    then = {name.replace(OUTSIDE, ".."): (folder / SETTINGS / name).read_bytes() for name in manifest.settings}
    now = {name: text.encode() for name, text in texts}
    return sorted(name for name in {*then, *now} if then.get(name) != now.get(name))
