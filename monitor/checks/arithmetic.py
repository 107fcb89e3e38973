"""How numbers and spans are written in a line of arithmetic: canonical units, nothing local."""

from __future__ import annotations

from monitor.readings import DAY, HOUR, MINUTE, SECOND, Millis

_UNITS = ((DAY, "d"), (HOUR, "h"), (MINUTE, "min"), (SECOND, "s"))


def number(value: float) -> str:
    """At most two decimals, none that say nothing: 15, 14.2, −3.75."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text.replace("-", "−")


def quantity(value: float, unit: str) -> str:
    """A number with its unit."""
    return f"{number(value)} {unit}" if unit else number(value)


def span(length: Millis) -> str:
    """A length of time in its two largest units: `4 h 10 min`, `35 min`, `0 s`."""
    for index, (size, name) in enumerate(_UNITS):
        if length >= size:
            rest = length % size
            smaller, small_name = _UNITS[min(index + 1, len(_UNITS) - 1)]
            tail = f" {rest // smaller} {small_name}" if rest >= smaller and smaller < size else ""
            return f"{length // size} {name}{tail}"
    return "0 s"
