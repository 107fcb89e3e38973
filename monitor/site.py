"""Where a site's settings and its store are: what the daemon and every command begin with, and nothing heavier."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.clock import KnownClock, Machine, WallClock
from monitor.errors import SettingsError, StoreError
from monitor.readings import Millis
from monitor.reckoning import KIND, kept_stretch
from monitor.settings import find_settings
from monitor.store.promises import Store, Version

if TYPE_CHECKING:
    from monitor.addresses import Database
    from monitor.ready import Shown
    from monitor.settings import Settings
    from monitor.store.influx_readings import Server


def load_settings(explicit: Path | None, *, addresses: bool = False) -> Settings:
    """The keeper's settings. With `addresses` each channel is also shown to the sender, which costs its import."""
    address_ok: Callable[[str], str | None] | None = None
    if addresses:
        from monitor.notify.send import complaint

        address_ok = complaint
    from monitor.settings import load

    # No day is refused as still to come: a board that boots without a clock would refuse every dated calibration.
    return load([find_settings(explicit)], environ=os.environ, address_ok=address_ok, need_secrets=addresses)


def to_show(explicit: Path | None) -> Settings | Shown:
    """As `load_settings`, for a command that only shows: what was kept ready of the same files, if it was."""
    from monitor.ready import keep, ready

    named = find_settings(explicit)
    found = ready(named)
    if found is not None:
        return found
    settings = load_settings(explicit)
    keep(named, settings)
    return settings


def load_again(settings: Settings) -> Settings:
    """What stands now where these settings were loaded from, as `run` takes it. Raises SettingsError."""
    from monitor.notify.send import complaint
    from monitor.settings import load

    return load(settings.named, environ=os.environ, address_ok=complaint, need_secrets=True)


def store_path(settings: Settings | Shown) -> Path:
    """Where a site's file lies: as the settings say, else where systemd or XDG puts state.

    Settings under /etc/vermistat are the service's, whose state the commands must find without its environment.
    """
    if settings.store is not None:
        return settings.store
    return _state_of(settings.files[0]) / f"{settings.rules.site.id}.db"


def _state_of(file: Path) -> Path:
    kept = os.environ.get("STATE_DIRECTORY", "").split(":")[0]
    if not kept and file.resolve().is_relative_to("/etc/vermistat"):
        kept = "/var/lib/vermistat"
    if kept:
        return Path(kept)
    return Path(os.environ.get("XDG_STATE_HOME") or Path.home() / ".local/state") / "vermistat"


def settings_in_force(explicit: Path | None) -> tuple[Settings, int] | None:
    """Where the files are refused: what a running daemon goes by meanwhile, as its store keeps it, and its number. None
    when that cannot be found.
    """
    import tempfile

    from monitor.settings import load

    named = find_settings(explicit)
    path = _store_beside(named)
    version = None if path is None else _version_in(path)
    if version is None or any(Path(name).is_absolute() or ".." in Path(name).parts for name, _ in version.files):
        return None
    with tempfile.TemporaryDirectory(prefix="vermistat-") as folder:
        files = [Path(folder) / name for name, _ in version.files]
        for file, (_, text) in zip(files, version.files, strict=True):
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(text, encoding="utf-8")
        try:
            found = load(files, environ=os.environ, need_secrets=False)
        except SettingsError:  # this program reads them otherwise, or a file beside them is wanted
            return None
    return replace(found, files=(named,), store=path), version.number


def _store_beside(named: Path) -> Path | None:
    """The store of files that are refused: as far as they can be read, else the only one where stores are kept."""
    from monitor.settings.tree import read

    files = sorted(named.glob("*.yaml")) or [named]
    site: object = None
    for file in files:
        data, _, _ = read(file)
        kept, about = (data or {}).get("store"), (data or {}).get("site")
        if isinstance(kept, dict) and isinstance(kept.get("path"), str):
            return file.parent / str(kept["path"])
        site = site or (about.get("id") if isinstance(about, dict) else None)
    state = _state_of(files[0])
    if isinstance(site, str):
        return state / f"{site}.db"
    stores = sorted(state.glob("*.db"))
    return stores[0] if len(stores) == 1 else None


def _version_in(path: Path) -> Version | None:
    from monitor.store.sqlite import SqliteStore

    if not path.is_file():
        return None
    try:
        store = SqliteStore(path, read_only=True)
    except StoreError:
        return None
    try:
        return store.in_force()
    finally:
        store.close()


def open_to_read(settings: Settings | Shown) -> Store:
    """The site's store for the commands, beside a running daemon."""
    from monitor.store.sqlite import SqliteStore

    path = store_path(settings)
    if not path.exists():
        raise StoreError(
            f"{path} is not there yet: start `vermistat run` once, or name another file under `store:`"
        )
    if settings.database is not None:
        from monitor.store.influx import InfluxStore

        return InfluxStore(path, server_of(settings.database), settings.rules.site.id, read_only=True)
    return SqliteStore(path, read_only=True)


def server_of(database: Database) -> Server:
    """The server, whose client is loaded when it is first asked."""
    from monitor.store.influx_readings import Later

    def made() -> Server:
        from monitor.store.influx_server import Server as Real

        return Real(database)

    return Later(made)


def open_to_write(settings: Settings) -> Store:
    """The site's store for the daemon."""
    from monitor.store.sqlite import SqliteStore

    path = store_path(settings)
    path.parent.mkdir(parents=True, exist_ok=True)
    if settings.database is not None:
        from monitor.store.influx import InfluxStore

        return InfluxStore(path, server_of(settings.database), settings.rules.site.id)
    return SqliteStore(path)


def site_time(store: Store) -> Millis:
    """What time it is for a site: while its daemon reckons the time, or has not yet looked at a step of the clock, as
    the daemon does; else the machine's own.
    """
    standing = {(KIND, key): body for key, body in store.standing(KIND).items()}
    stretch, machine = kept_stretch(standing), Machine()
    if stretch is None or stretch.reckoning.boot != machine.boot():
        return WallClock().now()
    return KnownClock(machine, stretch.reckoning).now()
