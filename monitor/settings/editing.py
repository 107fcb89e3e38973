"""One value of a YAML text changed or added, and every other byte as it was: comments, order, quotes, ends of lines.

Text in, text out. Where a value stands is asked of the parser's marks; what is put there is spliced in. What comes out is read
again, and must say what the text said before but for this one value; a text in which that cannot be done is left to its keeper.
"""

from __future__ import annotations

import copy
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import yaml

from monitor.errors import BadValue
from monitor.settings import tree
from monitor.settings.mistakes import Data, Path


@dataclass(frozen=True, slots=True)
class Node:
    """One value: where it begins and truly ends (in characters), and what is in it. `kind` is `map`, `list` or `text`.

    A block's own end mark lies behind the comments that follow it; `end` is that of the last thing in it.
    """

    kind: str
    start: int
    end: int
    column: int
    flow: bool
    style: str
    value: str = ""
    pairs: tuple[tuple[Node, Node], ...] = ()
    items: tuple[Node, ...] = ()

    def under(self, key: str) -> Node | None:
        """What a mapping holds under a key."""
        return next((value for name, value in self.pairs if name.value == key), None)

    @property
    def nothing(self) -> bool:
        """Whether nothing is written here, or a word for nothing."""
        return self.kind == "text" and not self.style and self.value in tree.NOTHING

    @property
    def last(self) -> Node:
        """What stands last in it."""
        inner = [value for _, value in self.pairs] or list(self.items)
        return inner[-1].last if inner and not self.flow else self


def top(text: str) -> Node:
    """The whole of a text that the settings' reader takes. Raises BadValue for any other."""
    tree.parsed(text)
    return _node(yaml.compose(text, Loader=tree.LOADER))


def depth(text: str, path: Path) -> int:
    """How many steps of `path` are written in a text."""
    node: Node | None = top(text)
    for number, step in enumerate(path):
        node = _step(node, step)
        if node is None:
            return number
    return len(path)


def at(text: str, path: Path) -> Node | None:
    """What is written at `path`, None where nothing is."""
    node: Node | None = top(text)
    for step in path:
        node = _step(node, step)
    return node


def put(text: str, path: Path, value: str) -> str:
    """The text with `value` (one line of YAML: a scalar, or a collection in brackets) at `path`, whose last steps may be missing.

    Raises BadValue, in words for a keeper, where the text does not let it be done without touching anything else.
    """
    node, walked = top(text), 0
    for step in path:
        inner = _step(node, step)
        if inner is None:
            break
        node, walked = inner, walked + 1
    missing = path[walked:]
    if not missing:
        after = _replaced(text, node, value)
    elif all(isinstance(step, str) for step in missing):
        after = _added(text, node, str(missing[0]), _nested(missing[1:], value))
    else:
        raise BadValue(_BY_HAND)
    if not _says(after, text, path, value):
        raise BadValue(_BY_HAND)
    return after


_BY_HAND = "this file is written so that it can only be changed by hand here"


def _node(found: Any) -> Node:
    start, end = found.start_mark, found.end_mark
    style = getattr(found, "style", None) or ""
    pairs: tuple[tuple[Node, Node], ...] = ()
    items: tuple[Node, ...] = ()
    if isinstance(found, yaml.MappingNode):
        pairs, kind = tuple((_node(key), _node(value)) for key, value in found.value), "map"
    elif isinstance(found, yaml.SequenceNode):
        items, kind = tuple(map(_node, found.value)), "list"
    else:
        return Node("text", start.index, end.index, start.column, False, style, found.value)
    inner = [value for _, value in pairs] or list(items)
    flow = bool(found.flow_style)
    true_end = end.index if flow or not inner else inner[-1].end
    return Node(kind, start.index, true_end, start.column, flow, "", pairs=pairs, items=items)


def _step(node: Node | None, step: str | int) -> Node | None:
    if node is None:
        return None
    if isinstance(step, int):
        return node.items[step] if 0 <= step < len(node.items) else None
    return node.under(step)


def _nested(steps: Sequence[object], value: str) -> str:
    for step in reversed(steps):
        value = f"{{{step}: {value}}}"
    return value


def _replaced(text: str, node: Node, value: str) -> str:
    if node.style in ("|", ">") or (node.kind != "text" and not node.flow):
        raise BadValue(_BY_HAND)
    if node.start == node.end:
        value = f" {value}"
    elif node.style:
        value = f"{node.style}{value}{node.style}"
    return text[: node.start] + value + text[node.end :]


def _added(text: str, node: Node, key: str, value: str) -> str:
    """A key more in a mapping, behind those that are there."""
    if node.nothing:
        return _replaced(text, node, f"{{{key}: {value}}}")
    if node.kind != "map":
        raise BadValue(_BY_HAND)
    if node.flow:
        return _added_to_flow(text, node, f"{key}: {value}")
    return _added_to_block(text, node, f"{key}: {value}")


def _added_to_flow(text: str, node: Node, entry: str) -> str:
    if not node.pairs:
        return text[: node.start + 1] + entry + text[node.start + 1 :]
    last = node.pairs[-1][1]
    if last.start == last.end:
        return text[: node.start + 1] + f"{entry}, " + text[node.start + 1 :]
    return text[: last.end] + f", {entry}" + text[last.end :]


def _added_to_block(text: str, node: Node, entry: str) -> str:
    indent = " " * node.column
    if node.last.style in ("|", ">"):  # where such a text ends is not seen from its marks
        first = node.pairs[0][0].start
        return text[:first] + entry + _line_end(text, first) + indent + text[first:]
    end = text.find("\n", node.end)
    if end < 0:
        return f"{text}{_line_end(text, len(text))}{indent}{entry}"
    return text[: end + 1] + indent + entry + _line_end(text, end) + text[end + 1 :]


def _line_end(text: str, near: int) -> str:
    """How lines end here."""
    end = text.find("\n", near)
    if end < 0:
        end = text.rfind("\n")
    return "\r\n" if end > 0 and text[end - 1] == "\r" else "\n"


def _says(after: str, before: str, path: Path, value: str) -> bool:
    """Whether the one text says what the other does but for `value` at `path`."""
    try:
        there, wanted = tree.parsed(after), copy.deepcopy(tree.parsed(before))
        one: Data = tree.parsed(f"one: {value}")["one"]
    except BadValue:
        return False
    inner: Any = wanted
    for step in path[:-1]:
        if isinstance(step, str) and inner.get(step) is None:
            inner[step] = {}
        inner = inner[step]
    inner[path[-1]] = one
    return there == wanted and list(there) == list(wanted)
