"""Text of one value → what it means. Each raises Misread with a sentence and a hint; none repeats a secret."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from datetime import date, time
from enum import Enum
from typing import TypeVar
from urllib.parse import SplitResult, urlsplit

from monitor.readings import DAY, Millis
from monitor.rules import Units, Weekly
from monitor.settings import quantities as q
from monitor.settings.mistakes import Misread, listed, meant, quoted

T = TypeVar("T")
E = TypeVar("E", bound=Enum)
Reader = Callable[[str, Units], T]

BED_COLDEST, BED_HOTTEST = -10.0, 50.0
"""°C. No worm bed is run outside; a number out there is in the wrong unit."""


def amount(quantity: q.Quantity, low: float, high: float) -> Reader[float]:
    """A quantity between two canonical ends, both included."""

    def read(text: str, units: Units) -> float:
        value = q.measured(text, quantity, units)
        if not low <= value <= high:
            raise Misread(f"{quoted(text)} is out of range.", _within(text, quantity, low, high, units))
        return value

    return read


def spread(quantity: q.Quantity, low: float, high: float) -> Reader[tuple[float, float]]:
    """A range between two canonical ends, both included."""

    def read(text: str, units: Units) -> tuple[float, float]:
        ends = q.spread(text, quantity, units)
        if not (low <= ends[0] and ends[1] <= high):
            raise Misread(f"{quoted(text)} is out of range.", _within(text, quantity, low, high, units))
        return ends

    return read


def _within(text: str, quantity: q.Quantity, low: float, high: float, units: Units) -> str:
    """What lies in range; for a temperature that only makes sense in °F, that."""
    numbers = re.findall(r"\d+(?:\.\d+)?", text)
    if quantity is q.TEMPERATURE and units is Units.METRIC and "F" not in text and "K" not in text:
        inside = [low <= q.measured(f"{n} °F", quantity, units) <= high for n in numbers]
        if inside and all(inside):
            return f"Did you mean {'..'.join(numbers)} °F?"
    return f"Write what lies between {q.written(low, quantity, units)} and {q.written(high, quantity, units)}."


def span(low: Millis, high: Millis) -> Reader[Millis]:
    """A time span between two ends, both included."""
    within = amount(q.SPAN, low, high)
    return lambda text, units: round(within(text, units))


def lasting(text: str, units: Units) -> Millis:
    """How long harm must last: a time span, or `at once`."""
    return 0 if text.strip() == "at once" else span(0, 14 * DAY)(text, units)


def number(text: str, _: Units) -> float:
    """A plain number without a unit, not negative."""
    if not re.fullmatch(r"\d{1,12}(\.\d{1,9})?", text.strip(), re.ASCII):
        raise Misread(f"{quoted(text)} is not a plain number.", "Write digits only, without a unit.")
    return float(text)


def whole(low: int, high: int) -> Reader[int]:
    """A whole number between two."""

    def read(text: str, _: Units) -> int:
        if not re.fullmatch(r"\d{1,4}", text.strip(), re.ASCII) or not low <= int(text) <= high:
            raise Misread(
                f"{quoted(text)} is no whole number from {low} to {high}.", "Write it in digits, like 7."
            )
        return int(text)

    return read


def choice(kind: type[E], slips: dict[str, str] | None = None, *, without: Collection[E] = ()) -> Reader[E]:
    """One word of an enumeration; `slips` are words that are understood but not taken."""
    words = [str(member.value) for member in kind if member not in without]

    def read(text: str, _: Units) -> E:
        if text in words:
            return kind(text)
        hint = meant(text, words)
        if slips and text.lower() in slips:
            hint = f"Write {slips[text.lower()]}."
        elif hint.startswith("Known"):
            hint = f"Write {listed(in_yaml(word) for word in words)}."
        raise Misread(f"{quoted(text)} is not known here.", hint)

    return read


def in_yaml(word: str) -> str:
    """The word as a file holds it: `%` may not begin a plain scalar."""
    return f'"{word}"' if word.startswith("%") else word


def truth(text: str, _: Units) -> bool:
    """`true` or `false`, as YAML 1.2 has it."""
    if text in ("true", "false"):
        return text == "true"
    known = {"yes": "true", "on": "true", "true": "true", "no": "false", "off": "false", "false": "false"}
    raise Misread(
        f"{quoted(text)} is neither true nor false.", f"Write {known.get(text.lower(), 'true or false')}."
    )


def words(longest: int, what: str) -> Reader[str]:
    """One line of text."""

    def read(text: str, _: Units) -> str:
        if not text.strip():
            raise Misread(f"{what} is empty.", "Write it or delete the line.")
        if "\n" in text:
            raise Misread(f"{what} has more than one line.", "Write it in one.")
        if (odd := next((c for c in text if not c.isprintable()), None)) is not None:
            raise Misread(f"{what} holds the character U+{ord(odd):04X}, which cannot be seen.", "Delete it.")
        if len(text) > longest:
            raise Misread(f"{what} is longer than {longest} characters.", "Shorten it.")
        return text.strip()

    return read


def path(text: str, units: Units) -> str:
    """The path of a file; relative ones begin at the file they are written in."""
    if text.startswith("~"):
        raise Misread("A path cannot begin with ~ here.", "Write it out: a service has another home than you.")
    return words(1000, "A path")(text, units)


def clock(text: str, _: Units) -> time:
    """Hours and minutes of a day."""
    found = re.fullmatch(r"([01]?\d|2[0-3]):([0-5]\d)", text.strip(), re.ASCII)
    if found is None:
        raise Misread(f"{quoted(text)} is not a time of day.", _clock_hint(text))
    return time(int(found[1]), int(found[2]))


def _clock_hint(text: str) -> str:
    """The time that was probably meant: `9 pm`, `21.30`, `21:00:00` are read like that by people."""
    found = re.fullmatch(
        r"(\d{1,2})(?:[:.h](\d\d))?(?::\d\d)?\s*(?:([ap])\.?m\.?)?", text.strip().lower(), re.ASCII
    )
    if found is not None:
        hour, minute, half = int(found[1]), found[2] or "00", found[3]
        if half and 1 <= hour <= 12:
            hour = hour % 12 + (12 if half == "p" else 0)
        if hour < 24 and minute < "60":
            return f'Write "{hour:02}:{minute}".'
    return 'Write hours and minutes, for example "21:00".'


def day(text: str, _: Units) -> date:
    """A calendar day (ISO 8601)."""
    try:
        if re.fullmatch(r"\d{4}-\d\d-\d\d", text.strip(), re.ASCII):
            return date.fromisoformat(text.strip())
    except ValueError:
        pass
    raise Misread(f"{quoted(text)} is not a day.", _day_hint(text))


def hour(text: str, units: Units) -> tuple[date, time]:
    """A calendar day, or a day and a time of it: `2026-03-14 09:30`."""
    written, _, clock_ = text.strip().partition(" ")
    return day(written, units), clock(clock_, units) if clock_.strip() else time(0)


def _day_hint(text: str) -> str:
    """The day that was probably meant; 03/04/2026 is two days, so nothing is guessed."""
    found = re.fullmatch(r"(?P<y>\d{4})[-./](?P<m>\d\d?)[-./](?P<d>\d\d?)(?:[T ].*)?", text.strip(), re.ASCII)
    found = found or re.fullmatch(r"(?P<d>\d\d?)\.(?P<m>\d\d?)\.(?P<y>\d{4})", text.strip(), re.ASCII)
    try:
        if found is not None:
            return f"Write {date(int(found['y']), int(found['m']), int(found['d']))}."
    except ValueError:
        pass
    return "Write year-month-day, for example 2026-03-14."


LONGEST_AWAY = 366
"""Days. Who is away for longer is no longer one of the people."""


def days(text: str, units: Units) -> tuple[date, date]:
    """One day, or the first and the last of several."""
    whole = re.fullmatch(r"(\S+)\s*(?:-|–|—|to|\.\.\.|…)\s*(\S+)", text.strip())
    if whole is not None and whole[2].startswith(whole[1][:2]):
        raise Misread(f"{quoted(text)} is not a day, nor two.", f"Write {whole[1]}..{whole[2]}.")
    first, dots, last = (part.strip() for part in text.partition(".."))
    begin = day(first, units)
    end = day(last, units) if dots else begin
    if end < begin:
        raise Misread(f"{quoted(text)} ends before it begins.", f"Write {end}..{begin}.")
    if (end - begin).days > LONGEST_AWAY:
        raise Misread(f"{quoted(text)} is longer than a year.", "Delete the person, or write less.")
    return begin, end


DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def week_time(text: str, units: Units) -> Weekly | None:
    """A day of the week and a time, or `never`."""
    name, _, hour = text.strip().lower().partition(" ")
    if name == "never" and not hour:
        return None
    if name not in DAYS or not hour:
        raise Misread(f"{quoted(text)} is not a time of the week.", "Write for example monday 07:30, or never.")
    return Weekly(DAYS.index(name), clock(hour, units))


def topic(text: str, _: Units) -> str:
    """A topic name by MQTT 5 section 4.7: no wildcards, no NUL, at least one character, at most 65,535 bytes."""
    if not text:
        raise Misread("The topic is empty.", "Write the topic that is published to.")
    if "+" in text or "#" in text:
        raise Misread(f"{quoted(text)} holds a wildcard.", "Write one whole topic, without + and #.")
    if text.startswith("$"):
        raise Misread(f"{quoted(text)} belongs to the broker itself.", "Write the topic that is published to.")
    if text != text.strip():
        raise Misread(f"{quoted(text)} begins or ends with a space.", "Delete it; the broker would count it.")
    if not text.isprintable():
        raise Misread("The topic holds a character that cannot be seen.", "Delete it.")
    if len(text.encode()) > 65_535:
        raise Misread("The topic is longer than 65,535 bytes.", "Shorten it.")
    return text


def pointer(text: str, _: Units) -> str:
    """A JSON Pointer: empty, or parts that each begin with /, where ~ stands only as ~0 or ~1 (RFC 6901, 3)."""
    if text and not text.startswith("/"):
        steps = text[1:].lstrip(".").replace(".", "/") if text.startswith("$") else text
        raise Misread(
            f"{quoted(text)} is not a JSON Pointer.", f"It begins with '/': write {quoted('/' + steps)}."
        )
    if re.search(r"~(?![01])", text):
        raise Misread(f"{quoted(text)} is not a JSON Pointer.", "Within a name, '~' is written ~0 and '/' is ~1.")
    return text


def senml_name(text: str, _: Units) -> str:
    """A resolved SenML name (RFC 8428 section 4.5.1)."""
    if not re.fullmatch(r"[A-Za-z0-9][-A-Za-z0-9:./_]*", text):
        raise Misread(
            f"{quoted(text)} is not a SenML name.", "Letters, digits and - : . / _, a letter or digit first."
        )
    return text


def old_id(text: str, _: Units) -> str:
    """The id that something had before."""
    if not re.fullmatch(r"[a-z][a-z0-9-]{0,31}", text):
        raise Misread(
            f"{quoted(text)} was never an id.", "Write it as it stood here: a-z, 0-9 and -, a letter first."
        )
    return text


def publisher(text: str, _: Units) -> str:
    """The id of a publisher, as its own settings have it."""
    if not re.fullmatch(r"[a-z][a-z0-9-]{0,31}", text):
        raise Misread(f"{quoted(text)} is no publisher.", "Write its `id` as its own settings have it, like shed.")
    return text


def zone_name(text: str, _: Units) -> tuple[str, str]:
    """`bin.zone`."""
    bed, _dot, zone = text.partition(".")
    if not bed or not zone or "." in zone:
        raise Misread(f"{quoted(text)} is not a zone.", "Write bin.zone, for example fig.west.")
    return bed, zone


def currency(text: str, _: Units) -> str:
    """A currency's three letters (ISO 4217)."""
    if not re.fullmatch("[A-Z]{3}", text):
        raise Misread(f"{quoted(text)} is not a currency.", "Write its three letters, for example EUR.")
    return text


def listen(text: str, _: Units) -> tuple[str, int]:
    """`host:port`."""
    host, _colon, port = text.strip().rpartition(":")
    if not host or not re.fullmatch(r"\d{1,5}", port, re.ASCII) or not 0 < int(port) < 65_536:
        raise Misread(f"{quoted(text)} is not host:port.", "Write for example 127.0.0.1:8420.")
    return host, int(port)


def _split(text: str) -> SplitResult | None:
    try:
        parts = urlsplit(text.strip())
        _ = parts.port, parts.hostname
    except ValueError:
        return None
    return parts


def web_address(text: str, _: Units) -> str:
    """An http or https address without a login."""
    parts = _split(text)
    if parts is None or parts.scheme not in ("http", "https") or not parts.hostname or "@" in parts.netloc:
        raise Misread("This is not a web address.", "It begins with https:// and holds no user and no password.")
    return text.strip()


def broker_url(text: str, _: Units) -> tuple[str, int, bool]:
    """Host, port and whether TLS is spoken. The text is never repeated: it may hold a password."""
    example = "Write for example mqtts://localhost:8883."
    parts = _split(text)
    if "@" in text:
        hint = "Write `user: …` and `password: {from_file: …}` beside it."
        raise Misread("A broker's URL holds no user and no password.", hint)
    if not re.match(r"\s*mqtts?://", text, re.IGNORECASE):
        raise Misread("The broker's URL does not begin with mqtt:// or mqtts://.", example)
    plain = parts is not None and parts.path in ("", "/") and not parts.query and not parts.fragment
    if parts is None or not plain or not parts.hostname or parts.port == 0 or not text.isprintable():
        raise Misread("The broker's URL is not scheme, host and port.", example)
    tls = parts.scheme == "mqtts"
    return parts.hostname, parts.port or (8883 if tls else 1883), tls


def environment(text: str, _: Units) -> str:
    """The name of an environment variable. Not repeated: it may be the secret itself."""
    if not re.fullmatch(r"[A-Za-z_][A-Za-z0-9_]{0,99}", text):
        hint = "Write its name (A-Z, 0-9 and _), not the secret itself."
        raise Misread("This is not the name of an environment variable.", hint)
    return text


def secret_file(text: str, _: Units) -> str:
    """The name of a file that holds a secret. Not repeated: it may be the secret itself."""
    if "://" in text or not text.strip() or len(text) > 1000 or not text.isprintable():
        hint = "Write the name of a file that holds the secret, not the secret itself."
        raise Misread("This is not the name of a file.", hint)
    return text.strip()
