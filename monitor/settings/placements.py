"""Where a probe stands from when to when: one that was moved is written once for each of its places."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import datetime

from monitor.settings.mistakes import Paper, Path, quoted
from monitor.settings.schema import ProbeShape

_SAME = ("measures", "topic", "field", "time", "name", "sends", "every")
"""What belongs to the probe itself, wherever it stands."""

Stand = tuple[Path, ProbeShape]


def is_moved(paper: Paper, path: Path) -> bool:
    """Whether an entry of a probe says from when, or up to when, it stands there."""
    return any(key in paper.keys(*path) for key in ("since", "until"))


def check_placements(probes: Iterator[Stand], paper: Paper) -> None:
    """Note what is wrong with the times of any probe, and between two entries of one."""
    by_id: dict[str, list[Stand]] = defaultdict(list)
    for path, probe in probes:
        by_id[str(path[-1])].append((path, probe))
        if probe.since and probe.until and _at(probe.until) <= _at(probe.since):
            hint = "It is the day on which the probe no longer stands there."
            paper.wrong((*path, "until"), "`until` is not after `since`.", hint)
    for stands in by_id.values():
        moved = [one for one in stands if is_moved(paper, one[0])]
        for number, one in enumerate(moved):
            for earlier in moved[:number]:
                _between(paper, earlier, one)


def _between(paper: Paper, earlier: Stand, one: Stand) -> None:
    (first, before), (path, after) = earlier, one
    if not paper.whole(path) or not paper.whole(first):
        return
    line = paper.spots.find(first).key_line
    for key in _SAME:
        if getattr(before, key) != getattr(after, key):
            said = f"{quoted(path[-1])} has another `{key}` here than on line {line}."
            paper.wrong(
                path, said, "A probe that is moved stays the same probe: write the same of both.", key=True
            )
            return
    low = max(_at(shape.since) if shape.since else datetime.min for shape in (before, after))
    high = min(_at(shape.until) if shape.until else datetime.max for shape in (before, after))
    if low < high:
        said = f"{quoted(path[-1])} stands here and, on line {line}, in another place at the same time."
        paper.wrong(path, said, "Let `until` of the one be `since` of the other.", key=True)


def _at(hour: tuple[object, object]) -> datetime:
    return datetime.combine(*hour)  # type: ignore[arg-type]
