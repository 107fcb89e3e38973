"""Where the lines of an axis stand: round values, and the site's own hours and days through both clock changes."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from monitor.errors import BadValue
from monitor.readings import SECOND, Millis


def values(low: float, high: float, most: int = 6) -> list[float]:
    """Round values from `low` to `high`, both included where they are round: at most `most`, 1, 2 or 5 × 10ⁿ apart."""
    if not low < high or not math.isfinite(high - low) or most < 2:
        raise BadValue("an axis runs from a lower to a higher value")
    power = math.floor(math.log10((high - low) / most))
    for digits, n in ((1, power), (2, power), (5, power), (1, power + 1), (2, power + 1)):
        step = digits * 10.0**n
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        if last - first < most:
            break
    return [round(k * step, max(0, -n)) for k in range(first, last + 1)]


def hours(start: Millis, end: Millis, tz: str, *, every: int) -> list[Millis]:
    """The moments start <= at < end at which a clock in `tz` shows a whole `every` hours since midnight.

    An hour that is skipped in spring has no line, one that comes twice in autumn has two; a day whose midnight is
    skipped begins at its first moment. `every` divides 24.
    """
    if every < 1 or 24 % every:
        raise BadValue("lines stand a whole part of a day apart")
    zone = ZoneInfo(tz)
    found: set[Millis] = set()
    day, last = _date(start, zone), _date(end, zone)
    while day <= last:
        for hour in range(0, 24, every):
            found.update(_moments(day, hour, zone))
        day += timedelta(days=1)
    return sorted(at for at in found if start <= at < end)


def days(start: Millis, end: Millis, tz: str) -> list[Millis]:
    """The moments start <= at < end at which a day begins in `tz`."""
    return hours(start, end, tz, every=24)


def _date(at: Millis, zone: ZoneInfo) -> date:
    return datetime.fromtimestamp(at / SECOND, zone).date()


def _moments(day: date, hour: int, zone: ZoneInfo) -> set[Millis]:
    wall = datetime(day.year, day.month, day.day, hour, tzinfo=zone)
    first, second = (wall.replace(fold=fold).astimezone(UTC) for fold in (0, 1))
    skipped = first.astimezone(zone).replace(tzinfo=None) != wall.replace(tzinfo=None)
    if hour == 0:
        both = {first}  # with fold 0 a skipped midnight is the moment of the change: the day's first
    else:
        both = set() if skipped else {first, second}
    return {round(at.timestamp()) * SECOND for at in both}


def nights(start: Millis, end: Millis, tz: str, *, dusk: int, dawn: int) -> list[tuple[Millis, Millis]]:
    """Each night that touches start … end, from `dusk` o'clock to `dawn` o'clock of the next day by the clock in `tz`.

    An hour that is skipped is the moment of the change, of one that comes twice the first counts.
    """
    zone = ZoneInfo(tz)
    found = []
    day, last = _date(start, zone) - timedelta(days=1), _date(end, zone)
    while day <= last:
        night = _first(day, dusk, zone), _first(day + timedelta(days=1), dawn, zone)
        if night[0] < end and night[1] > start:
            found.append(night)
        day += timedelta(days=1)
    return found


def midnight(day: date, tz: str) -> Millis:
    """The moment at which a day begins in `tz`."""
    return _first(day, 0, ZoneInfo(tz))


def _first(day: date, hour: int, zone: ZoneInfo) -> Millis:
    wall = datetime(day.year, day.month, day.day, hour, tzinfo=zone)
    return round(wall.timestamp()) * SECOND
