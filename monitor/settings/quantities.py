"""Texts with units → numbers in canonical units (°C, %, kg, litres, W, m², m, milliseconds).

A bare number is read in the site's own units. The factors are those of `monitor.science.units`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.readings import DAY, HOUR, MINUTE, SECOND
from monitor.rules import Units
from monitor.science.units import SCALES, Scale
from monitor.settings.mistakes import Misread, nearest, quoted


@dataclass(frozen=True, slots=True)
class Quantity:
    """One kind of quantity, with every unit it may be written in and the one a bare number means."""

    name: str
    units: Mapping[str, Scale]
    spoken: str
    examples: Mapping[Units, str]
    bare: Mapping[Units, str] = field(default_factory=dict)


def _both(metric: str, us: str) -> dict[Units, str]:
    return {Units.METRIC: metric, Units.US: us}


def _known(**also: str) -> dict[str, Scale]:
    return {text: SCALES[symbol] for text, symbol in also.items()}


_CELSIUS, _FAHRENHEIT = dict.fromkeys(["°C", "C", "℃", "Cel"], "°C"), dict.fromkeys(["°F", "F", "℉", "degF"], "°F")
_DEGREES = _known(**_CELSIUS, **_FAHRENHEIT, K="K")
_DIFFERENCES = {text: Scale(scale.canonical, scale.factor) for text, scale in _DEGREES.items()}

TEMPERATURE = Quantity(
    "a temperature", _DEGREES, "°C, °F or K", _both("21 °C", "70 °F"), _both("°C", "°F")
)  # fmt: skip
DEGREES = Quantity(
    "a temperature difference", _DIFFERENCES, "°C, °F or K", _both("1 °C", "2 °F"), _both("°C", "°F")
)  # fmt: skip
PERCENT = Quantity("a percentage", {"%": Scale("%", 1)}, "%", _both("70 %", "70 %"), _both("%", "%"))
MASS = Quantity(
    "a mass", _known(kg="kg", g="g", lb="lb"), "kg, g or lb", _both("2 kg", "4 lb"), _both("kg", "lb")
)  # fmt: skip
VOLUME = Quantity(
    "a volume", _known(L="L", l="L", gal="gal"), "L or gal", _both("40 L", "10 gal"), _both("L", "gal")
)  # fmt: skip
POWER = Quantity("a power", _known(W="W"), "W", _both("40 W", "40 W"), _both("W", "W"))
AREA = Quantity(
    "an area", _known(**{"m2": "m2", "m²": "m2", "ft2": "ft2", "ft²": "ft2"}), "m2 or ft2",
    _both("0.3 m2", "3 ft2"), _both("m2", "ft2"),
)  # fmt: skip
LENGTH = Quantity(
    "a length", _known(m="m", cm="cm", **{"in": "in"}), "cm, m or in", _both("25 cm", "10 in"), _both("cm", "in")
)  # fmt: skip
_SPANS = {"s": Scale("ms", SECOND), "min": Scale("ms", MINUTE), "h": Scale("ms", HOUR), "d": Scale("ms", DAY)}
SPAN = Quantity("a time span", _SPANS, "s, min, h or d", _both("5 min", "5 min"))
QUANTITIES = (TEMPERATURE, PERCENT, MASS, VOLUME, POWER, AREA, LENGTH, SPAN)

_NUMBER = re.compile(r"([-+−–]?)(\d+(?:[.,]\d+)*|[.,]\d+)\s*(.*)", re.ASCII | re.DOTALL)
_SAID: dict[str, tuple[str, ...]] = {
    "°C": ("celsius", "degc", "deg c", "degrees celsius"), "°F": ("fahrenheit", "deg f", "degrees fahrenheit"),
    "%": ("percent", "per cent", "pct"), "kg": ("kilo", "kilos", "kilogram", "kilograms"), "g": ("gram", "grams"),
    "lb": ("lbs", "pound", "pounds"), "L": ("litre", "litres", "liter", "liters", "ltr"),
    "gal": ("gallon", "gallons"), "W": ("watt", "watts"), "m2": ("sqm", "m^2"), "ft2": ("sqft", "ft^2"),
    "in": ('"', "inch", "inches"), "s": ("sec", "secs", "second", "seconds"), "min": ("m", "mins", "minute", "minutes"),
    "h": ("hr", "hrs", "hour", "hours"), "d": ("day", "days"),
}  # fmt: skip
"""What people call a unit, and how it is written here."""
_MEANT = {word: unit for unit, words in _SAID.items() for word in words}


def measured(text: str, quantity: Quantity, units: Units) -> float:
    """The canonical number of `21 °C`, `70 °F`, `21`. Raises Misread for another quantity, unit or no number."""
    sign, number, unit = _parted(text, quantity, units)
    if not unit:
        unit = _bare(text, quantity, units)
    if unit not in quantity.units:
        raise _wrong_unit(text, unit, quantity, units)
    scale = quantity.units[unit]
    return round(sign * number * scale.factor + scale.offset, 9)


def spread(text: str, quantity: Quantity, units: Units) -> tuple[float, float]:
    """The two ends of `21..29 °C`. Raises Misread, also when the first is not below the second."""
    low, dots, high = text.partition("..")
    if not dots or high.startswith(".") or not _NUMBER.match(low.strip()) or not _NUMBER.match(high.strip()):
        raise Misread(f"{quoted(text)} is not a range.", f"Write {_range_meant(text, quantity, units)}.")
    high_unit = _parted(high, quantity, units)[2]
    low_unit = _parted(low, quantity, units)[2]
    if low_unit and not high_unit:
        raise Misread(
            f"{quoted(text)} has its unit in the middle.", f"Write {_range_meant(text, quantity, units)}."
        )
    ends = (measured(low if low_unit else f"{low} {high_unit}", quantity, units), measured(high, quantity, units))
    if ends[0] >= ends[1]:
        raise Misread(f"In {quoted(text)} low is not below high.", "Write the lower number first.")
    return ends


def _parted(text: str, quantity: Quantity, units: Units) -> tuple[float, float, str]:
    found = _NUMBER.fullmatch(text.replace("\u00a0", " ").replace("\u202f", " ").strip())
    if found is None:
        raise Misread(f"{quoted(text)} is not {quantity.name}.", f"Write for example {quantity.examples[units]}.")
    sign, digits, unit = found.groups()
    if "," in digits or digits.count(".") > 1:
        raise _comma(text, digits)
    number = float(digits)
    if not math.isfinite(number):
        raise Misread(f"{quoted(text)} is too large.", f"Write for example {quantity.examples[units]}.")
    return (-1.0 if sign in ("-", "−", "–") else 1.0), number, unit.strip()


def _comma(text: str, digits: str) -> Misread:
    """A comma is a decimal sign to some and parts thousands to others: when both may be meant, both are shown."""
    whole, part = digits.replace(",", ""), digits.replace(",", ".", 1)
    if digits.count(",") == 1 and "." not in digits:
        thousands = re.fullmatch(r"[1-9]\d{0,2},\d{3}", digits) is not None
        said = "has a comma." if thousands else "has a decimal comma."
        return Misread(
            f"{quoted(text)} {said}", f"Write {whole + ' or ' if thousands else ''}{part} with a point."
        )
    if whole.count(".") > 1:
        return Misread(f"{quoted(text)} is not a number.", "Write its digits with one point at most.")
    return Misread(f"{quoted(text)} has commas between its digits.", f"Write {whole} without them.")


def _bare(text: str, quantity: Quantity, units: Units) -> str:
    if units not in quantity.bare:
        hint = f"Write {quantity.spoken} after it, for example {quantity.examples[units]}."
        raise Misread(f"{quoted(text)} has no unit.", hint)
    return quantity.bare[units]


def _wrong_unit(text: str, unit: str, quantity: Quantity, units: Units) -> Misread:
    example = f"Write it in {quantity.spoken}, for example {quantity.examples[units]}."
    for other in QUANTITIES:
        if unit in other.units and other.units.keys() != quantity.units.keys():
            return Misread(f"{quoted(text)} is {other.name}, not {quantity.name}.", example)
    if re.search(r"[\d_:]", unit):
        return Misread(f"{quoted(text)} is not {quantity.name}.", f"Write for example {quantity.examples[units]}.")
    near = nearest(unit, {u.lower(): u for u in quantity.units})
    exact = next((u for u in quantity.units if u.lower() == near), None)
    if (said := _MEANT.get(unit.lower())) in quantity.units:
        exact = said
    return Misread(f"{quoted(text)} has a unit we do not know.", f"Did you mean {exact}?" if exact else example)


def _range_meant(text: str, quantity: Quantity, units: Units) -> str:
    """The range of the keeper's own two numbers when there are two, else an example."""
    numbers = re.findall(r"\d+(?:\.\d+)?", text)
    if len(numbers) != 2 or float(numbers[0]) >= float(numbers[1]):
        return _range_example(quantity, units)
    unit = next((f" {u}" for u in sorted(quantity.units, key=len, reverse=True) if u in text), "")
    return f"{'..'.join(numbers)}{unit}"


def _range_example(quantity: Quantity, units: Units) -> str:
    if quantity is TEMPERATURE:
        return "21..29 °C" if units is Units.METRIC else "70..84 °F"
    return "70..85 %"


def written(value: float, quantity: Quantity, units: Units) -> str:
    """A canonical number as the keeper would write it, at most four digits: `29 °C`, `84.2 °F`, `5 min`."""
    if quantity is SPAN:
        return _span_written(round(value))
    unit = quantity.bare[units]
    scale = quantity.units[unit]
    number = round((value - scale.offset) / scale.factor, 6)
    shown = f"{number:.0f}" if abs(number) >= 1000 else f"{number:.4g}"
    return f"{shown} {unit}"


def _span_written(span: int) -> str:
    """In the largest unit that leaves no rest: `4 h`, `90 min`."""
    for unit in ("d", "h", "min"):
        size = int(_SPANS[unit].factor)
        if span >= size and span % size == 0:
            return f"{span // size} {unit}"
    return f"{span / SECOND:g} s"
