"""What is wrong with a settings file, each thing at its place: `file:line:column: sentence. hint`."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TypeAlias

from monitor.addresses import STARS

Key: TypeAlias = str | int
Path: TypeAlias = tuple[Key, ...]
Data: TypeAlias = "dict[str, Data] | list[Data] | str | None"


MOST = 200
"""Mistakes that are told at once: more are one mistake made often, or no settings at all."""


@dataclass(slots=True)
class Spot:
    """Where one value, and the key before it, stand. Lines and columns count from 1."""

    file: str
    line: int
    column: int
    key_line: int
    key_column: int
    keys: dict[str, Spot] = field(default_factory=dict)
    items: list[Spot] = field(default_factory=list)

    def find(self, path: Path) -> Spot:
        """The spot of `path` below this one, or of the nearest thing above it that is written."""
        spot = self
        for step in path:
            if isinstance(step, str) and step in spot.keys:
                spot = spot.keys[step]
            elif isinstance(step, int) and 0 <= step < len(spot.items):
                spot = spot.items[step]
            else:
                break
        return spot


@dataclass(frozen=True, slots=True, order=True)
class Mistake:
    """One mistake: a whole sentence, and a hint that says what to write instead."""

    file: str
    line: int
    column: int
    sentence: str
    hint: str = ""

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}: {self.sentence}{' ' + self.hint if self.hint else ''}"


class Misread(Exception):
    """A text that a field cannot take: the sentence and the hint of a mistake whose place is not known yet."""

    def __init__(self, sentence: str, hint: str = "") -> None:
        self.sentence = sentence
        self.hint = hint
        super().__init__(sentence)


SECRET_PLACES: tuple[tuple[str, ...], ...] = (
    ("channels",),
    ("broker", "url"),
    ("broker", "password"),
    ("page", "passphrase"),
    ("outdoors", "url"),
)
"""Below these a keeper may have written a secret by mistake; nothing written there is ever repeated."""


def hushed(path: Path) -> bool:
    """Whether what is written at `path` may be a secret."""
    return any(path[: len(place)] == place and len(path) > (place == ("channels",)) for place in SECRET_PLACES)


def quoted(text: object) -> str:
    """A keeper's own word in quotes for a sentence: one line, at most 40 characters, no address."""
    plain = "".join(c if c.isprintable() else "·" for c in str(text))
    if "://" in plain or "@" in plain:
        return f"'{STARS}'"
    return f"'{plain[:39]}…'" if len(plain) > 40 else f"'{plain}'"


def listed(words: Iterable[str], last: str = "or") -> str:
    """`a`, `a or b`, `a, b or c`."""
    *most, end = list(words) or [""]
    return f"{', '.join(most)} {last} {end}" if most else end


def nearest(word: str, known: Iterable[str], *, at_least: float = 0.6) -> str | None:
    """The known word that was probably meant, None when none is near."""
    close = difflib.get_close_matches(word.lower(), list(known), 1, at_least)
    return close[0] if close else None


def sayable(words: Iterable[str]) -> list[str]:
    """Those of a keeper's own words that may stand unquoted in a sentence."""
    return [word for word in words if quoted(word) == f"'{word}'" and word.strip()]


def meant(word: str, known: Iterable[str]) -> str:
    """A hint: the nearest known word, else what is known, else nothing."""
    names = sayable(known)
    if (near := nearest(word, names)) is not None:
        return f"Did you mean {near}?"
    return f"Known here: {listed(names[:20], 'and')}." if names else "There is none yet: write it first."


@dataclass(slots=True)
class Paper:
    """What the keeper wrote, where each thing stands, and what is wrong with it so far."""

    data: dict[str, Data]
    spots: Spot
    kept: dict[str, str] = field(default_factory=dict)
    """Bin → the profile that it is kept by."""
    _mistakes: dict[Mistake, None] = field(default_factory=dict)
    _told: set[tuple[str, int, int, str]] = field(default_factory=set)
    _broken: set[Path] = field(default_factory=set)
    _above_broken: set[Path] = field(default_factory=set)

    @property
    def mistakes(self) -> list[Mistake]:
        """All that is wrong, in the order it was found."""
        return list(self._mistakes)

    def wrong(self, path: Path, sentence: str, hint: str = "", *, key: bool = False) -> None:
        """Note a mistake about the value at `path`, or about its key. The same one twice is noted once."""
        spot = self.spots.find(path)
        line, column = (spot.key_line, spot.key_column) if key else (spot.line, spot.column)
        if path[:1] == ("bins",) and len(path) > 1 and path[1] in self.kept:
            alike = (spot.file, line, column, sentence.replace(str(path[1]), "<bin>"))
            if alike in self._told:
                return  # the same of another bin of the profile
            self._told.add(alike)
        self._mistakes[Mistake(spot.file, line, column, sentence, hint)] = None

    def origin(self, path: Path) -> Path:
        """Where the value at `path` is written: in the bin itself, or in the profile that it is kept by."""
        profile = self.kept.get(str(path[1])) if len(path) > 2 and path[0] == "bins" else None
        if profile is None:
            return path
        there: Path = ("profiles", profile, *path[2:])
        return there if self.spots.find(there) is self.spots.find(path) else path

    def misread(self, path: Path) -> None:
        """Note that what stands at `path` could not be read, so that nothing is compared with it."""
        self._broken.add(path)
        self._above_broken.update(path[:length] for length in range(len(path) + 1))

    def misread_at(self, path: Path) -> bool:
        """Whether exactly this place was misread."""
        return path in self._broken

    def whole(self, *paths: Path) -> bool:
        """Whether nothing at, below or above these places was misread, so that they can be compared."""
        if not self._broken:
            return True
        below = any(path in self._above_broken for path in paths)
        return not below and not any(
            path[:length] in self._broken for path in paths for length in range(len(path))
        )

    def raw(self, *path: Key) -> Data:
        """What is written at `path`, None when nothing is."""
        here: Data = self.data
        for step in path:
            if isinstance(here, dict) and isinstance(step, str):
                here = here.get(step)
            elif isinstance(here, list) and isinstance(step, int) and step < len(here):
                here = here[step]
            else:
                return None
        return here

    def keys(self, *path: Key) -> list[str]:
        """The keys written at `path`, whether or not what stands behind them could be read."""
        here = self.raw(*path)
        return list(here) if isinstance(here, dict) else []
