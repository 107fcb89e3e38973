"""What a message says of whatever sends it, beside its readings: how full its battery is, and how well it is received.

SenML tells both by units: `%EL` is what is left of a battery in per cent (RFC 8428 §12.1 [memory]), `dBm` and `dBW` are powers
(RFC 8798, RFC 8428 [memory]). In other JSON only a key can tell; then the unit is as the sender has it. Nothing is judged by it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from monitor.intake.payloads.parts import BEYOND, Refused, document
from monitor.intake.payloads.senml import resolve
from monitor.readings import Beside, Millis

DEEPEST = 4
"""How deep in a document it is looked for (ours)."""
LONGEST = 4_096
"""Bytes of a payload that are looked through for it: a probe's message has a hundred (ours)."""

_WORTH = re.compile(rb"batter|rssi|signal|%EL|dBm|dBW", re.IGNORECASE)
_BATTERY, _SIGNAL = re.compile("batter", re.IGNORECASE), re.compile("rssi|signal", re.IGNORECASE)
_POWERS = ("dBm", "dBW")


def beside(topic: str, payload: bytes, now: Millis) -> Beside | None:
    """The first battery and the first signal in a payload; None when neither is told. Raises nothing on any bytes."""
    if payload[:1] not in (b"{", b"[") or len(payload) > LONGEST or _WORTH.search(payload) is None:
        return None
    try:
        whole = document(payload)
    except Refused:
        return None
    battery, signal = _of_senml(whole, now) if isinstance(whole, list) else (None, None)
    if battery is None and signal is None:
        battery, signal = _of_keys(whole)
    if battery is None and signal is None:
        return None
    told, heard = battery or (None, ""), signal or (None, "")
    return Beside(topic, told[0], told[1], heard[0], heard[1])


_Told = tuple[float, str] | None


def _of_senml(whole: list[object], now: Millis) -> tuple[_Told, _Told]:
    battery: _Told = None
    signal: _Told = None
    try:
        records = resolve(whole, now)
    except Refused:
        return None, None
    for record in records:
        value = _number(record.value)
        if value is None or record.unit is None:
            continue
        if battery is None and record.unit == "%EL":
            battery = value, "%"
        elif battery is None and record.unit == "V" and _BATTERY.search(record.name):
            battery = value, "V"
        elif signal is None and record.unit in _POWERS:
            signal = value, record.unit
    return battery, signal


def _of_keys(whole: object) -> tuple[_Told, _Told]:
    battery: _Told = None
    signal: _Told = None
    for key, value in _numbers(whole, 0):
        if battery is None and _BATTERY.search(key):
            battery = value, ""
        elif signal is None and _SIGNAL.search(key):
            signal = value, ""
    return battery, signal


def _numbers(inside: object, depth: int, key: str = "") -> Iterator[tuple[str, float]]:
    """(key, value) of every number; what lies in an object that is called battery is told by that."""
    if isinstance(inside, dict) and depth < DEEPEST:
        for name, value in inside.items():
            yield from _numbers(value, depth + 1, f"{key}/{name}")
    elif isinstance(inside, list) and depth < DEEPEST:
        for value in inside:
            yield from _numbers(value, depth + 1, key)
    elif (value := _number(inside)) is not None:
        yield key, value


def _number(raw: object) -> float | None:
    if isinstance(raw, int | float) and not isinstance(raw, bool) and -BEYOND <= raw <= BEYOND:
        return float(raw)
    return None
