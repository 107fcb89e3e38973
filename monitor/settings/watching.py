"""Looking at the keeper's files while we run: changed, and readable as a whole?

Looked at when somebody asks, once a round: by what the file system says of each file (its number, size and time), so
that a round in which nothing has changed reads nothing. An editor that writes beside the file and renames, one that
empties it first, and a copy that takes its time all end in files that stand still; until then nothing is concluded.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path as FilePath

from monitor.errors import SettingsError
from monitor.settings.loading import Settings

STILL = 0.5
"""Seconds for which files must stand still before they are read."""
LOOKS = 4
"""How often a file that is still being written is waited for; after that it is the next round's."""

Mark = Mapping[FilePath, tuple[int, int, int] | None]
"""What the file system says of each file: its number, its size and when it was changed; None when it is not there."""


@dataclass(frozen=True, slots=True)
class Refused:
    """Files that cannot be taken up: every mistake as `check` tells it."""

    mistakes: tuple[str, ...]


class Watch:
    """`load` reads everything anew or raises SettingsError; `settle` waits so many real seconds."""

    def __init__(
        self, settings: Settings, *, load: Callable[[], Settings], settle: Callable[[float], object]
    ) -> None:
        self._load = load
        self._settle = settle
        self._named = settings.named
        self._files: tuple[FilePath, ...] = settings.read
        # Changed between the loading and now: the first look finds it.
        self._seen: Mark | None = self._mark() if _reads_the_same(settings) else None

    def look(self) -> Settings | Refused | None:
        """What is there now, when that has changed since the last look that said something; None when it has not, or
        while it is still being written.
        """
        first = self._mark()
        mark = None if first == self._seen else self._at_rest(first)
        if mark is None:
            return None
        found, files = self._read()
        if any(mark.get(file, now) != now for file, now in self._mark().items()):
            return None  # changed while we read: what we have may be half of each
        self._files = files
        self._seen = self._mark()
        return found

    def _read(self) -> tuple[Settings | Refused, tuple[FilePath, ...]]:
        try:
            settings = self._load()
        except SettingsError as error:
            return Refused(tuple(error.mistakes)), (*self._files, *map(FilePath, error.files))
        return settings, settings.read

    def _at_rest(self, mark: Mark) -> Mark | None:
        """The mark once it stays the same, None when it does not."""
        for _ in range(LOOKS):
            self._settle(STILL)
            now = self._mark()
            if now == mark:
                return mark
            mark = now
        return None

    def _mark(self) -> Mark:
        inside = [file for path in self._named for file in _listed(path)]
        return {file: _of(file) for file in dict.fromkeys([*self._named, *inside, *self._files])}


def _reads_the_same(settings: Settings) -> bool:
    try:
        return all(
            file.read_bytes().decode("utf-8-sig") == text
            for file, (_, text) in zip(settings.files, settings.texts, strict=True)
        )
    except (OSError, ValueError):
        return False


def _listed(path: FilePath) -> Iterable[FilePath]:
    try:
        return sorted(path.glob("*.yaml"))
    except OSError:
        return ()


def _of(file: FilePath) -> tuple[int, int, int] | None:
    try:
        found = file.stat()
    except OSError:
        return None
    return found.st_ino, found.st_size, found.st_mtime_ns
