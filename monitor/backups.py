"""Backups as they lie in a folder: how each is called, what its manifest says, and which of them are kept. Pure."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from monitor import words
from monitor.errors import StoreBroken, StoreNewer
from monitor.readings import DAY, SECOND, Millis

FORMAT = 1
"""How a backup is laid out; another number is another program's."""
MANIFEST = "manifest.json"
STORE = "store.db"
SETTINGS = "settings"
"""The folder of the settings' files inside a backup."""
OUTSIDE = "%2E%2E"
"""What stands for `..` in the name of a settings file that was included from elsewhere."""
PARTIAL = ".partial"
"""What a backup's name ends with until it is whole."""


@dataclass(frozen=True, slots=True)
class File:
    """One file of a backup, by its name inside it."""

    name: str
    bytes: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Manifest:
    """What a backup says of itself. `rows` is how many rows each table of the store has, `first` and `last` when its first and
    last readings were; `secrets` names what the settings fetch from elsewhere, `elsewhere` where older readings lie only.
    """

    site: str
    made_at: Millis
    program: str
    schema: int
    rows: Mapping[str, int]
    first: Millis | None
    last: Millis | None
    files: tuple[File, ...]
    secrets: tuple[str, ...] = ()
    elsewhere: str = ""

    @property
    def bytes(self) -> int:
        """All its files together."""
        return sum(file.bytes for file in self.files)

    @property
    def readings(self) -> int:
        """How many readings its store holds."""
        return self.rows.get("reading", 0) + self.rows.get("arrived", 0)

    @property
    def settings(self) -> tuple[str, ...]:
        """The settings' files, by their names beside each other."""
        return tuple(f.name.partition("/")[2] for f in self.files if f.name.startswith(f"{SETTINGS}/"))


def written(manifest: Manifest) -> str:
    """The manifest's text. Its `seal` is the SHA-256 of all the rest, so that no letter of it changes unseen."""
    facts = {"format": FORMAT, **asdict(manifest)}
    return json.dumps({**facts, "seal": _seal(facts)}, ensure_ascii=False, indent=1) + "\n"


def understood(text: str, name: str) -> Manifest:
    """A manifest out of its text; `name` is what it is called in an error. Raises StoreBroken and StoreNewer."""
    try:
        facts = json.loads(text)
        if facts["format"] > FORMAT:
            raise StoreNewer(f"{name} is a backup of a newer Vermistat: install that one to restore it")
        seal = facts.pop("seal")
        if seal != _seal(facts):
            raise StoreBroken(f"{name} is damaged: its manifest was changed after it was written")
        del facts["format"]
        files = tuple(File(**file) for file in facts.pop("files"))
        manifest = Manifest(**{**facts, "files": files, "secrets": tuple(facts.pop("secrets"))})
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise StoreBroken(f"{name} is damaged, or no backup: its manifest cannot be read") from error
    for file in manifest.files:
        if file.name.startswith("/") or ".." in file.name.split("/"):
            raise StoreBroken(f"{name} is damaged: it names a file outside of itself")
    return manifest


def _seal(facts: Mapping[str, Any]) -> str:
    plain = json.dumps(facts, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(plain.encode()).hexdigest()


@dataclass(frozen=True, slots=True, order=True)
class Named:
    """A backup by its folder's name."""

    at: Millis
    name: str


def name_of(site: str, at: Millis) -> str:
    """What the folder of a backup is called; no sign in it that a stick's file system does not know."""
    return f"vermistat-{site}-{datetime.fromtimestamp(at // SECOND, UTC):%Y%m%dT%H%M%SZ}"


def of_site(names: Iterable[str], site: str) -> list[Named]:
    """The backups of a site among the names in a folder, oldest first. What is called otherwise is none of ours."""
    shape = re.compile(rf"vermistat-{re.escape(site)}-([0-9]{{8}}T[0-9]{{6}}Z)")
    found = []
    for name in names:
        if match := shape.fullmatch(name):
            at = datetime.strptime(match[1], "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)
            found.append(Named(round(at.timestamp()) * SECOND, name))
    return sorted(found)


@dataclass(frozen=True, slots=True)
class Made:
    """A backup that was made: its folder, what it says of itself, those that lie there now (oldest first), those that were
    removed, and whether the place is the store's own disk.
    """

    folder: Path
    manifest: Manifest
    there: tuple[Named, ...]
    removed: tuple[str, ...]
    same_disk: bool


@dataclass(frozen=True, slots=True)
class Back:
    """What was put back: where the store lies, and where the one before is kept (None: there was none)."""

    store: Path
    kept: Path | None


def superseded(backups: Sequence[Named], *, days: int, weeks: int, zone: str) -> list[Named]:
    """Those that need not be kept: neither the newest of one of the last `days` days that have any, nor of one of the last
    `weeks` weeks (Monday to Sunday), nor made within a day of the newest. Days and weeks are those of `zone`.
    """
    newest_first = sorted(backups, reverse=True)
    if not newest_first:
        return []
    by_day: dict[object, Named] = {}
    by_week: dict[object, Named] = {}
    for one in newest_first:
        day = words.local(one.at, zone).date()
        by_day.setdefault(day, one)
        by_week.setdefault(day - timedelta(days=day.weekday()), one)
    kept = {*list(by_day.values())[:days], *list(by_week.values())[:weeks], newest_first[0]}
    recent = newest_first[0].at - DAY
    return sorted(one for one in backups if one not in kept and one.at <= recent)
