"""Which sentences and which refusals a room has, read off its source, to be held against what its fixtures show.

Two nets, since each has holes of its own: a sentence may be shared by two places that refuse, and one place may
choose between two sentences.
"""

import ast
import re
import sys
from contextlib import contextmanager
from pathlib import Path

MONITOR = Path(__file__).parents[2] / "monitor"
QUIET = {
    "BadValue",
    "ValueError",
    "LookupError",
    "compile",
    "fullmatch",
    "search",
    "findall",
    "sub",
    "match",
    "Field",
}
"""Calls whose texts no keeper reads: what a frozen value tells a programmer, regular expressions, a schema's facts."""
LOGS = {"log", "logging"}


def _name(call):
    return call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")


def _silent(node):
    if isinstance(node, ast.Call):
        owner = getattr(getattr(node.func, "value", None), "id", "")
        return _name(node) in QUIET or owner in LOGS
    if isinstance(node, ast.AnnAssign) and getattr(node.annotation, "id", "") == "TypeAlias":
        return True
    return isinstance(node, ast.Compare) or (isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant))


def _texts(node):
    """Every text below `node` that may be read by a keeper, as an `ast` node."""
    if _silent(node):
        return
    if isinstance(node, ast.JoinedStr):
        yield node
        for part in node.values:
            if isinstance(part, ast.FormattedValue):
                yield from _texts(part.value)
    elif isinstance(node, ast.Constant):
        if isinstance(node.value, str):
            yield node
    else:
        for child in ast.iter_child_nodes(node):
            yield from _texts(child)


def _pieces(node):
    parts = node.values if isinstance(node, ast.JoinedStr) else [node]
    return [part.value if isinstance(part, ast.Constant) else None for part in parts]


def sentences(path):
    """(line, template) of every text of two words or more; a template has None where something is filled in."""
    for node in _texts(ast.parse(path.read_text(encoding="utf-8"))):
        pieces = _pieces(node)
        if re.search(r"\w[\w'’]*[,;:]? +\S*\w", " ".join(piece or "" for piece in pieces)):
            yield node.lineno, pieces


def shown(pieces, told):
    """Whether one of the texts told to a keeper holds the template."""
    pattern = re.compile(
        ".*?".join(re.escape(piece) for piece in "\0".join(p or "\0" for p in pieces).split("\0") if piece)
    )
    return any(pattern.search(text) for text in told)


def refusals(path, names, methods):
    """(first line, last line, code) of each statement that refuses: `raise NAME(…)`, or a call of a method or NAME."""
    source = path.read_text(encoding="utf-8")
    for node in ast.walk(ast.parse(source)):
        called = node.exc if isinstance(node, ast.Raise) else node.value if isinstance(node, ast.Expr) else None
        if isinstance(called, ast.Call) and _name(called) in (names if isinstance(node, ast.Raise) else methods):
            yield node.lineno, node.end_lineno, ast.get_source_segment(source, node)


def unshown(path, told, but=lambda pieces: False):
    """The sentences of a module that none of the texts shows, by file and line; `but` are templates that none needs to."""
    return [
        f"{path.name}:{line}: {''.join(piece or '…' for piece in pieces)}"
        for line, pieces in sentences(path)
        if not shown(pieces, told) and not but(pieces)
    ]


def unreached(path, names, methods, *, lines, but=lambda code: False):
    """The places of a module that refuse (as in `refusals`) of which no line was among those `walked`."""
    return [
        f"{path.name}:{first}: {code}"
        for first, last, code in refusals(path, names, methods)
        if not any((str(path), line) in lines for line in range(first, last + 1)) and not but(code)
    ]


@contextmanager
def walked(folder):
    """A set that takes (path, line) of every line run meanwhile in files of this folder."""
    lines, known = set(), {}

    def ours(code):
        name = code.co_filename
        if name not in known:
            known[name] = Path(name).is_relative_to(folder)
        return known[name]

    def trace(frame, event, _arg):
        if not ours(frame.f_code):
            return None
        if event == "line":
            lines.add((frame.f_code.co_filename, frame.f_lineno))
        return trace

    before = sys.gettrace()
    sys.settrace(trace)
    try:
        yield lines
    finally:
        sys.settrace(before)
