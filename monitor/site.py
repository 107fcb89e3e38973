"""Where a site's settings and its store are: what the daemon and every command begin with, and nothing heavier."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.addresses import Database
from monitor.clock import KnownClock, Machine, WallClock
from monitor.errors import StoreError
from monitor.readings import Millis
from monitor.reckoning import kept_stretch
from monitor.settings import Settings, find_settings, load
from monitor.store.promises import Store

if TYPE_CHECKING:
    from monitor.store.influx_readings import Server


def load_settings(explicit: Path | None, *, addresses: bool = False) -> Settings:
    """The keeper's settings. With `addresses` each channel is also shown to the sender, which costs its import."""
    address_ok: Callable[[str], str | None] | None = None
    if addresses:
        from monitor.notify.send import complaint

        address_ok = complaint
    # No day is refused as still to come: a board that boots without a clock would refuse every dated calibration.
    return load([find_settings(explicit)], environ=os.environ, address_ok=address_ok, need_secrets=addresses)


def load_again(settings: Settings) -> Settings:
    """What stands now where these settings were loaded from, as `run` takes it. Raises SettingsError."""
    from monitor.notify.send import complaint

    return load(settings.named, environ=os.environ, address_ok=complaint, need_secrets=True)


def store_path(settings: Settings) -> Path:
    """Where a site's file lies: as the settings say, else where systemd or XDG puts state.

    Settings under /etc/vermistat are the service's, whose state the commands must find without its environment.
    """
    if settings.store is not None:
        return settings.store
    kept = os.environ.get("STATE_DIRECTORY", "").split(":")[0]
    if not kept and settings.files[0].resolve().is_relative_to("/etc/vermistat"):
        kept = "/var/lib/vermistat"
    if not kept:
        state = os.environ.get("XDG_STATE_HOME") or Path.home() / ".local/state"
        kept = str(Path(state) / "vermistat")
    return Path(kept) / f"{settings.rules.site.id}.db"


def open_to_read(settings: Settings) -> Store:
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
    stretch, machine = kept_stretch(store.load().standing), Machine()
    if stretch is None or stretch.reckoning.boot != machine.boot():
        return WallClock().now()
    return KnownClock(machine, stretch.reckoning).now()
