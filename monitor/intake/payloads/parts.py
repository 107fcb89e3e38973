"""What a payload is made of: numbers, places in JSON (RFC 6901) and times (RFC 3339 or Unix)."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import NoReturn

from monitor.errors import BadValue
from monitor.readings import Millis, RefusalKind

BEYOND = 1e12
"""No probe sends a number beyond this, and the store keeps 1/10,000ths in 64 bits (ours, no source)."""
CLOCK_SET: Millis = 1_000_000_000_000
"""2001-09-09T01:46:40Z. Clock chips that were never set start in 1970, 1980 or 2000 (common practice): an own
time before this says that the probe does not know the time, and would fall on the same readings at each start."""
YEAR_10000: Millis = 253_402_300_800_000

Steps = tuple[str, ...]


class Refused(Exception):
    """Why a part of a payload cannot be used. It never leaves this folder."""

    def __init__(self, kind: RefusalKind, reason: str) -> None:
        self.kind = kind
        self.reason = reason
        super().__init__(reason)


def shown(raw: object) -> str:
    """What stood there, short and safe to store and print."""
    if isinstance(raw, dict | list):  # perhaps nested too deep to be printed
        return "an object" if isinstance(raw, dict) else "a list"
    if raw is None or isinstance(raw, bool):
        raw = json.dumps(raw)
    text = raw.decode("utf-8", "replace") if isinstance(raw, bytes) else str(raw)
    safe = "".join(c if c.isprintable() and not "\ud800" <= c <= "\udfff" else "�" for c in text[:40])
    return f"“{safe}{'…' if len(text) > 40 else ''}”"


# Numbers

_COMMA = re.compile(rb"\s*[+-]?\d+(,\d+)+(\.\d+)?\s*")
_UNIT_BEHIND = re.compile(rb"\s*[+-]?(\d+\.?\d*|\.\d+)\s*[^\s\d._,+-][^\d]*")


def number(raw: bytes) -> float:
    """A plain number in ASCII; white space around it is nobody's business. Raises Refused."""
    value = _float(raw)
    if value is None:
        raise Refused(RefusalKind.NOT_A_NUMBER, f"{shown(raw)} {_what_instead(raw)}")
    return bounded(value, raw)


def _float(raw: bytes) -> float | None:
    try:
        value = float(raw)
    except ValueError:
        return None
    return None if b"_" in raw else value  # 1_000 is Python's own reading, nobody else's


def bounded(value: float, raw: object) -> float:
    """The value itself when a probe can have sent it. Raises Refused; not-a-number fails every comparison."""
    if -BEYOND <= value <= BEYOND:
        return value
    raise Refused(
        RefusalKind.NOT_A_NUMBER,
        f"{shown(raw)} is no value a probe can have: look at the probe's wiring and what it sends.",
    )


def _what_instead(raw: bytes) -> str:
    if raw.lstrip()[:1] in (b"{", b"["):
        return "is JSON: give the probe a `field` (or a SenML `name`) that says where its number stands."
    if _COMMA.fullmatch(raw, 0, 64):
        return "has a comma: send a point and no comma, such as 21.5."
    if raw.lstrip().startswith(("−".encode(), "–".encode())):
        return "has a printer's minus: send - instead."
    if _UNIT_BEHIND.fullmatch(raw, 0, 64):
        return "has text behind the number: send the number alone and write its unit under `sends`."
    return "is not a number: send digits with a point, such as 21.5."


def quantity(raw: object) -> float:
    """A number out of a JSON document: a JSON number or a string that is a plain number. Raises Refused."""
    if type(raw) is float:
        return bounded(raw, raw)
    if type(raw) is int:
        return float(bounded(raw, raw))
    if isinstance(raw, str):
        return number(raw.encode("utf-8", "replace"))
    what = {bool: "true or false", dict: "an object", list: "a list"}.get(type(raw), "null")
    reason = f"There is {what} where a number is needed: check the probe's `field`."
    raise Refused(RefusalKind.NOT_A_NUMBER, reason)


_SWITCHED = {"on": 1.0, "true": 1.0, "1": 1.0, "off": 0.0, "false": 0.0, "0": 0.0}


def switched(raw: object) -> float:
    """1 for on and 0 for off: the word, true or false, 1 or 0, in whatever case. Raises Refused."""
    text = (
        raw.decode("utf-8", "replace")
        if isinstance(raw, bytes)
        else f"{raw:g}"
        if type(raw) is float
        else str(raw)
    )
    value = _SWITCHED.get(text.strip().lower())
    if value is None:
        reason = f"{shown(text)} is neither on nor off: a plug that sends watts needs `sends: W`."
        raise Refused(RefusalKind.NOT_A_NUMBER, reason)
    return value


# JSON


def _no_constant(name: str) -> NoReturn:
    raise Refused(RefusalKind.NOT_JSON, f"{name} is not JSON: where there is no value, leave it out.")


def _each_name_once(pairs: list[tuple[str, object]]) -> dict[str, object]:
    """An object of JSON. RFC 8259 §4 leaves open which value holds when a name comes twice: so neither does."""
    found = dict(pairs)
    if len(found) == len(pairs):
        return found
    names = [name for name, _ in pairs]
    twice = next(name for name in names if names.count(name) > 1)
    reason = f"{shown(twice)} stands twice in one object, and nothing says which is meant: send each name once."
    raise Refused(RefusalKind.NOT_JSON, reason)


_json = json.JSONDecoder(parse_constant=_no_constant, object_pairs_hook=_each_name_once).decode


def document(payload: bytes, sent: str = "what the probe sends") -> object:
    """The JSON document (RFC 8259, UTF-8) in a payload; `sent` is what to look at where it is none. Raises Refused."""
    try:
        return _json(payload.decode())
    except RecursionError:
        reason = f"JSON nested too deep to be read: look at {sent}."
    except UnicodeDecodeError:
        reason = f"Not UTF-8 text, so not JSON: look at {sent}."
    except json.JSONDecodeError as error:
        if payload[:3] == b"\xef\xbb\xbf":  # RFC 8259 §8.1 allows to ignore a byte order mark
            return document(payload[3:], sent)
        reason = _where_json_ends(error, sent)
    except ValueError:  # Python's own limit
        reason = "Not JSON: it holds a number of thousands of digits."
    raise Refused(RefusalKind.NOT_JSON, reason)


def _where_json_ends(error: json.JSONDecodeError, sent: str) -> str:
    if error.pos >= len(error.doc.rstrip()):
        return f"Not JSON: it ends too early. Look at {sent}; was it cut off?"
    at = error.pos
    before = error.doc[:at].rstrip()
    if error.doc[at] in "}]" and before.endswith(","):
        at = len(before) - 1  # the comma that is too many, where Python 3.13 looks by itself
    place = f" from character {at + 1} on" if at else ""
    return f"Not JSON{place}: {shown(error.doc[at:])}. Look at {sent}."


def pointer(text: str) -> Steps:
    """The steps of a JSON Pointer (RFC 6901 §3, §4). Raises BadValue when it is none."""
    if text and not text.startswith("/"):
        raise BadValue(f"a pointer into JSON begins with /, so not {text!r} but {'/' + text!r}")
    if re.search(r"~(?![01])", text):
        raise BadValue(f"{text!r}: in a pointer a ~ is written ~0 and a / inside a name ~1")
    # ~1 first, then ~0: ~01 is the name ~1 (RFC 6901 §4)
    return tuple(s.replace("~1", "/").replace("~0", "~") for s in text.split("/")[1:])


def walk(found: object, steps: Sequence[str]) -> object:
    """What stands at the end of the steps (RFC 6901 §4). Raises LookupError when nothing does."""
    for step in steps:
        if type(found) is dict:
            found = found[step]
        elif type(found) is list and _is_index(step):
            found = found[int(step)]
        else:
            raise LookupError(step)
    return found


def what_is_there(found: object, steps: Sequence[str]) -> str:
    """What stands where the steps lead nowhere further, as a sentence's second half."""
    way = ""
    for step in steps:
        try:
            found = walk(found, [step])
        except LookupError:
            break
        way += "/" + step
    where = f"at {shown(way)[1:-1]} there is" if way else "there is"
    if isinstance(found, dict) and found:
        names = [shown(f"/{key.replace('~', '~0').replace('/', '~1')}")[1:-1] for key in list(found)[:5]]
        return f"{where} {', '.join(names)}{' and more' if len(found) > len(names) else ''}"
    if isinstance(found, list):
        return f"{where} a list of {len(found)}"
    return f"{where} {'an empty object' if found == {} else shown(found) + ' alone'}"


def _is_index(step: str) -> bool:
    # No leading zero, no sign, ASCII digits only; `-` is the element behind the last, which is not there.
    # A list cannot have more elements than a payload has bytes, so longer numbers are no index either.
    return step.isascii() and step.isdigit() and len(step) <= 9 and (step == "0" or step[0] != "0")


# Times

_RFC3339 = re.compile(
    r"(\d{4}-\d\d-\d\d)[Tt ](\d\d:\d\d):(\d\d)(\.\d+)?([Zz]|[+-](?:[01]\d|2[0-3]):[0-5]\d)", re.ASCII
)
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def when(raw: object) -> Millis:
    """The instant that a JSON value tells: RFC 3339 text, or Unix time as a number or a string of one.

    Unix time is in seconds up to 1e11, milliseconds up to 1e14, microseconds up to 1e17 and nanoseconds above
    (common practice). Raises Refused (BAD_TIME).
    """
    if isinstance(raw, str):
        parts = _RFC3339.fullmatch(raw.strip())
        if parts:
            return _rfc3339(raw, parts)
        value: object = _float(raw.encode("utf-8", "replace"))
    else:
        value = raw
    if type(value) is float or type(value) is int:
        return _unix(value, raw)
    raise _no_time(raw, "send text like 2026-03-14T07:30:00Z, with Z or an offset, or Unix time.")


def own_time(raw: object) -> Millis:
    """`when`, if the probe's clock was ever set. Raises Refused (BAD_TIME)."""
    return plausible(when(raw), raw)


def plausible(at: Millis, raw: object) -> Millis:
    """The instant itself if a probe with a clock can mean it. Raises Refused (BAD_TIME)."""
    if at < CLOCK_SET:
        raise _no_time(
            raw, "it lies before 2002, so the probe's clock was never set: set it, or do without its time."
        )
    if at >= YEAR_10000:
        raise _no_time(raw, "it lies beyond the year 9999: look at what the probe sends as its time.")
    return at


def _unix(value: float, raw: object) -> Millis:
    if not 0 <= value < 1e20:
        raise _no_time(
            raw, "Unix time is a number of seconds, milliseconds, microseconds or nanoseconds since 1970."
        )
    if value <= 1e11:
        return round(value * 1000)
    return round(value if value <= 1e14 else value / 1e3 if value <= 1e17 else value / 1e6)


def _rfc3339(raw: str, parts: re.Match[str]) -> Millis:
    day, clock, second, fraction, offset = parts.groups()
    # Second 60 is a leap second (RFC 3339 §5.7); by the POSIX formula it is the first second after it.
    leap = second == "60"
    try:
        read = datetime.fromisoformat(f"{day}T{clock}:{'59' if leap else second}{offset.upper()}")
        since = read - _EPOCH
    except (ValueError, OverflowError):
        raise _no_time(raw, "there is no such day or hour.") from None
    whole = (since.days * 86_400 + since.seconds + leap) * 1000
    return whole + int((fraction or ".")[1:4].ljust(3, "0"))


def _no_time(raw: object, hint: str) -> Refused:
    return Refused(RefusalKind.BAD_TIME, f"The time {shown(raw)} cannot be used: {hint}")
