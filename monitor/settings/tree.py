"""YAML → plain data and the place of every value. Nothing but this and `editing` knows PyYAML.

Scalars stay text until a field asks for a number, a date or an hour: YAML 1.1 would turn 22:00 into 1320, `no`
into false and 012 into 10. Built from the parser's events, without recursion, so that a hostile file costs
nothing: no aliases, no tags, a bounded size and depth.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any

import yaml

from monitor.errors import BadValue
from monitor.settings.mistakes import Data, Mistake, Spot, hushed, quoted

LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
LARGEST = 4 * 1024 * 1024
"""Bytes. 500 bins with two probes each are about 150 kB."""
DEEPEST = 12
"""Levels. The deepest key of ours stands on level 9."""

_ODD = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufffe\uffff\ufeff]")
_ODD_INDENTATION = re.compile("^ *(?:- *)*[\t\u00a0\u1680\u2000-\u200a\u202f\u205f\u3000]", re.MULTILINE)
_BEGIN = "Begin with `site:` and `bins:`."
NOTHING = ("", "null", "Null", "NULL", "~")

_TOO_DEEP = f"Values stand more than {DEEPEST} levels deep here."
_NOT_NEEDED = "No key of ours needs that."
_NOT_FIRST, _IN_QUOTES = "A value cannot begin with this character.", "Put the value in quotes."
_WHERE_IT_BEGAN = ("opened here", "missing in this line", "begin with this")
"""Of these the parser's context is the place to look at, not where it gave up."""
_PLAIN_WORDS: tuple[tuple[str, str, str], ...] = (
    ("mapping values are not allowed", "A ':' stands where none can.",
     "Is the space after a ':' missing just before, or the line indented too far? A text with ': ' needs quotes."),
    ("flow sequence", "The '[' opened here is not closed.", "Close it with ']' and part its items with ','."),
    ("flow mapping", "The '{' opened here is not closed.", "Close it with '}' and part its items with ','."),
    ("flow node", "A bracket before this is open, or a value missing.", "Close each { with } and each [ with ]."),
    ("block node", "A value is missing here.", "Write it, or delete the bracket."),
    ("escape", "This '\\' means nothing between double quotes.", "Use '…' instead of \"…\", or write it twice."),
    ("quoted scalar", "The quote opened here is not closed.", "Close it with the same quote."),
    ("scanning an alias", _NOT_FIRST, _IN_QUOTES),
    ("scanning an anchor", _NOT_FIRST, _IN_QUOTES),
    ("cannot start any token", _NOT_FIRST, _IN_QUOTES),
    ("could not find expected ':'", "A ':' is missing in this line.", "Write `key: value`, with a space."),
    ("nesting depth", _TOO_DEEP, _NOT_NEEDED),
    ("block collection", "A list from above goes on differently here.", "Begin each of its items with '- '."),
    ("block mapping", "This line does not fit the lines above it.",
     "Give it the same indentation as its neighbours, and let nothing follow a closed quote or bracket."),
    ("document start", "Something stands after the end of the settings.", "Is a bracket closed once too often?"),
)  # fmt: skip


class _Refused(Exception):
    """The file cannot be read any further."""

    def __init__(self, line: int, column: int, sentence: str, hint: str) -> None:
        self.mistake = (line, column, sentence, hint)


def read(
    path: FilePath, texts: dict[str, str] | None = None, *, instead: str | None = None
) -> tuple[dict[str, Data] | None, Spot, list[Mistake]]:
    """The data of one file, where it stands, and what is wrong with it as YAML. No data: it cannot be read.

    `texts` takes what was read, by the name of the file; `instead` is read in its place.
    """
    name = str(path)
    nowhere = Spot(name, 1, 1, 1, 1)
    try:
        text = _text(path) if instead is None else _checked(instead)
        if texts is not None:
            texts[name] = text
        return _Builder(name).build(text)
    except _Refused as refused:
        return None, nowhere, [Mistake(name, *refused.mistake)]


def parsed(text: str) -> dict[str, Data]:
    """The data of a text without any mistake of YAML. Raises BadValue for every other."""
    try:
        data, _, mistakes = _Builder("").build(_checked(text))
    except _Refused as refused:
        raise BadValue(refused.mistake[2]) from None
    if data is None or mistakes:
        raise BadValue("a key is written twice")
    return data


def _text(path: FilePath) -> str:
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST + 1)
    except FileNotFoundError:
        raise _Refused(1, 1, "There is no such file.", "Give its path with --settings.") from None
    except IsADirectoryError:
        raise _Refused(
            1, 1, "No *.yaml stands in this folder.", "Give the file, or the folder it lies in."
        ) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a path"
        raise _Refused(1, 1, f"The file cannot be read ({reason.lower()}).", "") from None
    if len(raw) > LARGEST:
        raise _Refused(1, 1, f"The file is larger than {LARGEST >> 20} MB.", "Is it the right one?")
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        raise _Refused(1, 1, "This is UTF-16.", "Save the file as UTF-8.")
    raw = raw.removeprefix(codecs.BOM_UTF8)  # YAML 1.2.2 section 5.2 lets a file begin with one
    try:
        text = raw.decode()
    except UnicodeDecodeError as error:
        before = raw[: error.start]
        line, column = before.count(b"\n") + 1, len(before.rpartition(b"\n")[2].decode(errors="replace")) + 1
        raise _Refused(line, column, "This is not UTF-8.", "Save the file as UTF-8.") from None
    return _checked(text)


def _checked(text: str) -> str:
    if odd := _ODD_INDENTATION.search(text):
        line, column = _place(text, odd.end() - 1)
        what = "A tab" if odd[0].endswith("\t") else f"The space U+{ord(odd[0][-1]):04X}"
        raise _Refused(line, column, f"{what} stands in the indentation.", "Indent with plain spaces.")
    if odd := _ODD.search(text):
        line, column = _place(text, odd.start())
        said = f"The character U+{ord(odd[0]):04X} stands here."
        raise _Refused(line, column, said, "Delete it; it is invisible.")
    return text


def _place(text: str, index: int) -> tuple[int, int]:
    return text.count("\n", 0, index) + 1, index - text.rfind("\n", 0, index)


def _events(text: str) -> Iterator[yaml.Event]:
    try:
        yield from yaml.parse(text, Loader=LOADER)
    except yaml.MarkedYAMLError as error:
        raise _refusal(error) from None


def _refusal(error: yaml.MarkedYAMLError) -> _Refused:
    """The parser's error in plain words; its own are never repeated, they may quote the file."""
    words = f"{error.context or ''} {error.problem or ''}"
    sentence, hint = "YAML cannot be read any further here.", "Compare it with the example, config/vermistat.yaml."
    for part, said, help_ in _PLAIN_WORDS:
        if part in words:
            sentence, hint = said, help_
            break
    began = any(words in sentence for words in _WHERE_IT_BEGAN)
    mark = (began and error.context_mark) or error.problem_mark or error.context_mark
    return _Refused(*_at(mark), sentence, hint)


def _at(mark: Any) -> tuple[int, int]:
    """A parser's mark (its C and Python kinds share no type), counted from 1."""
    return (mark.line + 1, mark.column + 1) if mark else (1, 1)


@dataclass(slots=True)
class _Open:
    """A collection that is being read. A mapping has a `key` or, when that is None, waits for one."""

    spot: Spot
    map: dict[str, Data] | None = None
    list: list[Data] | None = None
    key: str | None = None
    last: str = ""
    key_at: tuple[int, int] = (1, 1)

    def put(self, value: Data, spot: Spot) -> Spot | None:
        """Take a value in; where the key stood before, when it was written already (the first one stays)."""
        if self.list is not None:
            self.list.append(value)
            self.spot.items.append(spot)
            return None
        spot.key_line, spot.key_column = self.key_at
        self.last, self.key = self.key or "", None
        first = self.spot.keys.get(self.last)
        if first is None and self.map is not None:
            self.map[self.last] = value
            self.spot.keys[self.last] = spot
        return first


class _Builder:
    """Events → data and spots. `stack` holds the collections that are open."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.mistakes: list[Mistake] = []
        self.top: tuple[Data, Spot] | None = None
        self.stack: list[_Open] = []
        self.documents = 0

    def build(self, text: str) -> tuple[dict[str, Data] | None, Spot, list[Mistake]]:
        for event in _events(text):
            self.take(event)
        if self.top is None or self.top[0] is None:
            raise _Refused(1, 1, "The file is empty.", _BEGIN)
        data, spot = self.top
        if not isinstance(data, dict):
            raise _Refused(spot.line, spot.column, "The file does not begin with a key.", _BEGIN)
        return data, spot, self.mistakes

    def take(self, event: yaml.Event) -> None:
        line, column = _at(event.start_mark)
        if isinstance(event, yaml.NodeEvent):
            _refuse_extras(event, line, column)
        if isinstance(event, yaml.ScalarEvent):
            self.scalar(event, line, column)
        elif isinstance(event, yaml.CollectionStartEvent):
            self.begin(line, column, mapping=isinstance(event, yaml.MappingStartEvent))
        elif isinstance(event, yaml.CollectionEndEvent):
            self.stack.pop()
        elif isinstance(event, yaml.DocumentStartEvent):
            self.documents += 1
            if self.documents > 1:
                raise _Refused(line, column, "A second document begins here.", "Write one document a file.")

    def waits(self) -> bool:
        """Whether the next thing is a key."""
        return bool(self.stack) and self.stack[-1].map is not None and self.stack[-1].key is None

    def scalar(self, event: yaml.ScalarEvent, line: int, column: int) -> None:
        if self.waits():
            self.stack[-1].key, self.stack[-1].key_at = event.value, (line, column)
        else:
            nothing = event.style in (None, "") and event.value in NOTHING
            self.put(None if nothing else event.value, line, column)

    def begin(self, line: int, column: int, *, mapping: bool) -> None:
        if self.waits():
            raise _Refused(line, column, "A list or mapping stands where a key should.", "A key is one word.")
        if len(self.stack) >= DEEPEST:
            raise _Refused(line, column, _TOO_DEEP, _NOT_NEEDED)
        if mapping:
            map_: dict[str, Data] = {}
            self.stack.append(_Open(self.put(map_, line, column), map=map_))
        else:
            list_: list[Data] = []
            self.stack.append(_Open(self.put(list_, line, column), list=list_))

    def put(self, value: Data, line: int, column: int) -> Spot:
        spot = Spot(self.name, line, column, line, column)
        if not self.stack:
            self.top = (value, spot)
        elif (first := self.stack[-1].put(value, spot)) is not None:
            self.twice(self.stack[-1], first)
        return spot

    def twice(self, inside: _Open, first: Spot) -> None:
        here = tuple(o.last for o in self.stack if o.map is not None)
        word = "This key" if hushed(here) else quoted(inside.last)
        said = f"{word} is written twice (first on line {first.key_line})."
        self.mistakes.append(Mistake(self.name, *inside.key_at, said, "Keep one of them."))


def _refuse_extras(event: yaml.NodeEvent, line: int, column: int) -> None:
    if isinstance(event, yaml.AliasEvent):
        raise _Refused(line, column, "Aliases (*) are not used here.", "Write the value out.")
    if event.anchor is not None:
        raise _Refused(line, column, "Anchors (&) are not used here.", "Write the value out instead.")
    if getattr(event, "tag", None) is not None:
        raise _Refused(
            line, column, "Tags (!) are not used here.", "Delete it; quote a text that begins with '!'."
        )
