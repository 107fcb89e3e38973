"""What was learned as JSON and back, to the last bit: floats by repr, which Python reads back exactly.

For the store, for a keeper who wants to see it, and for another machine that takes it up.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import fields
from typing import Any, TypeVar

from monitor.bed.dressing import Dress, Dressing
from monitor.bed.forecast import Learned
from monitor.bed.habit import Habit
from monitor.bed.mats import Filter, Watch
from monitor.bed.room import Room
from monitor.bed.zone import Hour, Zone
from monitor.errors import BadValue

T = TypeVar("T")
VERSION = 2


def written(thing: Learned | Room | Watch) -> str:
    """One line of JSON. Never holds a value that is no number."""
    whole = {"kind": type(thing).__name__.lower(), "version": VERSION, **_parts(thing)}
    return json.dumps(whole, allow_nan=False, separators=(",", ":"), default=_parts)


def _parts(thing: Any) -> dict[str, Any]:
    """What stands in a dataclass; half the time of `asdict`, which copies every number."""
    return {one.name: getattr(thing, one.name) for one in fields(thing)}


def learned_of(text: str) -> Learned:
    """A zone that was written. Raises BadValue for anything else."""
    return _read(text, "learned", _learned)


def room_of(text: str) -> Room:
    """A room that was written. Raises BadValue for anything else."""
    return _read(text, "room", _room)


def watch_of(text: str) -> Watch:
    """A mat's watch that was written. Raises BadValue for anything else."""
    return _read(text, "watch", _watch)


def _watch(found: dict[str, Any]) -> Watch:
    tracked = None if found["filter"] is None else Filter(*found["filter"])
    earlier = tuple((a, b, c, d, known) for a, b, c, d, known in found["earlier"])
    kept = {name: value for name, value in found.items() if name not in ("kind", "version")}
    return Watch(**{**kept, "filter": tracked, "earlier": earlier, "residuals": tuple(found["residuals"])})


def _read(text: str, kind: str, made: Callable[[dict[str, Any]], T]) -> T:
    try:
        found = json.loads(text)
        if (found["kind"], found["version"]) == (kind, VERSION):
            return made(found)
        raise KeyError(f"{kind} of version {VERSION}")
    except (ValueError, KeyError, TypeError, AttributeError) as wrong:
        raise BadValue(f"this is not what a bed has learned: {wrong}") from wrong


def _learned(found: dict[str, Any]) -> Learned:
    habit = found.get("habit")  # what was kept before habits were has none
    zone, (past, outdoors) = _zone(found["zone"]), map(_dressing, _both(found))
    return Learned(zone, past, outdoors, Habit() if habit is None else _habit(habit))


def _habit(found: dict[str, Any]) -> Habit:
    rows = {name: tuple(found[name]) for name in ("hours", "on_at", "off_at")}
    return Habit(**{**found, **rows})


def _both(found: dict[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    return found["past"], found["outdoors"]


def _room(found: dict[str, Any]) -> Room:
    q, s, d = found["theta"]
    return Room(found["newest"], tuple(found["past"]), (q, s, d), tuple(found["spread"]), found["learned"])


def _zone(found: dict[str, Any]) -> Zone:
    recent = tuple(Hour(**hour) for hour in found["recent"])
    theta, spread = tuple(found["theta"]), tuple(found["spread"])
    return Zone(**{**found, "recent": recent, "theta": theta, "spread": spread})


def _dressing(found: dict[str, Any]) -> Dressing:
    seen = tuple(None if ends is None else tuple(ends) for ends in found["seen"])
    return Dressing(found["newest"], seen, tuple(map(_dress, found["dresses"])))


def _dress(found: dict[str, Any]) -> Dress:
    told = tuple(None if one is None else tuple(one) for one in found["open"])
    rows = {name: tuple(found[name]) for name in ("errors", "weights", "spread")}
    return Dress(**{**found, **rows, "open": told})
