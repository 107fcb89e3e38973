"""A site with one backup in its folder `stick`, and what can be the matter with either."""

import fcntl
import os
import shutil
import sqlite3
from dataclasses import replace
from types import SimpleNamespace
from unittest.mock import patch

from cli.keeping import NOW
from monitor.addresses import Backup
from monitor.backing_up import back_up
from monitor.backups import understood, written
from monitor.settings import load
from monitor.store.migrations import STEPS


def backed_up(site, *, at=NOW, **wish):
    """The folder of a backup of this site, just made."""
    stick = site.folder / "stick"
    stick.mkdir(exist_ok=True)
    settings = load([site.file], environ={})
    return back_up(
        settings, site.store_file, Backup(str(stick), same_disk=True, **wish), at=at, program="0.1.0"
    ).folder


def manifest_of(folder):
    return understood((folder / "manifest.json").read_text(), str(folder))


def say_instead(folder, **facts):
    """The manifest says these, as if they had been written so."""
    (folder / "manifest.json").write_text(written(replace(manifest_of(folder), **facts)))


def altered(file, at=-1):
    """One byte of a file is another."""
    body = bytearray(file.read_bytes())
    body[at] ^= 0x10
    file.write_bytes(body)


def of_a_newer_program(folder):
    """Its store has a step that we do not know, and its manifest says so."""
    file = sqlite3.connect(folder / "store.db")
    with file:
        file.execute(f"PRAGMA user_version = {len(STEPS) + 1}")
    file.close()
    hashes_anew(folder)


def hashes_anew(folder):
    from monitor.store.copying import hashed

    files = tuple(replace(f, sha256=hashed(folder / f.name)) for f in manifest_of(folder).files)
    say_instead(folder, files=files)


def _failing_card(source, target):
    target.write_bytes(source.read_bytes())
    altered(target)


def made_backup(site, which, opened):
    """Make it, and what is the matter."""
    folder = backed_up(site)
    store = folder / "store.db"
    if which == "altered":
        altered(store)
    elif which == "without its store":
        store.unlink()
    elif which == "without its manifest":
        (folder / "manifest.json").unlink()
    elif which == "that is no text":
        (folder / "manifest.json").write_bytes(b"\xff\xfe")
    elif which == "of a newer program":
        of_a_newer_program(folder)
    elif which == "of fewer rows":
        say_instead(folder, rows={**manifest_of(folder).rows, "diary": 7})
    elif which == "of another site":
        say_instead(folder, site="quay")
    elif which == "of a store that is held":
        from monitor.store.sqlite import SqliteStore

        opened.callback(SqliteStore(site.store_file).close)
    elif which == "being made":
        lock = os.open(folder.parent / ".vermistat-orchard.lock", os.O_RDWR)
        opened.callback(os.close, lock)
        fcntl.flock(lock, fcntl.LOCK_EX)
    elif which == "without room":
        full = SimpleNamespace(f_bavail=10, f_frsize=4096)
        opened.enter_context(patch.object(os, "statvfs", lambda _path: full))
    elif which == "onto a failing card":
        opened.enter_context(patch.object(shutil, "copyfile", _failing_card))
    elif which == "after a thousand others":
        stamp = "20261125T120000Z"
        for number in range(1000):
            end = f"-{number}" if number else ""
            (site.folder / f"kept.db.before-{stamp}{end}").touch()
    else:
        assert which == "whole"
