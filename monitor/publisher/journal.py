"""The file in which readings outlive a restart: a line for each, with a check sum, so that a torn one is known.

Only what has been unconfirmed for a while is written, so that a card sees next to nothing while everything is well. What is
confirmed stays in the file until that is worth writing it anew.
"""

from __future__ import annotations

import contextlib
import logging
import math
import os
import zlib
from collections.abc import Iterable
from pathlib import Path

from monitor.readings import Millis

log = logging.getLogger(__name__)

SPARE = 500
"""Lines that need not be there any more before the file is written anew (ours)."""

Entry = tuple[str, Millis, float]


class Journal:
    """One file. Whatever the disk says, readings go on: what could not be written is said once, and tried again."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self.lines = 0
        """In the file now, confirmed or not."""
        self.trouble = ""
        """Why the last write failed; empty when it did not."""

    def load(self) -> list[Entry]:
        """What is in it, in its order; torn or damaged lines are left out and said."""
        try:
            raw = self._path.read_bytes()
        except FileNotFoundError:
            return []
        except OSError as error:
            self._failed(error)
            return []
        lines = raw.splitlines(keepends=True)
        found = [entry for line in lines if (entry := _entry(line)) is not None]
        self.lines = len(lines)
        if len(found) < len(lines):
            log.warning("%s: %d lines are damaged and left out", self._path, len(lines) - len(found))
            self.rewrite(found)
        return found

    def append(self, entries: Iterable[Entry]) -> bool:
        """Write these behind what is there, durably. False when the disk does not take them."""
        text = b"".join(_line(entry) for entry in entries)
        if not text:
            return True
        try:
            before = self._size()
            flags = os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_CLOEXEC
            with open(os.open(self._path, flags, 0o600), "wb", buffering=0) as file:
                try:
                    if file.write(text) != len(text):
                        raise OSError(28, "no space left on device")
                    os.fsync(file.fileno())
                except OSError:
                    with contextlib.suppress(OSError):
                        file.truncate(before)
                    raise
            if not before:
                self._fsync_folder()
        except OSError as error:
            return self._failed(error)
        self.lines += text.count(b"\n")
        self.trouble = ""
        return True

    def rewrite(self, entries: Iterable[Entry]) -> bool:
        """Only these are left in it: written beside and put in its place, so that a power cut leaves the one or the other."""
        beside = self._path.with_name(self._path.name + ".new")
        text = b"".join(_line(entry) for entry in entries)
        try:
            with open(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_CLOEXEC, 0o600), "wb") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
            os.replace(beside, self._path)
            self._fsync_folder()
        except OSError as error:
            return self._failed(error)
        self.lines = text.count(b"\n")
        self.trouble = ""
        return True

    def _size(self) -> int:
        try:
            return self._path.stat().st_size
        except FileNotFoundError:
            return 0

    def _fsync_folder(self) -> None:
        folder = os.open(self._path.parent, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)

    def _failed(self, error: OSError) -> bool:
        said = f"{self._path}: {(error.strerror or type(error).__name__).lower()}"
        if said != self.trouble:
            log.error("unconfirmed readings cannot be written, and are in memory only: %s", said)
        self.trouble = said
        return False


def _line(entry: Entry) -> bytes:
    probe, at, value = entry
    text = f"{probe} {at} {value!r}".encode()
    return b"%08x %s\n" % (zlib.crc32(text), text)


def _entry(line: bytes) -> Entry | None:
    check, _, text = line.rstrip(b"\n").partition(b" ")
    try:
        if not line.endswith(b"\n") or int(check, 16) != zlib.crc32(text):
            return None
        probe, at, value = text.decode("ascii").split(" ")
        found = probe, int(at), float(value)
    except ValueError:
        return None
    return found if math.isfinite(found[2]) else None
