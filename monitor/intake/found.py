"""What a payload nobody asked for holds: every number in it, and the lines of settings that would read it."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TypeGuard

from monitor.intake.payloads.numbered import BESIDE
from monitor.intake.payloads.parts import BEYOND, Refused, document, number
from monitor.intake.payloads.senml import resolve
from monitor.readings import Measures, Millis

DEEPEST = 4
"""How deep in a document numbers are looked for: no probe sends deeper (ours)."""
MOST = 12
"""Numbers of one document that are shown (ours)."""

_SAYS: Mapping[str, Measures] = {
    "temp": Measures.TEMPERATURE,
    "celsius": Measures.TEMPERATURE,
    "fahrenheit": Measures.TEMPERATURE,
    "hum": Measures.HUMIDITY,
    "weight": Measures.MASS,
    "mass": Measures.MASS,
    "kilo": Measures.MASS,
    "moist": Measures.MOISTURE,
    "soil": Measures.MOISTURE,
    "damp": Measures.MOISTURE,
}
"""What a word of a topic, a key or a name probably means."""
_UNITS: Mapping[str, tuple[Measures, str]] = {
    "Cel": (Measures.TEMPERATURE, "Cel"),
    "K": (Measures.TEMPERATURE, "K"),
    "%RH": (Measures.HUMIDITY, "%RH"),
    "kg": (Measures.MASS, "kg"),
    "g": (Measures.MASS, "g"),
}
"""Units of SenML (RFC 8428 §12.1) that leave no doubt."""
_TIMES = frozenset({"time", "at", "ts", "timestamp", "date", "when"})
_PLAIN = re.compile(r"[A-Za-z0-9/][A-Za-z0-9/_.-]*")


@dataclass(frozen=True, slots=True)
class Found:
    """One number of a payload: its place (`field`, `name` or neither), and what it probably is."""

    value: float
    measures: Measures | None = None
    field: str | None = None
    name: str | None = None
    sends: str | None = None
    time: str | None = None


def numbers(topic: str, payload: bytes, now: Millis) -> list[Found]:
    """Every number that a probe could be made of; none of what is neither a number, JSON nor SenML."""
    guess = _guess(topic)
    try:
        return [Found(number(payload), guess)]
    except Refused:
        pass
    try:
        whole = document(payload)
    except Refused:
        return []
    if isinstance(whole, list):
        try:
            return [f for r in resolve(whole, now) if (f := _record(r.name, r.unit, r.value)) is not None][:MOST]
        except Refused:
            pass
    times = [pointer for pointer, key, value in _walk(whole, "", "", 0) if _is_time(key, value)]
    time = times[0] if len(times) == 1 else None
    return [
        Found(float(value), _guess(key) or guess, field=pointer, time=time)
        for pointer, key, value in _walk(whole, "", "", 0)
        if _is_number(value) and not _is_time(key, value)
    ][:MOST]


def _record(name: str, unit: str | None, value: object) -> Found | None:
    if not _is_number(value) or name.endswith(BESIDE):
        return None
    measures, sends = _UNITS.get(unit or "", (_guess(name), None))
    return Found(float(value), measures, name=name, sends=sends)


def _walk(inside: object, pointer: str, key: str, depth: int) -> Iterator[tuple[str, str, object]]:
    """(JSON Pointer, last key, value) of every leaf."""
    inner: Iterator[tuple[str, object]]
    if isinstance(inside, dict) and depth < DEEPEST:
        inner = iter((str(k), v) for k, v in inside.items())
    elif isinstance(inside, list) and depth < DEEPEST:
        inner = iter((str(n), v) for n, v in enumerate(inside))
    else:
        if not isinstance(inside, dict | list):
            yield pointer, key, inside
        return
    for step, value in inner:
        escaped = step.replace("~", "~0").replace("/", "~1")
        said = step if isinstance(inside, dict) else key
        yield from _walk(value, f"{pointer}/{escaped}", said, depth + 1)


def _is_number(value: object) -> TypeGuard[float]:
    return isinstance(value, int | float) and not isinstance(value, bool) and -BEYOND <= value <= BEYOND


def _is_time(key: str, value: object) -> bool:
    return key.lower() in _TIMES and isinstance(value, int | float | str) and not isinstance(value, bool)


def _guess(text: str) -> Measures | None:
    low = text.lower()
    return next((measures for word, measures in _SAYS.items() if word in low), None)


def line(probe: str, topic: str, found: Found) -> str:
    """The line of settings that would read it; what it measures is for the keeper to check."""
    parts = [f"measures: {found.measures or Measures.TEMPERATURE}", f"topic: {_quoted(topic)}"]
    parts += [f"field: {_quoted(found.field)}"] if found.field is not None else []
    parts += [f"time: {_quoted(found.time)}"] if found.time is not None else []
    parts += [f"name: {_quoted(found.name)}"] if found.name is not None else []
    parts += [f"sends: {_quoted(found.sends)}"] if found.sends is not None else []
    doubt = "" if found.measures else "   # or humidity, or moisture?"
    return f"{probe}: {{{', '.join(parts)}}}{doubt}"


def probe_id(topic: str, found: Found, taken: set[str]) -> str:
    """An id out of the end of the topic, the place and, where that is taken, a number."""
    where = (found.field or found.name or "").strip("/")
    words = re.findall(
        r"[a-z0-9]+", f"{topic.rpartition('/')[2]} {where if found.field or found.name else ''}".lower()
    )
    plain = "-".join(dict.fromkeys(words))[:28].strip("-")
    plain = plain if plain[:1].isalpha() else f"probe-{plain}".strip("-")[:28].strip("-")
    name, n = plain, 1
    while name in taken:
        n += 1
        name = f"{plain}-{n}"
    taken.add(name)
    return name


def _quoted(text: str) -> str:
    return text if _PLAIN.fullmatch(text) else json.dumps(text, ensure_ascii=False)
