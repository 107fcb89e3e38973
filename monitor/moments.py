"""When something was, as a keeper writes it: `18:00`, `6 pm`, `yesterday 18:00`, `Mon 18:00`, `3 Jan 18:00`, `2 h ago`, or
ISO 8601. Whatever `words.clock_time` prints of the past is read back as that minute.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from monitor.errors import RequestError
from monitor.readings import DAY, HOUR, MINUTE, SECOND, Millis
from monitor.words import clock_time, hours, local

EARLIEST = 2000
"""The first year in which anything can have happened: an earlier one is a slip of the pen."""

WAYS = "18:00, “yesterday 18:00”, “Mon 18:00”, “3 Jan 18:00”, 2026-01-03T18:00 or “2 h ago”"

_DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_MONTHS = (
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
)  # fmt: skip
_SPANS = {"min": MINUTE, "mins": MINUTE, "minute": MINUTE, "minutes": MINUTE,
          "h": HOUR, "hour": HOUR, "hours": HOUR, "d": DAY, "day": DAY, "days": DAY}  # fmt: skip

_AGO = re.compile(r"((?:\d{1,5} ?[a-z]+ ){1,3})ago", re.ASCII)
_SPAN = re.compile(r"(\d{1,5}) ?([a-z]+) ", re.ASCII)
_ISO = re.compile(r"(\d{4}-\d\d-\d\d)[t ](\d\d:\d\d)(?::(\d\d)(?:\.\d+)?)?(z|[+-]\d\d:?\d\d)?", re.ASCII)
_ISO_DAY = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_CLOCK = re.compile(r"(?:(.+) )?(\d{1,2}):(\d\d)(?: ([a-z+\-\d]{1,6}))?", re.ASCII)
_HALF = re.compile(
    r"(?:(.*) )?(\d{1,2})(?::(\d\d))? ?(?:([ap])\.?m\.?|(noon|midnight))( [a-z+\-\d]{1,6})?", re.ASCII
)
_DATE = re.compile(r"(\d{1,2}) ([a-z]{3,9})(?: (\d{4}))?", re.ASCII)


def moment(text: str, tz: str, now: Millis) -> Millis:
    """The moment that `text` means on the local clock, seen from `now`.

    Raises RequestError, saying what would be understood, for anything else: another word, a day without a time, a time that
    does not exist or happens twice because clocks change, and whatever lies ahead.
    """
    plain = _whole_day(" ".join(text.lower().replace("−", "-").split()), text)
    at = _ago(plain, text, now)
    if at is None:
        at = _iso(plain, text, tz)
    if at is None:
        at = _by_clock(plain, text, tz, now)
    if at > now:
        raise RequestError(_ahead(text, at, tz, now))
    if local(at, tz).year < EARLIEST:
        raise RequestError(f"{_quoted(text)} lies before the year {EARLIEST}: nothing written here is so old")
    return at


def beginning(text: str, tz: str, now: Millis) -> Millis:
    """As `moment`; a day without a time is its first moment."""
    plain = " ".join(text.lower().split())
    return moment(f"{text} 00:00" if _is_day(plain) else text, tz, now)


def senses(text: str, tz: str) -> tuple[Millis, ...]:
    """Every moment that a local ISO 8601 time without a zone can mean, in order: none in an hour that was skipped, two in
    one that was twice. Empty too for whatever is no such time.
    """
    found = _ISO.fullmatch(" ".join(text.lower().split()))
    if found is None or found[4]:
        return ()
    try:
        wall = datetime.fromisoformat(f"{found[1]}T{found[2]}:{found[3] or '00'}")
    except ValueError:
        return ()
    return tuple(sorted(_moments(wall, tz)))


def _is_day(plain: str) -> bool:
    named = ("today", "yesterday", *_DAYS, *(day[:3] for day in _DAYS))
    return plain.removeprefix("last ") in named or bool(_DATE.fullmatch(plain) or _ISO_DAY.fullmatch(plain))


def _ahead(text: str, at: Millis, tz: str, now: Millis) -> str:
    said = f"{_quoted(text)} is still to come, it is {clock_time(now, tz, now)} now: the diary tells of what was"
    clock = local(at, tz)
    today = clock.date() == local(now, tz).date()
    return f"{said}; did you mean “yesterday {hours(clock, tz)}”?" if today else said


def _ago(plain: str, text: str, now: Millis) -> Millis | None:
    found = _AGO.fullmatch(plain)
    if found is None:
        return None
    back = 0
    for number, unit in _SPAN.findall(found[1]):
        if unit not in _SPANS:
            raise RequestError(
                f"{_quoted(text)} counts in no span known here: write min, h or days, as in “2 h ago”"
            )
        back += int(number) * _SPANS[unit]
    return now - back


def _iso(plain: str, text: str, tz: str) -> Millis | None:
    found = _ISO.fullmatch(plain)
    if found is None:
        return None
    day, clock, seconds, offset = found.groups()
    try:
        wall = datetime.fromisoformat(f"{day}T{clock}:{seconds or '00'}{(offset or '').upper()}")
    except ValueError:
        raise RequestError(f"{_quoted(text)} is on no calendar or clock") from None
    if wall.tzinfo is not None:
        return round(wall.timestamp()) * SECOND
    return _at(wall, text, tz, None)


def _by_clock(plain: str, text: str, tz: str, now: Millis) -> Millis:
    found = _CLOCK.fullmatch(plain)
    if found is None:
        raise RequestError(_not_understood(plain, text))
    said, hour, minute, zone = found.groups()
    try:
        clock = time(int(hour), int(minute))
    except ValueError:
        raise RequestError(f"{hour}:{minute} is on no clock: hours run from 00:00 to 23:59") from None
    day = _day(said, text, local(now, tz).date())
    at = _at(datetime.combine(day, clock), text, tz, zone)
    weekday = said is not None and said.removeprefix("last ")[:3] in {d[:3] for d in _DAYS}
    return _at(datetime.combine(day - timedelta(days=7), clock), text, tz, zone) if weekday and at > now else at


def _whole_day(plain: str, text: str) -> str:
    """A time of a clock of 12 hours as one of 24: "mon 6:30 pm est" as "mon 18:30 est"; anything else as it is."""
    found = _HALF.fullmatch(plain)
    if found is None:
        return plain
    said, hour, minute, half, sharp, zone = found.groups()
    if not 1 <= int(hour) <= 12 or (sharp and (int(hour), minute or "00") != (12, "00")):
        raise RequestError(f"{_quoted(text)} is on no clock: with am and pm hours run from 1:00 to 12:59")
    late = half == "p" or sharp == "noon"
    return f"{said or ''} {int(hour) % 12 + 12 * late}:{minute or '00'}{zone or ''}".strip()


def _not_understood(plain: str, text: str) -> str:
    if plain == "now" or _is_day(plain):
        hour = "leave --at out for now" if plain == "now" else f"write the time too, as in “{text.strip()} 18:00”"
        return f"{_quoted(text)} has no time of day: {hour}"
    return f"{_quoted(text)} is no time that is understood here: write {WAYS}"


def _day(said: str | None, text: str, today: date) -> date:
    """The day before the time: today, yesterday, the last of a weekday, or a date that has been."""
    if said in (None, "today"):
        return today
    if said == "yesterday":
        return today - timedelta(days=1)
    if said == "tomorrow":
        return today + timedelta(days=1)
    last = said.removeprefix("last ")
    for number, name in enumerate(_DAYS):
        if last in (name, name[:3]):
            return today - timedelta(days=(today.weekday() - number) % 7 or (7 if said != last else 0))
    dated = _DATE.fullmatch(said)
    month = _month(dated[2]) if dated else None
    if dated is None or month is None:
        raise RequestError(f"{_quoted(text)} begins with no day that is understood here: write {WAYS}")
    return _dated(int(dated[1]), month, dated[3], text=text, today=today)


def _month(said: str) -> int | None:
    return next((n for n, name in enumerate(_MONTHS, start=1) if said in (name, name[:3])), None)


def _dated(day: int, month: int, year: str | None, *, text: str, today: date) -> date:
    """Without a year the last such day that has been."""
    years = [int(year)] if year else [today.year - n for n in range(9)]
    for one in years:
        try:
            found = date(one, month, day)
        except ValueError:
            continue
        if year or found <= today:
            return found
    raise RequestError(f"{_quoted(text)} is on no calendar or clock")


def _at(wall: datetime, text: str, tz: str, zone: str | None) -> Millis:
    """A local time as the one moment it means. `zone` is the abbreviation beside a time that happens twice."""
    moments = list(_moments(wall, tz))
    if not moments:
        raise RequestError(f"{_quoted(text)} was on no clock: that hour was skipped when clocks went forward")
    names = {local(at, tz).tzname() or "": at for at in moments}
    if zone is not None:
        known = {name.lower(): at for name, at in names.items()}
        if zone not in known:
            raise RequestError(
                f"{_quoted(text)} names a zone that was not in force then: write {' or '.join(names)}"
            )
        return known[zone]
    if len(moments) > 1:
        raise RequestError(
            f"{_quoted(text)} was twice, because clocks went back: write {' or '.join(names)} behind it"
        )
    return moments[0]


def _moments(wall: datetime, tz: str) -> Iterator[Millis]:
    """Every moment at which the local clock shows this (PEP 495)."""
    seen = set()
    for fold in (0, 1):
        at = wall.replace(tzinfo=ZoneInfo(tz), fold=fold).astimezone(UTC)
        if at.astimezone(ZoneInfo(tz)).replace(tzinfo=None, fold=0) == wall and at not in seen:
            seen.add(at)
            yield round(at.timestamp()) * SECOND


def _quoted(text: str) -> str:
    return f"“{text.strip()}”"
