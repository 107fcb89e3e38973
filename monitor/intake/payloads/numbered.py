"""The numbers that our own publisher sends beside its readings, and the marks that answer them: both ends of one form.

A pack of SenML (RFC 8428) with records of its own behind the readings, their names below the probe's:
`fig-west/life` (text), `fig-west/number` (of the first reading; those behind it follow by one) and `fig-west/oldest` (the lowest
number still held). Whoever does not know them reads the readings alone.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from monitor.readings import Millis

LIFE, NUMBER, OLDEST = "/life", "/number", "/oldest"
BESIDE = (LIFE, NUMBER, OLDEST)
_HINT = LIFE.encode() + b'"'
_LIFE = re.compile(r"[0-9a-f]{4,32}")
_PROBE = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]{0,63}")
HIGHEST = 1 << 53
"""Numbers beyond this are no longer exact in JSON."""


class Numbered(NamedTuple):
    """What one message says of its readings' numbers: `number` to `last`, all of one `life`; below `oldest` none is missed."""

    probe: str
    life: str
    number: int
    last: int
    oldest: int


class Mark(NamedTuple):
    """How far a probe's readings of one life are on disk without a gap, and the highest number that was heard."""

    probe: str
    life: str
    through: int
    heard: int


def pack(
    probe: str, unit: str, readings: Sequence[tuple[Millis, float]], *, life: str, number: int, oldest: int
) -> bytes:
    """One message. `unit` is SenML's, empty for true and false. `readings` are (time, value), numbered from `number`."""
    first = readings[0][0]
    records: list[dict[str, object]] = []
    for at, value in readings:
        record: dict[str, object] = {"vb": bool(value)} if not unit else {"u": unit, "v": value}
        if at != first:
            record["t"] = (at - first) / 1000
        records.append(record)
    records[0] = {"bn": probe, "bt": first / 1000, **records[0]}
    records += [
        {"n": LIFE, "vs": life},
        {"n": NUMBER, "u": "count", "v": number},
        {"n": OLDEST, "u": "count", "v": oldest},
    ]
    return json.dumps(records, separators=(",", ":")).encode()


def numbered(payload: bytes) -> Numbered | None:
    """What a message says of its readings' numbers; None when it says nothing, or nothing that can be."""
    if _HINT not in payload:
        return None
    try:
        records = json.loads(payload)
        said = {r["n"]: r for r in records if r.get("n") in BESIDE}
        probe, life = records[0]["bn"], said[LIFE]["vs"]
        number, oldest = _whole(said[NUMBER]["v"]), _whole(said[OLDEST]["v"])
    except (ValueError, TypeError, KeyError, IndexError, AttributeError, RecursionError):
        return None
    last = number + len(records) - len(said) - 1
    right = isinstance(probe, str) and _PROBE.fullmatch(probe) and isinstance(life, str) and _LIFE.fullmatch(life)
    if not right or not 1 <= oldest <= number <= last < HIGHEST:
        return None
    return Numbered(probe, life, number, last, oldest)


def mark_payload(mark: Mark) -> bytes:
    """A mark as a message."""
    body = {"life": mark.life, "through": mark.through, "heard": mark.heard}
    return json.dumps(body, separators=(",", ":")).encode()


def mark_of(topic: str, payload: bytes) -> Mark | None:
    """The mark that a message on a probe's topic is; None when it is none."""
    try:
        said = json.loads(payload)
        if not isinstance(said, Mapping):
            return None
        life, through, heard = said["life"], _whole(said["through"]), _whole(said["heard"])
    except (ValueError, TypeError, KeyError, RecursionError):
        return None
    if not isinstance(life, str) or not 0 <= through <= heard < HIGHEST:
        return None
    return Mark(topic.rpartition("/")[2], life, through, heard)


def _whole(value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError("no number")
    if value != int(value):
        raise ValueError("no whole number")
    return int(value)
