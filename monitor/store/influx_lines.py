"""Readings as lines for a time-series database, and questions to it: text only, no connection.

Line protocol (docs.influxdata.com/influxdb/v2/reference/syntax/line-protocol/ [memory]): in tags a comma, an equals
sign and a space are escaped by a backslash; a line feed cannot be written, nor a backslash at the end. InfluxQL: names
in double quotes, text in single quotes, either escaped by a backslash.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

from monitor.errors import BadValue
from monitor.readings import RESOLUTION, Millis, Reading
from monitor.store.rows import LARGEST, QUALITIES, steps_of

MEASUREMENT = "reading"
EARLIEST, LATEST = -(2**63) // 1_000_000 + 2_000, (2**63 - 1) // 1_000_000 - 2_000
"""What the server's 64 bits of nanoseconds hold, in milliseconds: from 1677 to 2262. A little is left at both ends, where
servers keep marks of their own."""
FIELDS = "value, quality, own, after, arrival"
_TAG = re.compile(r"([,= ])")


def sendable(reading: Reading) -> bool:
    """Whether the server can hold its time."""
    return EARLIEST <= reading.at <= LATEST


def refuse_name(name: str) -> None:
    """Raises BadValue for a probe or site whose name cannot be written in a line."""
    if not name or name.endswith("\\") or any(c in name for c in "\n\r\0"):
        raise BadValue(f"{name!r} cannot be the name of a series: no line feed, no backslash at the end")


def line_of(site: str, tag: str, reading: Reading) -> str:
    """One reading; `tag` is its probe's name, as a rule. Every field has one type for ever: the first that a server
    sees is the one it keeps.
    """
    steps = steps_of(reading.value)
    return (
        f"{MEASUREMENT},probe={_tag(tag)},site={_tag(site)}"
        f" value={steps / RESOLUTION!r},quality={int(reading.quality)}i,own={int(reading.own_time)}i,"
        f"after={reading.received_at - reading.at}i,arrival={reading.arrival}i {reading.at}"
    )


@lru_cache(4096)
def _tag(text: str) -> str:
    return _TAG.sub(r"\\\1", text)


def quoted(text: str) -> str:
    """A text in a question."""
    return "'" + text.replace("\\", "\\\\").replace("'", "\\'") + "'"


def where(site: str, tags: Sequence[str], start: Millis | None = None, end: Millis | None = None) -> str:
    """The condition for one probe under all tags it ever had, start <= time < end."""
    named = " OR ".join(f'"probe" = {quoted(tag)}' for tag in tags)
    parts = [f'"site" = {quoted(site)}', f"({named})"]
    parts += [f"time >= {_time(start)}"] if start is not None else []
    parts += [f"time < {_time(end)}"] if end is not None else []
    return " AND ".join(parts)


def _time(at: Millis) -> str:
    return f"{min(max(at, EARLIEST), LATEST)}ms"


def trusted() -> str:
    """The condition for readings that may be judged."""
    return "(" + " OR ".join(f'"quality" = {int(q)}' for q in QUALITIES if q.trusted) + ")"


def reading_from(probe: str, row: Sequence[float | None]) -> Reading:
    """The reading of a row of time and FIELDS. Raises BadValue when a field is missing: not a row of ours."""
    if len(row) != 6 or None in row or not 0 <= int(row[2] or 0) < len(QUALITIES):
        raise BadValue(f"the database holds a row for {probe} that Vermistat did not write: {list(row)}")
    at, value, quality, own, after, arrival = row
    number = int(at or 0)
    steps = min(max(round((value or 0.0) * RESOLUTION), -LARGEST), LARGEST)
    kept = int(after or 0) + number
    return Reading(
        probe, number, steps / RESOLUTION, kept, QUALITIES[int(quality or 0)], bool(own), int(arrival or 0)
    )
