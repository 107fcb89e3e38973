"""From files to settings, or to every mistake at once."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path as FilePath

from monitor.addresses import Asking, Backup, Broker, Channel, Database, Outdoors, Page, Secret
from monitor.errors import SettingsError
from monitor.names import Names
from monitor.rules import Rules
from monitor.settings import assemble, tree, was
from monitor.settings.crosscheck import crosschecked
from monitor.settings.limits import SETTINGS, climates
from monitor.settings.mistakes import MOST, Data, Mistake, Paper, Path, Spot, quoted
from monitor.settings.pending import ineffective
from monitor.settings.places import is_file
from monitor.settings.profiles import unfold
from monitor.settings.schema import BackupShape, DatabaseShape, FileShape, PageShape, SecretShape, WrittenAddress
from monitor.settings.secrets import AddressOk, Vault, address_checked, web_address_ok
from monitor.settings.shape import validated

_BY_ID = ("places", "profiles", "bins", "mats", "people", "channels")
"""Sections that may stand in several files, each id in one of them."""


@dataclass(frozen=True, slots=True)
class Settings:
    """One version of everything the keeper wrote, accepted as a whole.

    `store` is where the keeper wants things kept, None when nothing is written. `ineffective` holds the dotted
    keys that change nothing yet. `missing` says which secrets are not there, only filled when `load` was told to
    accept that; the channels concerned are not in `channels`.
    """

    files: tuple[FilePath, ...]
    rules: Rules
    broker: Broker
    channels: Mapping[str, Channel]
    store: FilePath | None = None
    database: Database | None = None
    """Where readings go on to."""
    page: Page | None = None
    """Where the page is served; None where none is wanted."""
    backup: Backup | None = None
    """Where backups go every night; None where none are made by the daemon."""
    outdoors: Outdoors | None = None
    """Where an outdoor forecast comes from."""
    publishers: tuple[str, ...] = ()
    """Whose word of how they are is listened to."""
    ineffective: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    named: tuple[FilePath, ...] = ()
    """What `load` was called with: files and folders."""
    texts: tuple[tuple[str, str], ...] = ()
    """Every file as it was read, by its name as seen from the first one's folder."""
    beside: tuple[FilePath, ...] = ()
    """What else was read: secrets, and the broker's CA."""
    was: Names = field(default_factory=Names)
    """Ids that go on under another."""
    channels_were: Mapping[str, str] = field(default_factory=dict)
    """Old id → new id of channels."""
    written: Mapping[str, str] = field(default_factory=dict)
    """Source of a limit → `file:line`, for those that the keeper wrote."""

    @property
    def digest(self) -> str:
        """Sixteen hexadecimal digits that change with every character of the files."""
        plain = json.dumps(self.texts, separators=(",", ":"))
        return hashlib.sha256(plain.encode()).hexdigest()[:16]

    @property
    def read(self) -> tuple[FilePath, ...]:
        """Every file these settings depend on."""
        return (*self.files, *self.beside)


def _files(paths: Sequence[FilePath]) -> tuple[FilePath, ...]:
    """Every file to read; a folder stands for its *.yaml."""
    return tuple(file for path in paths for file in _inside(path) or [path])


def _inside(path: FilePath) -> list[FilePath]:
    try:
        return sorted(path.glob("*.yaml"))
    except (OSError, ValueError):  # whatever is wrong with the path, also a NUL in it, is told when it is read
        return []


def load(
    paths: Sequence[FilePath],
    *,
    environ: Mapping[str, str],
    today: date | None = None,
    address_ok: AddressOk | None = None,
    need_secrets: bool = True,
    instead: Mapping[FilePath, str] | None = None,
) -> Settings:
    """Settings out of one or several files. Raises SettingsError with every mistake, sorted by file and line.

    A folder stands for its *.yaml. `environ` is where secrets are looked for, `today` what no day of the file may
    lie beyond (None: that is not looked at), `address_ok` what the sender says about a channel's address. With
    `need_secrets` false (for `check`, which may be run by somebody who may not read them) a secret that is not
    there is listed in `missing` instead of refused. `instead` holds texts that are read in place of files.
    """
    reading = _Reading(_files(paths), instead or {})
    paper, mistakes = reading.paper(), reading.mistakes
    files = tuple(reading.files)
    missing: list[str] = []
    settings = None
    if paper is not None:
        vault = Vault(environ, None if need_secrets else missing)
        settings = _Loading(paper, vault, today, address_ok).settings(files, missing)
        mistakes = [*mistakes, *paper.mistakes]
    if mistakes or settings is None:
        raise SettingsError(_sorted(mistakes, files), [str(file) for file in files])
    authorities = [settings.broker.ca_file, settings.database.ca_file if settings.database else None]
    beside = (*vault.looked_at, *(FilePath(ca) for ca in authorities if ca))
    named = tuple(FilePath(path) for path in paths)
    return replace(settings, named=named, texts=_from(files[0], reading.texts), beside=(*beside, *reading.folders))


def _from(first: FilePath, texts: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """The texts by names that do not change when the whole folder is moved, or named otherwise."""
    return tuple((_short(first, name), text) for name, text in texts.items())


def _short(first: FilePath, name: str) -> str:
    return os.path.relpath(name, first.parent)


def _sorted(mistakes: Sequence[Mistake], paths: Sequence[FilePath]) -> list[str]:
    order = {str(path): index for index, path in enumerate(paths)}
    inline = sorted(mistakes, key=lambda m: (order.get(m.file, 0), m.line, m.column, m.sentence))
    if len(inline) > MOST:
        inline[MOST:] = [
            replace(inline[MOST], sentence="More mistakes follow from here.", hint="Mend these first.")
        ]
    return [str(mistake) for mistake in inline]


class _Reading:
    """All files as one paper: those that are named, each followed by what it includes."""

    def __init__(self, paths: Sequence[FilePath], instead: Mapping[FilePath, str]) -> None:
        self._instead = instead
        self.texts: dict[str, str] = {}
        self.files: list[FilePath] = []
        self.folders: list[FilePath] = []
        """Folders that are included: a file that comes into one changes the settings."""
        self.mistakes: list[Mistake] = []
        self._merged: dict[str, Data] = {}
        self._spots = Spot(str(paths[0]) if paths else "", 1, 1, 1, 1)
        self._whole = bool(paths)
        for path in paths:
            if not any(_same(path, other) for other in self.files):  # one of a folder may include another
                self._read(path, included=False)
        if not paths:
            self.mistakes.append(Mistake("", 1, 1, "No settings file is named.", "Give its path with --settings."))

    def paper(self) -> Paper | None:
        """None when any of the files cannot be read as YAML."""
        return Paper(self._merged, self._spots) if self._whole else None

    def _read(self, path: FilePath, *, included: bool) -> None:
        self.files.append(path)
        data, spot, found = tree.read(path, self.texts, instead=self._instead.get(path))
        self.mistakes += found
        if data is None:
            self._whole = False
            return
        if included and "include" in data:
            del data["include"]
            at = spot.keys["include"]
            self._wrong(at, "This file is included itself.", "Include it all from the first file.")
        self.mistakes += _merge(self._merged, self._spots, data, spot, inner=_BY_ID)
        if data.get("include") is not None:
            self._include(path, data["include"], spot.keys["include"])

    def _include(self, path: FilePath, names: Data, spot: Spot) -> None:
        items = zip(names, spot.items, strict=True) if isinstance(names, list) else [(names, spot)]
        for name, at in items:
            if not isinstance(name, str) or not name.strip():
                continue  # told by the schema
            there = path.parent / name.strip()
            inside = _inside(there)
            if _is_folder(there):
                self.folders.append(there)
            if not inside and not is_file(there):
                what = "no *.yaml in this folder" if _is_folder(there) else "no such file"
                self._wrong(at, f"There is {what}.", "It is looked for beside this file.")
                self._whole = False
            for file in inside or [there]:
                self._once(file, at)

    def _once(self, file: FilePath, at: Spot) -> None:
        if any(_same(file, other) for other in self.files):
            self._wrong(at, f"{quoted(file.name)} is read already.", "Include each file once.")
        elif is_file(file):
            self._read(file, included=True)

    def _wrong(self, at: Spot, sentence: str, hint: str) -> None:
        self.mistakes.append(Mistake(at.file, at.line, at.column, sentence, hint))


def _same(one: FilePath, other: FilePath) -> bool:
    try:
        return one.samefile(other)
    except (OSError, ValueError):
        return False


def _is_folder(path: FilePath) -> bool:
    try:
        return path.is_dir()
    except (OSError, ValueError):
        return False


def _merge(
    into: dict[str, Data], spots: Spot, data: dict[str, Data], found: Spot, *, inner: Sequence[str] = ()
) -> list[Mistake]:
    """Put the keys of `data` into `into`; those of `inner` may stand in both, but nothing below them."""
    mistakes: list[Mistake] = []
    for key, value in data.items():
        here, there = found.keys[key], spots.keys.get(key)
        old = into.get(key)
        if there is None:
            into[key], spots.keys[key] = value, here
        elif key in inner and isinstance(old, dict) and isinstance(value, dict):
            mistakes += _merge(old, there, value, here)
        else:
            said = f"{quoted(key)} is written in two files (first in {there.file}, line {there.key_line})."
            mistakes.append(Mistake(here.file, here.key_line, here.key_column, said, "Keep one of them."))
    return mistakes


class _Loading:
    """One paper on its way to settings. Every step notes its mistakes on the paper and goes on."""

    def __init__(self, paper: Paper, vault: Vault, today: date | None, address_ok: AddressOk | None) -> None:
        self.paper, self.vault, self.today, self.address_ok = paper, vault, today, address_ok

    def settings(self, files: tuple[FilePath, ...], missing: list[str]) -> Settings | None:
        unfold(self.paper)
        model = validated(self.paper)
        if model is None:
            return None
        crosschecked(model, self.paper, self.today or date.max)
        beds = climates(model, self.paper)
        channels = self.channels(model)
        password = self.secret(("broker", "password"), model.broker.password)
        ca_file = self.ca_file(("broker", "ca_file"), model.broker.ca_file)
        database = self.database(model.database)
        page = self.page(model.page)
        weather = self.address(("outdoors", "url"), model.outdoors.url if model.outdoors else None)
        if self.paper.mistakes:
            return None
        rules = assemble.rules(model, beds, channels)
        return Settings(
            files,
            rules,
            assemble.broker(model.broker, password, ca_file),
            channels,
            self.beside(("store", "path"), model.store.path) if model.store else None,
            database,
            page,
            self.backup(model.backup),
            assemble.outdoors(model.outdoors, weather),
            tuple(dict.fromkeys(model.publishers)),
            ineffective(self.paper),
            tuple(missing),
            was=was.names(model),
            channels_were=was.channels(model),
            written=self.written(rules, files[0]),
        )

    def written(self, rules: Rules, first: FilePath) -> dict[str, str]:
        """Where each limit of the keeper's own stands."""
        found = {}
        for source in _own_sources(rules):
            spot = self.paper.spots.find(tuple(source.removeprefix(f"{SETTINGS}: ").split(".")))
            found[source] = f"{_short(first, spot.file)}:{spot.key_line}"
        return found

    def channels(self, model: FileShape) -> dict[str, Channel]:
        found = {}
        for key, shape in model.channels.items():
            path: Path = ("channels", key, "send_to")
            secret = self.secret(path, shape.send_to) if self.paper.whole(path) else None
            if secret is not None:
                if self.address_ok is not None:
                    address_checked(self.paper, path, secret, self.address_ok)
                found[key] = Channel(key, secret)
        return found

    def secret(self, path: Path, shape: SecretShape | None) -> Secret | None:
        return None if shape is None else self.vault.fetch(self.paper, path, shape)

    def address(self, path: Path, shape: SecretShape | None) -> Secret | None:
        """A web address that may hold a key."""
        if isinstance(shape, WrittenAddress):
            return Secret(shape.written)
        found = self.secret(path, shape)
        if found is not None:
            address_checked(self.paper, path, found, web_address_ok)
        return found

    def database(self, shape: DatabaseShape | None) -> Database | None:
        if shape is None:
            return None
        path: Path = ("database", "ca_file")
        token = self.secret(("database", "token"), shape.token)
        ca_file = self.ca_file(path, shape.ca_file)
        whole = self.paper.whole(path) and self.paper.whole(("database", "url"))
        if shape.ca_file is not None and whole and not shape.url.startswith("https:"):
            self.paper.wrong(
                path, "A CA file is for https:// only.", "Delete it, or write the address with https://.", key=True
            )
        ca = None if ca_file is None else str(ca_file)
        return Database(shape.url, shape.bucket, shape.org or "", token, ca, shape.here)

    def page(self, shape: PageShape | None) -> Page | None:
        if shape is None:
            return None
        passphrase, path = self.secret(("page", "passphrase"), shape.passphrase), ("page", "asks_for")
        if shape.asks_for is not None and shape.passphrase is None and self.paper.whole(("page", "passphrase")):
            hint = "Write `passphrase:` and where it is kept, or delete this."
            self.paper.wrong(path, "`asks_for` is written without `passphrase`.", hint, key=True)
        asks_for = shape.asks_for or Asking.EVERYTHING
        return Page(*shape.listen, shape.address, passphrase, shape.passphrase is not None, asks_for)

    def backup(self, shape: BackupShape | None) -> Backup | None:
        if shape is None:
            return None
        to = self.beside(("backup", "to"), shape.to)
        nightly = 60 * shape.at.hour + shape.at.minute
        return Backup(str(to), shape.keep.days, shape.keep.weeks, shape.same_disk, nightly)

    def ca_file(self, path: Path, name: str | None) -> FilePath | None:
        if name is None:
            return None
        file = self.beside(path, name)
        if self.paper.whole(path) and not is_file(file):
            self.paper.wrong(path, "There is no such CA file.", "It is looked for beside this file.")
        return file

    def beside(self, path: Path, name: str) -> FilePath:
        """A path that is relative to the file it is written in."""
        return FilePath(self.paper.spots.find(path).file).parent / name


def _own_sources(rules: Rules) -> set[str]:
    return {
        bound.source
        for bed in rules.bins.values()
        for climate in (bed.limits, *(zone.limits for zone in bed.zones))
        for limits in climate.values()
        for bound in (limits.low, limits.high, *(harm.bound for harm in limits.harm))
        if bound is not None and bound.mark == SETTINGS
    }
