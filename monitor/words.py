"""How a keeper reads numbers and times: in the site's units, rounded to what can be read off and acted on.

Everything inside is canonical (°C, %, litres, kg, Millis UTC); what leaves here is text.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from monitor.errors import BadValue
from monitor.readings import HOUR, MINUTE, SECOND, Measures, Millis
from monitor.rules import HourClock, TimeZone, Units
from monitor.science.units import GALLON, difference_in, fahrenheit, in_unit, pounds

MINUS = "−"
_WEEK = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def temperature(c: float, units: Units, *, beside: float | None = None) -> str:
    """A measured temperature: "21.5 °C", "70.7 °F".

    `beside` is the limit (°C) it is shown with: decimals are added until it no longer reads like the limit.
    """
    shown = _degrees(c, units)
    other = None if beside is None else _degrees(beside, units)
    return f"{_apart(shown, other, 1)} {_sign(units)}"


def limit(c: float, units: Units) -> str:
    """A limit, without a decimal when it is whole: "21 °C", "70 °F", "69.8 °F"."""
    return f"{_plain(_degrees(c, units))} {_sign(units)}"


def difference(c: float, units: Units) -> str:
    """How far apart two temperatures are, without a sign: "0.5 °C", "2 °C", "3.6 °F"."""
    apart = abs(c) if units is Units.METRIC else difference_in(abs(c), "°F")
    return f"{_plain(apart)} {_sign(units)}"


def rate(c: float, units: Units) -> str:
    """How fast a temperature rises: "0.54 °C an hour", "0.97 °F an hour"."""
    apart = c if units is Units.METRIC else difference_in(c, "°F")
    return f"{_fixed(apart, 2)} {_sign(units)} an hour"


def shifted(by: float, measures: Measures, units: Units) -> str:
    """How much a probe is corrected by, without a sign: "0.5 °C", "3 points", "4.2 kg"."""
    if measures is Measures.TEMPERATURE:
        return difference(by, units)
    return measured(abs(by), "kg", units) if measures is Measures.MASS else f"{abs(by):g} points"


def side(c: float, bound: float, units: Units) -> str:
    """Where a temperature lies from a limit: "1.5 °C below 21 °C", "at 21 °C", "3.6 °F above 84 °F"."""
    where = "below" if c < bound else "above"
    if c == bound:
        return f"at {limit(bound, units)}"
    apart = difference(c - bound, units)
    apart = f"less than {difference(0.1, units)}" if _plain(abs(c - bound)) == "0" else apart
    return f"{apart} {where} {limit(bound, units)}"


def percent(value: float, *, beside: float | None = None) -> str:
    """A share in whole per cent: "72 %". `beside` is the limit it is shown with, as for `temperature`."""
    return f"{_apart(value, beside, 0)} %"


def moisture(value: float, *, beside: float | None = None) -> str:
    """Wet-basis moisture of bedding: "72 % moisture"."""
    return f"{percent(value, beside=beside)} moisture"


def litres(low: float, high: float, units: Units) -> str:
    """An amount of water as a range: "1 to 2 litres", "about ½ gallon", "up to 3 litres".

    Rounded to what a can measures, the low end down and the high end to the nearest step. Raises BadValue for
    nonsense (negative, or high below low).
    """
    if not 0 <= low <= high < math.inf:
        raise BadValue(f"{low} to {high} litres is no amount of water")
    if high == 0:
        return "no water"
    can = _can(high, units)
    step = next(step for upto, step in can.steps if high <= upto * can.holds)
    first, last = math.floor(low / can.holds / step + 1e-9) * step, round(high / can.holds / step) * step
    if last == 0:
        return f"less than {can.count(step)}"
    if high - low < step * can.holds:
        return f"about {can.count(round((low + high) / 2 / can.holds / step) * step or step)}"
    return f"{_quarters(first, can)} to {can.count(last)}" if first else f"up to {can.count(last)}"


def kilograms(kg: float, units: Units) -> str:
    """A mass: "35 kg", "1.5 kg", "77 lb"."""
    shown, name = (kg, "kg") if units is Units.METRIC else (pounds(kg), "lb")
    return f"{_plain(shown) if abs(shown) < 10 else f'{shown:.0f}'} {name}"


def measured(amount: float, unit: str, units: Units) -> str:
    """What was weighed or measured out, in kg, L or W, to three digits: "1.5 kg", "3.31 lb", "2 L", "0.53 gal", "40 W"."""
    shown, name = amount, unit
    if units is Units.US and unit in _CUSTOMARY:
        name = _CUSTOMARY[unit]
        shown = in_unit(amount, name)
    places = max(0, 2 - math.floor(math.log10(shown))) if shown > 0 else 0
    text = f"{shown:.{places}f}"
    return f"{text.rstrip('0').rstrip('.') if '.' in text else text} {name}"


_CUSTOMARY = {"kg": "lb", "L": "gal"}


def energy(kwh: float) -> str:
    """What was drawn: "0.9 kWh", "12 kWh"."""
    return f"{kwh:.0f} kWh" if kwh >= 10 else f"{_plain(kwh)} kWh"


def area(m2: float, units: Units) -> str:
    """A floor: "0.3 m²", "3.2 ft²"."""
    shown, name = (m2, "m²") if units is Units.METRIC else (in_unit(m2, "ft2"), "ft²")
    return f"{_plain(shown) if shown >= 0.1 else f'{shown:.2f}'} {name}"


def duration(ms: Millis) -> str:
    """A span: "45 s", "30 min", "4 h", "1 h 30 min", "2 days", "2 days 12 h". Raises BadValue below zero."""
    if ms < 0:
        raise BadValue(f"a span cannot be {ms} ms")
    if ms < MINUTE - SECOND // 2:
        return f"{_half_up(ms, SECOND)} s"
    minutes = _half_up(ms, MINUTE)
    if minutes < 10 * 60:
        return _two(minutes, 60, ("h", "min"))
    hours = _half_up(ms, HOUR)
    return f"{hours} h" if hours < 48 else _two(hours, 24, ("days", "h"))


def clock_time(ms: Millis, tz: str, now: Millis) -> str:
    """A moment as a local clock shows it, seen from `now`: "02:10", "tomorrow 07:00", "Mon 07:00",
    "yesterday 23:40", "last Mon 07:00", "3 Dec 07:00", "3 Dec 2027 07:00".

    By a clock of 12 hours "2:10 am", "tomorrow 7:00 am". A local time that happens twice, because clocks go back,
    carries its zone: "01:30 GMT". `tz` is an IANA name. Raises BadValue for one that is none.
    """
    then, today = local(ms, tz), local(now, tz).date()
    day = _day(then.date(), today)
    return f"{day} {_hands(then, tz)}".strip()


def hours(clock: time | datetime, tz: str) -> str:
    """A time of day by the clock of whoever lives there: "07:00", or "7:00 am"; twelve sharp is "12:00 noon" or
    "12:00 midnight", since nobody agrees on which of the two is am (NIST, Times of Day FAQs; from memory).
    """
    if not isinstance(tz, TimeZone) or tz.clock is HourClock.DAY:
        return f"{clock:%H:%M}"
    if not clock.minute and clock.hour % 12 == 0:
        return "12:00 noon" if clock.hour else "12:00 midnight"
    return f"{clock.hour % 12 or 12}:{clock:%M} {'am' if clock.hour < 12 else 'pm'}"


def stamp(ms: Millis, tz: str) -> str:
    """Day and time of day in figures: "2026-11-25 07:00"."""
    then = local(ms, tz)
    return f"{then:%Y-%m-%d} {hours(then, tz)}"


def week_time(ms: Millis, tz: str) -> str:
    """A moment of a week that is known: "Thu 05:30". Raises BadValue for a zone nobody knows."""
    then = local(ms, tz)
    return f"{_WEEK[then.weekday()]} {_hands(then, tz)}"


def day_of(ms: Millis, tz: str) -> str:
    """The local day of a moment, whole: "Wed 25 Nov 2026". Raises BadValue for a zone nobody knows."""
    day = local(ms, tz).date()
    return f"{_WEEK[day.weekday()]} {day.day} {_MONTHS[day.month - 1]} {day.year}"


def at_time(ms: Millis, tz: str, now: Millis) -> str:
    """The same as it stands inside a sentence: "at 02:10", "yesterday 23:40", "on Mon 07:00", "on 3 Dec 07:00"."""
    said = clock_time(ms, tz, now)
    if re.match(r"\d\d?:", said):
        return f"at {said}"
    return said if said.startswith(("yesterday", "tomorrow", "last")) else f"on {said}"


def week_days(first: date) -> str:
    """The seven days that begin with one: "16 to 22 November 2026"."""
    last = first + timedelta(days=6)
    if first.month == last.month:
        return f"{first.day} to {last:%-d %B %Y}"
    return f"{first:%-d %B} to {last:%-d %B %Y}"


def local(ms: Millis, tz: str) -> datetime:
    """A moment as an aware local time. Raises BadValue for a zone nobody knows."""
    try:
        zone = ZoneInfo(tz)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise BadValue(f"{tz!r} is no time zone; write it like Europe/Lisbon") from None
    return datetime.fromtimestamp(ms / SECOND, zone)


def amount(count: int, one: str, many: str | None = None) -> str:
    """How many: "1 bin", "3 bins", "2 boxes"."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def joined(things: Sequence[str]) -> str:
    """A list as it is said: "fig", "fig and plum", "fig, plum and sloe"."""
    return " and ".join(filter(None, (", ".join(things[:-1]), *things[-1:])))


def sentence(said: object) -> str:
    """What something says, such as an error, as a sentence: a capital in front, one full stop behind."""
    text = str(said)
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."


def shorten(line: str, length: int = 90) -> str:
    """A line of at most `length` characters, cut at a word and ended with an ellipsis where it was longer."""
    if length < 1:
        raise BadValue(f"a line cannot be cut to {length} characters")
    if len(line) <= length:
        return line
    room = line[: length - 1]
    whole = room if line[length - 1].isspace() else room.rpartition(" ")[0] or room
    return whole.rstrip(" ,;:–") + "…"


def _degrees(c: float, units: Units) -> float:
    return c if units is Units.METRIC else fahrenheit(c)


def _sign(units: Units) -> str:
    return "°C" if units is Units.METRIC else "°F"


def _fixed(value: float, places: int) -> str:
    """With a true minus, and without one before zero."""
    text = f"{abs(value):.{places}f}"
    return MINUS + text if value < 0 and float(text) else text


def _plain(value: float) -> str:
    return _fixed(value, 1).removesuffix(".0")


def _apart(value: float, other: float | None, places: int) -> str:
    """The fewest decimals, from `places` on, that do not make two values look one; readings are kept to four."""
    alike = () if other is None or abs(value - other) < 1e-9 else range(places, 4)
    while places in alike and other is not None and _fixed(value, places) == _fixed(other, places):
        places += 1
    return _fixed(value, places)


@dataclass(frozen=True, slots=True)
class _Can:
    """What water is counted in: litres it holds, its name, and up to how many of it which step is read off."""

    holds: float
    name: str
    steps: tuple[tuple[float, float], ...]

    def count(self, number: float) -> str:
        """The number with the name: a litre, half a gallon, 0.5 litres, 1½ gallons."""
        one = number == 1 or (number < 1 and self is not _LITRE)
        return f"{_quarters(number, self)} {self.name}{'' if one else 's'}"


_LITRE = _Can(1, "litre", ((1, 0.1), (5, 0.5), (20, 1), (math.inf, 5)))
_GALLON = _Can(GALLON, "gallon", ((2, 0.25), (5, 0.5), (math.inf, 1)))
_CUP = _Can(GALLON / 16, "cup", ((math.inf, 0.5),))
"""16 US cups in a gallon (memory)."""
_FRACTIONS = {0.0: "", 0.25: "¼", 0.5: "½", 0.75: "¾"}


def _can(most: float, units: Units) -> _Can:
    if units is Units.METRIC:
        return _LITRE
    return _GALLON if most >= GALLON / 4 else _CUP


def _quarters(number: float, can: _Can) -> str:
    """Litres with a decimal, what a kitchen measures in halves and quarters."""
    if can is _LITRE:
        return _plain(number)
    whole, part = divmod(number, 1)
    return f"{int(whole) or ''}{_FRACTIONS[part]}"


def _half_up(value: int, unit: int) -> int:
    return (2 * value + unit) // (2 * unit)


def _two(total: int, per: int, names: tuple[str, str]) -> str:
    """A total in its large unit and what remains in the small one, zeros left out."""
    large, small = divmod(total, per)
    parts = [(large, names[0]), (small, names[1])]
    return " ".join(f"{count} {name}" for count, name in parts if count) or f"0 {names[1]}"


def _day(day: date, today: date) -> str:
    ahead = (day - today).days
    if ahead in (-1, 0, 1):
        return ("yesterday", "", "tomorrow")[ahead + 1]
    if abs(ahead) < 7:
        return f"{'last ' if ahead < 0 else ''}{_WEEK[day.weekday()]}"
    return f"{day.day} {_MONTHS[day.month - 1]}" + (f" {day.year}" if day.year != today.year else "")


def _hands(then: datetime, tz: str) -> str:
    """Hours and minutes, with the zone where this local time happens twice."""
    twice = then.replace(fold=0).utcoffset() != then.replace(fold=1).utcoffset()
    return hours(then, tz) + (f" {then.tzname()}" if twice else "")
