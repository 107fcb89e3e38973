"""A backup made and looked into: the store as it was at one moment, the settings' files, and a manifest with their hashes.

It is written under another name, read back from the disk, and takes its own name only when all of it is as it should be.
"""

from __future__ import annotations

import fcntl
import os
import re
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.addresses import Backup
from monitor.backups import (
    MANIFEST,
    OUTSIDE,
    PARTIAL,
    SETTINGS,
    STORE,
    File,
    Made,
    Manifest,
    name_of,
    of_site,
    superseded,
    understood,
    written,
)
from monitor.changing import secrets_of, without_secrets
from monitor.errors import RequestError, StoreBroken, StoreNewer
from monitor.readings import Millis
from monitor.store.copying import Ended, copy, hashed, look_into, synced

if TYPE_CHECKING:
    from monitor.settings import Settings

ROOM = 4 << 20
"""Bytes that must be left on the place besides the copy itself."""
BESIDE = "backups"
"""The folder beside the store that takes them when no other place is named."""


def back_up(
    settings: Settings,
    store: Path,
    wish: Backup,
    *,
    at: Millis,
    program: str,
    going_on: Callable[[], bool] = lambda: True,
    rest: Callable[[], None] = lambda: None,
) -> Made:
    """Make one backup, and remove those that it makes superfluous.

    `rest` is called after each small step of the copy; when `going_on` says no, what was begun is removed and Ended is raised.
    Raises RequestError when the place is not as it must be, StoreError, OSError.
    """
    site, zone = settings.rules.site.id, settings.rules.site.timezone
    texts = without_secrets(settings.texts, secrets_of(settings))
    place = _place(wish, store)

    def step() -> None:
        if not going_on():
            raise Ended(str(place))
        rest()

    with _alone_in(place, site):
        _sweep(place, site)
        _has_room(place, store, sum(len(text.encode()) for _, text in texts))
        name = name_of(site, at)
        if (place / name).exists():
            raise RequestError(f"{place / name} is there already, made in this very second")
        begun = place / (name + PARTIAL)
        begun.mkdir(mode=0o700)
        try:
            copy(store, begun / STORE, rest=step)
            manifest = _described(settings, begun, texts, at, program=program, going_on=going_on)
            _checked_again(begun, manifest, going_on)
            begun.rename(place / name)
            synced(place)
        except BaseException:
            shutil.rmtree(begun, ignore_errors=True)
            raise
        removed = _rotated(place, site, wish, zone)
        there = tuple(of_site(folders(place), site))
    return Made(place / name, manifest, there, removed, _same_disk(place, store))


def _place(wish: Backup, store: Path) -> Path:
    if not store.exists():
        raise StoreBroken(f"{store} is not there: nothing has been kept yet, or it has another name")
    if wish.to is None:
        place = store.parent / BESIDE
        place.mkdir(mode=0o700, exist_ok=True)
    else:
        place = Path(wish.to).absolute()
        _is_there(place)
        if not wish.same_disk and _same_disk(place, store):
            raise RequestError(
                f"{place} lies on the disk of the store or of the system: is nothing mounted there? Mount the other disk, or"
                " say that this is what you want (same_disk: true, on the command --same-disk)"
            )
    return place


def _is_there(place: Path) -> None:
    if not place.exists():
        raise RequestError(f"{place} is not there, and is not made: is the other disk mounted?")
    if not place.is_dir():
        raise RequestError(f"{place} is no folder: name the folder that takes the backups")


def _same_disk(place: Path, store: Path) -> bool:
    return place.stat().st_dev in {store.parent.stat().st_dev, Path("/").stat().st_dev}


def _has_room(place: Path, store: Path, more: int) -> None:
    wal = store.with_name(store.name + "-wal")
    needed = store.stat().st_size + (wal.stat().st_size if wal.exists() else 0) + more + ROOM
    disk = os.statvfs(place)
    free = disk.f_bavail * disk.f_frsize
    if free < needed:
        raise RequestError(
            f"{place} has {megabytes(free)} left and {megabytes(needed)} are wanted: make room there, or keep fewer days and"
            " weeks"
        )


def megabytes(count: int) -> str:
    """Bytes as they are said: "12.3 MB"."""
    return f"{count / 1e6:.1f} MB"


@contextmanager
def _alone_in(place: Path, site: str) -> Iterator[None]:
    """Nobody else makes a backup of this site there meanwhile, as far as the place knows locks."""
    try:
        lock = os.open(place / f".vermistat-{site}.lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    except OSError as error:
        raise RequestError(
            f"{place} cannot be written by whoever runs this ({(error.strerror or '').lower()}): look at its owner, and whether"
            " it is mounted read-only (a service may write only where its unit says so: ReadWritePaths)"
        ) from error
    try:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            raise RequestError(f"another backup is being made in {place} right now: let it end") from error
        except OSError:
            pass  # a share that knows no locks
        yield
    finally:
        os.close(lock)


def folders(place: Path) -> list[str]:
    """The names of the folders in a place."""
    return [one.name for one in place.iterdir() if one.is_dir() and not one.is_symlink()]


def _sweep(place: Path, site: str) -> None:
    """What a backup that was cut off has left behind is none."""
    for name in folders(place):
        if name.endswith(PARTIAL) and of_site([name.removesuffix(PARTIAL)], site):
            shutil.rmtree(place / name)


def _rotated(place: Path, site: str, wish: Backup, zone: str) -> tuple[str, ...]:
    gone = superseded(of_site(folders(place), site), days=wish.days, weeks=wish.weeks, zone=zone)
    for one in gone:
        (place / one.name).rename(place / (one.name + PARTIAL))  # half removed it must not look like one
        shutil.rmtree(place / (one.name + PARTIAL))
    return tuple(one.name for one in gone)


def _described(
    settings: Settings,
    begun: Path,
    texts: Sequence[tuple[str, str]],
    at: Millis,
    *,
    program: str,
    going_on: Callable[[], bool],
) -> Manifest:
    """The settings and the manifest beside the copy; every file durable. Raises StoreBroken when the copy is damaged."""
    contents = look_into(begun / STORE, going_on=going_on)
    names = [STORE, *(_settled(begun, name, text) for name, text in texts)]
    database = settings.database
    manifest = Manifest(
        site=settings.rules.site.id,
        made_at=at,
        program=program,
        schema=contents.version,
        rows=contents.rows,
        first=contents.first,
        last=contents.last,
        files=tuple(
            File(name, (begun / name).stat().st_size, hashed(begun / name, going_on=going_on)) for name in names
        ),
        secrets=fetched_from_elsewhere(texts),
        elsewhere=f"{database.bucket} at {database.url}" if database else "",
    )
    _durable(begun / MANIFEST, written(manifest).encode())
    for folder in {begun, *(file.parent for file in begun.rglob("*"))}:
        synced(folder)
    return manifest


def _settled(begun: Path, name: str, text: str) -> str:
    inside = f"{SETTINGS}/{name.replace('..', OUTSIDE)}"
    (begun / inside).parent.mkdir(parents=True, exist_ok=True)
    _durable(begun / inside, text.encode())
    return inside


def _durable(path: Path, body: bytes) -> None:
    with path.open("xb") as file:
        file.write(body)
        file.flush()
        os.fsync(file.fileno())


def fetched_from_elsewhere(texts: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    """The names of files and variables that these settings fetch secrets and certificates from, which no backup holds."""
    shape = re.compile(r"^[^#\n]*?\b(?:from_file|from_env|ca_file):\s*[\"']?([^\s\"',}#]+)", re.MULTILINE)
    return tuple(dict.fromkeys(name for _, text in texts for name in shape.findall(text)))


def _checked_again(folder: Path, manifest: Manifest, going_on: Callable[[], bool]) -> None:
    """Raises StoreBroken when the disk gives back anything but what was written."""
    for file in manifest.files:
        path = folder / file.name
        if not path.is_file():
            raise StoreBroken(f"{folder} is damaged: {file.name} is missing")
        if path.stat().st_size != file.bytes or hashed(path, anew=True, going_on=going_on) != file.sha256:
            raise StoreBroken(f"{folder} is damaged: {file.name} is not what was written; name an earlier one")


def looked_at(folder: Path, *, going_on: Callable[[], bool] = lambda: True) -> Manifest:
    """What a backup says of itself, once all of it was found to be true: every file by its hash, the store by its own check,
    its rows counted. Raises StoreBroken, StoreNewer.
    """
    try:
        text = (folder / MANIFEST).read_text(encoding="utf-8")
    except (FileNotFoundError, NotADirectoryError):
        raise RequestError(f"{folder} is no backup: there is no {MANIFEST} in it") from None
    except UnicodeDecodeError as error:
        raise StoreBroken(f"{folder} is damaged, or no backup: its manifest cannot be read") from error
    manifest = understood(text, str(folder))
    _checked_again(folder, manifest, going_on)
    try:
        contents = look_into(folder / STORE, going_on=going_on)
    except StoreNewer as error:
        raise StoreNewer(
            f"{folder} was made by a newer Vermistat ({manifest.program}): install that one to restore it"
        ) from error
    if (contents.version, contents.rows) != (manifest.schema, dict(manifest.rows)):
        raise StoreBroken(f"{folder} is damaged: its store does not hold what its manifest says")
    return manifest


def newest_in(source: Path, site: str) -> Path:
    """The backup that is meant: this folder itself, or the newest of the site in it. Raises RequestError."""
    source = source.absolute()
    _is_there(source)
    if (source / MANIFEST).exists():
        return source
    found = of_site(folders(source), site)
    if not found:
        raise RequestError(f"there is no backup of {site} in {source}")
    return source / found[-1].name
