"""SenML JSON (RFC 8428, July 2018): a pack of records, resolved (§4.6)."""

from __future__ import annotations

import re
from typing import NamedTuple, NoReturn

from monitor.intake.payloads.parts import Refused, shown
from monitor.readings import Millis, RefusalKind

VERSION = 10
"""The version of RFC 8428; a larger one may mean something else (§4.4)."""
ABSOLUTE = 2**28
"""Seconds from which a time counts from 1970; below it is relative to now (§4.5.3)."""

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:./_]*")  # §4.5.1
_TEXT, _NUMBER, _TRUTH = (str,), (int, float), (bool,)
_TYPES: dict[str, tuple[type, ...]] = {
    **dict.fromkeys(("bn", "bu", "n", "u", "vs", "vd"), _TEXT),
    **dict.fromkeys(("bt", "bv", "bs", "bver", "v", "s", "t", "ut"), _NUMBER),
    "vb": _TRUTH,
}  # §4.3, Table 1
_SAID: dict[type, str] = {
    str: "text", int: "a number", float: "a number", bool: "true or false", dict: "an object", list: "a list",
    type(None): "null",
}  # fmt: skip
_VALUES = ("v", "vs", "vb", "vd")
_OF_A_MEASUREMENT = ("n", "u", "t", "ut")


class Record(NamedTuple):
    """One resolved record. `value` is None where only a sum was sent.

    `at` is its absolute time; where the pack only says how long ago (or ahead), `at` is None and `shift`
    is the milliseconds from now.
    """

    name: str
    unit: str | None
    value: float | str | bool | None
    at: Millis | None
    shift: Millis
    total: float | None


def resolve(pack: object, now: Millis) -> list[Record]:
    """The records of a parsed pack, base fields applied, in order of their time. Raises Refused."""
    if not isinstance(pack, list):
        _refuse("The message is not a list of records.")
    base: dict[str, object] = {}
    records: list[Record] = []
    for number, raw in enumerate(pack, 1):
        if not isinstance(raw, dict):
            _refuse(f"Record {number} is not an object.")
        _check(raw, number)
        for label in ("bn", "bt", "bu", "bv", "bs"):
            if label in raw:
                base[label] = raw[label]
        record = _resolved(raw, base, number)
        if record is not None:
            records.append(record)
    if len(records) > 1:
        records.sort(key=lambda r: now + r.shift if r.at is None else r.at)
    return records


def _check(raw: dict[str, object], number: int) -> None:
    for label, value in raw.items():
        types = _TYPES.get(label)
        if types is None:
            if label.endswith("_"):  # §4.4: must be understood
                _refuse(f"Record {number} has a field {shown(label)} that must be understood and is not.")
        elif type(value) not in types:
            _refuse(f"Record {number} has {_SAID[type(value)]} as its {label}; it must be {_SAID[types[0]]}.")
    version = raw.get("bver", VERSION)
    if version > VERSION or version < 1:  # type: ignore[operator]
        _refuse(f"Record {number} is of version {shown(version)}, and {VERSION} is the newest one known.")


def _resolved(raw: dict[str, object], base: dict[str, object], number: int) -> Record | None:
    values = [label for label in _VALUES if label in raw]
    if len(values) > 1:
        _refuse(f"Record {number} has {len(values)} values.")
    measures = bool(values) or "s" in raw
    if not measures and not any(label in raw for label in _OF_A_MEASUREMENT):
        return None  # base fields only (§5.1.7)
    if not measures and "bs" not in base:
        _refuse(f"Record {number} has no value.")
    name = f"{base.get('bn', '')}{raw.get('n', '')}"
    if not name:
        _refuse(f"Record {number} has no name.")
    if not _NAME.fullmatch(name):
        _refuse(f"The name {shown(name)} has a character that SenML does not allow.")
    value = raw[values[0]] if values else None
    if values == ["v"]:
        value = _sum(base.get("bv"), value)
    total = _sum(base.get("bs"), raw.get("s")) if "s" in raw or "bs" in base else None
    seconds = _sum(base.get("bt"), raw.get("t"))
    at, shift = (round(seconds * 1000), 0) if seconds >= ABSOLUTE else (None, round(seconds * 1000))
    unit = raw.get("u", base.get("bu"))
    return Record(name, unit, value, at, shift, total)  # type: ignore[arg-type]


def _sum(one: object, other: object) -> float:
    """A base and its own part; a missing one is zero (§4.5.3, §4.5.4). Both are numbers or None."""
    try:
        found = float(one or 0) + float(other or 0)  # type: ignore[arg-type]
    except OverflowError:
        found = float("inf")
    if not -1e15 < found < 1e15:
        _refuse("It holds a number too large to be meant.")
    return found


def _refuse(reason: str) -> NoReturn:
    raise Refused(RefusalKind.NOT_SENML, f"Not SenML (RFC 8428). {reason} Look at what the probe sends.")
