"""Measures as text: OpenMetrics 1.0, and the older plain format for who does not take it.

OpenMetrics: "OpenMetrics, a cloud-native, highly scalable metrics protocol" (github.com/OpenObservability/OpenMetrics,
specification/OpenMetrics.md; the draft draft-richih-opsawg-openmetrics-00) [memory]; the plain one is what its fore-runner
called text format 0.0.4 [memory]. A test reads both with the reference parsers.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

OPENMETRICS = "application/openmetrics-text; version=1.0.0; charset=utf-8"
PLAIN = "text/plain; version=0.0.4; charset=utf-8"


class Type(StrEnum):
    """What a family's numbers are."""

    GAUGE = "gauge"
    COUNTER = "counter"
    INFO = "info"


@dataclass(frozen=True, slots=True)
class Sample:
    """One number under its labels."""

    value: float
    labels: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Family:
    """Numbers of one name. `unit` is what the name ends in, empty without one."""

    name: str
    type: Type
    unit: str
    help: str
    samples: tuple[Sample, ...]


SUFFIX: Mapping[Type, str] = {Type.GAUGE: "", Type.COUNTER: "_total", Type.INFO: "_info"}
"""What a sample's name has behind that of its family."""


def openmetrics(families: Iterable[Family]) -> str:
    """Everything as OpenMetrics."""
    lines = [line for one in families if one.samples for line in _open(one)]
    return "\n".join([*lines, "# EOF", ""])


def plain(families: Iterable[Family]) -> str:
    """The same in the older format, where a counter's family is called as its samples are, and nothing is an info."""
    lines = [line for one in families if one.samples for line in _plain(one)]
    return "\n".join([*lines, ""])


def _open(family: Family) -> Iterator[str]:
    yield f"# TYPE {family.name} {family.type}"
    if family.unit:
        yield f"# UNIT {family.name} {family.unit}"
    yield f"# HELP {family.name} {_escaped(family.help, quotes=True)}"
    yield from _samples(family)


def _plain(family: Family) -> Iterator[str]:
    name = family.name + SUFFIX[family.type]
    yield f"# HELP {name} {_escaped(family.help, quotes=False)}"
    yield f"# TYPE {name} {Type.GAUGE if family.type is Type.INFO else family.type}"
    yield from _samples(family)


def _samples(family: Family) -> Iterator[str]:
    name = family.name + SUFFIX[family.type]
    for sample in family.samples:
        labels = ",".join(f'{key}="{_escaped(value, quotes=True)}"' for key, value in sample.labels.items())
        yield f"{name}{{{labels}}} {_number(sample.value)}" if labels else f"{name} {_number(sample.value)}"


def _escaped(text: str, *, quotes: bool) -> str:
    """With backslash, line feed and quotation mark as the formats want them; a surrogate that is no character is replaced."""
    found = text.replace("\\", "\\\\").replace("\n", "\\n").encode("utf-8", "replace").decode()
    return found.replace('"', '\\"') if quotes else found


def _number(value: float) -> str:
    if math.isnan(value):
        return "NaN"
    if math.isinf(value):
        return "+Inf" if value > 0 else "-Inf"
    return repr(int(value)) if float(value).is_integer() and abs(value) < 1e15 else repr(float(value))


def wanted(accept: str) -> str | None:
    """Which of OPENMETRICS and PLAIN an Accept header asks for, OPENMETRICS where it does not matter, None for neither
    (RFC 9110, section 12.5.1).
    """
    ranges = [_range(part) for part in accept.split(",") if part.strip()]
    if not ranges:
        return OPENMETRICS
    weights = {kind: _weight(kind, ranges) for kind in (OPENMETRICS, PLAIN)}
    best = max(weights, key=lambda kind: weights[kind])
    return best if weights[best] > 0 else None


Range = tuple[str, dict[str, str], float]


def _range(text: str) -> Range:
    kind, *parameters = (part.strip() for part in text.split(";"))
    pairs = {
        key.strip().lower(): value.strip().strip('"') for key, _, value in (p.partition("=") for p in parameters)
    }
    try:
        weight = float(pairs.pop("q", "1"))
    except ValueError:
        weight = 0.0
    return kind.lower(), pairs, weight if 0 <= weight <= 1 else 0.0


def _weight(kind: str, ranges: Iterable[Range]) -> float:
    """What the most particular range that fits says of it."""
    name, pairs, _ = _range(kind)
    fits = [
        (len(asked), (asked_name == name) * 2 + asked_name.endswith("/*") * (asked_name != "*/*"), weight)
        for asked_name, asked, weight in ranges
        if asked_name in (name, "*/*", f"{name.partition('/')[0]}/*")
        and all(pairs.get(key) == value for key, value in asked.items() if key in ("version", "charset"))
    ]
    return max(fits, key=lambda fit: (fit[1], fit[0], fit[2]))[2] if fits else 0.0
