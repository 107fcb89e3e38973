"""Keys that are read and checked but change nothing yet. When one begins to work, its row goes."""

from __future__ import annotations

from collections.abc import Iterator

from monitor.settings.mistakes import Data, Paper

PENDING: tuple[tuple[str, str], ...] = (
    ("bins.*.vessel.cover", "The cover is not used yet: no loss of heat or water is reckoned from it."),
)
"""Key (`*` is any one id, lists are looked through) and the sentence that `check` says about it."""


def ineffective(paper: Paper) -> tuple[str, ...]:
    """The dotted keys of this file that have no effect yet, in the order of the table."""
    found = (key for pattern, _ in PENDING for key in _written(paper.data, pattern.split("."), ""))
    return tuple(dict.fromkeys(found))


def _written(data: Data, pattern: list[str], above: str) -> Iterator[str]:
    if not pattern:
        yield above
    elif isinstance(data, list):
        for item in data:
            yield from _written(item, pattern, above)
    elif isinstance(data, dict):
        step, *rest = pattern
        for key in data if step == "*" else [step] if step in data else []:
            yield from _written(data[key], rest, f"{above}.{key}" if above else key)


def sentence_for(key: str) -> str:
    """What `check` says about one dotted key. Raises KeyError for a key that has an effect."""
    steps = key.split(".")
    for pattern, sentence in PENDING:
        wanted = pattern.split(".")
        if len(wanted) == len(steps) and all(w in ("*", s) for w, s in zip(wanted, steps, strict=True)):
            return sentence
    raise KeyError(key)
