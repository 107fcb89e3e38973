"""Bins of which the same can be said are told together: a farm of five hundred fits on a page."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from monitor.rules import Bin

_NUMBERED = re.compile(r"(.*?)([0-9]+)")


def together(told: Iterable[tuple[Bin, Sequence[str]]]) -> Iterator[list[str]]:
    """The lines about each bin, or about several of which the same is true: then with `<bin>` for their ids and
    `<name>` for their names, below a line that says which.
    """
    groups: dict[tuple[str, ...], list[tuple[Bin, Sequence[str]]]] = {}
    for bed, lines in told:
        groups.setdefault(tuple(_plain(line, bed) for line in lines), []).append((bed, lines))
    for plain, members in groups.items():
        if len(members) == 1:
            yield list(members[0][1])
        else:
            which = listed([bed.id for bed, _ in members])
            yield [f"Alike, {len(members)} bins: {which}.", *plain]


def _plain(line: str, bed: Bin) -> str:
    """The line without what is this bin's alone."""
    for word, stands in ((bed.name, "<name>"), (bed.id, "<bin>")):
        line = re.sub(rf"(?<![\w-]){re.escape(word)}(?!\w)", stands, line)
    return line.replace("<name> (<bin>)", "<bin>")


def listed(ids: Sequence[str]) -> str:
    """`row-001..row-016, row-018 and pit`: runs of numbers as the ranges that a profile takes."""
    runs: list[list[str]] = []
    for id_ in ids:
        if runs and _follows(runs[-1][-1], id_):
            runs[-1].append(id_)
        else:
            runs.append([id_])
    pieces = [one for run in runs for one in ([f"{run[0]}..{run[-1]}"] if len(run) > 2 else run)]
    return pieces[0] if len(pieces) == 1 else f"{', '.join(pieces[:-1])} and {pieces[-1]}"


def _follows(before: str, id_: str) -> bool:
    one, other = _NUMBERED.fullmatch(before), _NUMBERED.fullmatch(id_)
    if one is None or other is None or one[1] != other[1]:
        return False
    wide = len(one[2]) == len(other[2]) or not one[2].startswith("0")
    return wide and int(other[2]) == int(one[2]) + 1
