"""Units at the edges: what keepers and probes write, into canonical units and back.

Canonical: °C, kg, L, m², m, W, W/m². Factors are exact by definition: the international yard and pound agreement
of 1959 (foot 0.3048 m, pound 0.45359237 kg; memory), the US gallon of 231 cubic inches (memory), 0 °C = 273.15 K
(BIPM, SI brochure; memory), °F = 9/5 °C + 32 (memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from monitor.errors import BadValue

ABSOLUTE_ZERO = -273.15
"""°C."""

FOOT = 0.3048
INCH = FOOT / 12
POUND = 0.45359237
GALLON = 231 * (100 * INCH) ** 3 / 1000
"""Litres in a US gallon: 231 cubic inches, 3.785411784 L."""


@dataclass(frozen=True, slots=True)
class Scale:
    """canonical = factor · value + offset. `canonical` is the canonical unit's symbol."""

    canonical: str
    factor: float
    offset: float = 0.0


SCALES: Mapping[str, Scale] = {
    "°C": Scale("°C", 1),
    "°F": Scale("°C", 5 / 9, -32 * 5 / 9),
    "K": Scale("°C", 1, ABSOLUTE_ZERO),
    "kg": Scale("kg", 1),
    "g": Scale("kg", 0.001),
    "lb": Scale("kg", POUND),
    "L": Scale("L", 1),
    "mL": Scale("L", 0.001),
    "gal": Scale("L", GALLON),
    "m2": Scale("m2", 1),
    "cm2": Scale("m2", 1e-4),
    "ft2": Scale("m2", FOOT**2),
    "m": Scale("m", 1),
    "cm": Scale("m", 0.01),
    "mm": Scale("m", 0.001),
    "ft": Scale("m", FOOT),
    "in": Scale("m", INCH),
    "W": Scale("W", 1),
    "kW": Scale("W", 1000),
    "W/m2": Scale("W/m2", 1),
    "W/ft2": Scale("W/m2", 1 / FOOT**2),
}
"""Every unit we can read, by symbol."""


def canonical(value: float, unit: str) -> float:
    """A value in `unit`, in its canonical unit. Raises BadValue for an unknown unit or below absolute zero."""
    scale = _scale(unit)
    result = scale.factor * value + scale.offset
    if scale.canonical == "°C" and result < ABSOLUTE_ZERO - 1e-9:
        raise BadValue(f"{value} {unit} is below absolute zero")
    return result


def in_unit(value: float, unit: str) -> float:
    """A canonical value, in `unit`. Raises BadValue for an unknown unit."""
    scale = _scale(unit)
    return (value - scale.offset) / scale.factor


def difference(value: float, unit: str) -> float:
    """A difference in `unit`, in canonical units: 9 °F apart is 5 °C apart."""
    return _scale(unit).factor * value


def difference_in(value: float, unit: str) -> float:
    """A canonical difference, in `unit`: 5 °C apart is 9 °F apart."""
    return value / _scale(unit).factor


def _scale(unit: str) -> Scale:
    try:
        return SCALES[unit]
    except KeyError:
        raise BadValue(f"{unit!r} is no unit we know; known are {', '.join(SCALES)}") from None


def fahrenheit(celsius: float) -> float:
    """°C in °F."""
    return in_unit(celsius, "°F")


def celsius(degrees_fahrenheit: float) -> float:
    """°F in °C. Raises BadValue below absolute zero."""
    return canonical(degrees_fahrenheit, "°F")


def gallons(litres: float) -> float:
    """Litres in US gallons."""
    return in_unit(litres, "gal")


def pounds(kilograms: float) -> float:
    """Kilograms in pounds."""
    return in_unit(kilograms, "lb")
