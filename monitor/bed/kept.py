"""What beds have learned as documents: the whole of it once a day, and a short one for each hour since.

A zone's whole document is as long as its 20 days of errors, so a card would wear by writing it each hour. Hours have 24 places
in turn; those older than the whole document count for nothing.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple
from zlib import crc32

from monitor.bed.keeping import learned_of, room_of, watch_of, written
from monitor.bed.living import Bed, Issues, Noted, again
from monitor.bed.room import Room, heard
from monitor.bed.zone import Hour
from monitor.errors import BadValue
from monitor.readings import DAY, HOUR, Millis

BED, WATCH, BED_HOUR, ROOM, ROOM_HOUR = "bed", "mat watch", "bed hour", "room", "room hour"
"""Kinds of documents."""

Documents = Mapping[str, Mapping[str, str]]
"""Kind → key → body."""


class Document(NamedTuple):
    """One document as it is to be kept."""

    kind: str
    key: str
    body: str


class Heard(NamedTuple):
    """One hour of a place's air: its end, its mean in °C, and the outdoors of the same hour."""

    at: Millis
    air: float | None
    outdoors: float | None


def bed_key(zone: str) -> str:
    """The key of a zone's documents: `zone:fig.west`."""
    return f"zone:{zone}"


def room_key(place: str) -> str:
    """The key of a place's documents."""
    return f"place:{place}"


def hour_key(key: str, at: Millis) -> str:
    """The key of the document of one of the last 24 hours."""
    return f"{key}/{at // HOUR % 24:02d}"


def is_whole(key: str, at: Millis, before: Millis | None) -> bool:
    """Whether everything is written whole at this hour: the first time, and once a day at an hour of its own."""
    return before is None or at - before >= DAY or crc32(key.encode()) % 24 == at // HOUR % 24


def bed_documents(zone: str, bed: Bed, one: Noted, *, whole: bool) -> Iterator[Document]:
    """What to keep of an hour of a zone."""
    key = bed_key(zone)
    if whole:
        yield Document(BED, key, written(bed.learned))
        yield Document(WATCH, key, written(bed.watch))
    else:
        yield Document(BED_HOUR, hour_key(key, one.hour.at), noted_text(one))


def room_documents(place: str, room: Room, one: Heard, *, whole: bool) -> Iterator[Document]:
    """What to keep of an hour of a place's air."""
    key = room_key(place)
    if whole:
        yield Document(ROOM, key, written(room))
    else:
        yield Document(ROOM_HOUR, hour_key(key, one.at), json.dumps(one))


def noted_text(one: Noted) -> str:
    """One hour of a zone, as it is kept."""
    h = one.hour
    hour = [h.at, h.start_c, h.end_c, h.air_c, h.duty, h.lowest, h.highest]
    return json.dumps([hour, one.why, one.past, one.outdoors], allow_nan=False, separators=(",", ":"))


def noted_of(body: str) -> Noted:
    """The reverse. Raises BadValue for anything else."""
    try:
        hour, why, past, outdoors = json.loads(body)
        return Noted(Hour(*hour), tuple(why), _issues(past), _issues(outdoors))
    except (ValueError, TypeError) as wrong:
        raise BadValue(f"this is no hour of a bed: {wrong}") from wrong


def bed_of(learned: str, watched: str | None, hours: Sequence[str]) -> tuple[Bed, Millis | None]:
    """A zone as it stands, and when it was last kept whole. Raises BadValue for documents that are none."""
    kept = learned_of(learned)
    bed = Bed(kept) if watched is None else Bed(kept, watch_of(watched))
    whole = kept.past.newest
    for one in sorted(map(noted_of, hours), key=lambda one: one.hour.at):
        if whole is None or one.hour.at > whole:
            bed = again(bed, one)
    return bed, whole


def room_from(body: str, hours: Sequence[str]) -> tuple[Room, Millis | None]:
    """A place's air as it stands, and when it was last kept whole. Raises BadValue."""
    room = room_of(body)
    whole = room.newest
    for at, air, outdoors in sorted(map(_heard, hours)):
        room = heard(room, at, air, outdoors=outdoors)  # what is not newer changes nothing
    return room, whole


def _heard(body: str) -> Heard:
    try:
        at, air, outdoors = json.loads(body)
        return Heard(int(at), air, outdoors)
    except (ValueError, TypeError) as wrong:
        raise BadValue(f"this is no hour of a room: {wrong}") from wrong


def _issues(found: Sequence[Sequence[float | None] | None]) -> Issues:
    return tuple(None if one is None else tuple(one) for one in found)


def hours_under(documents: Mapping[str, str], key: str) -> list[str]:
    """The hours of one zone or place."""
    return [documents[name] for n in range(24) if (name := f"{key}/{n:02d}") in documents]


# ── when the clock was off ────────────────────────────────────────────────────────────────────────────────────

Stamp = Callable[[Millis], Millis]
"""Where a moment that was told by that clock truly lies."""


def bed_moved(body: str, stamp: Stamp, begin: Millis) -> str:
    """A zone that was kept whole after `begin`: what it has learned stays, its newest hour is the nearest that was whole."""
    learned = learned_of(body)
    newest = learned.past.newest
    if newest is None or newest <= begin:
        return body
    at, since = stamp(newest) // HOUR * HOUR, learned.zone.since
    since = min(at, stamp(since)) if since > begin else since
    zone = replace(learned.zone, newest=at, recent=(), since=since)
    past, outdoors = (replace(record, newest=at) for record in (learned.past, learned.outdoors))
    switched = learned.habit.switched
    habit = replace(learned.habit, newest=None, switched=None if switched is None else stamp(switched))
    return written(replace(learned, zone=zone, past=past, outdoors=outdoors, habit=habit))


def watch_moved(body: str, stamp: Stamp, begin: Millis) -> str:
    """A mat's watch, likewise; its numbers of the hours before are those of other hours now."""
    watch = watch_of(body)
    if watch.newest is None or watch.newest <= begin:
        return body
    since = None if watch.since is None else stamp(watch.since)
    return written(replace(watch, newest=stamp(watch.newest) // HOUR * HOUR, since=since, earlier=(), filter=None))


def room_moved(body: str, stamp: Stamp, begin: Millis) -> str:
    """A place's air, likewise."""
    room = room_of(body)
    if room.newest is None or room.newest <= begin:
        return body
    return written(replace(room, newest=stamp(room.newest) // HOUR * HOUR))


def bed_hour_stays(body: str, begin: Millis) -> bool:
    """Whether an hour of a zone was before; those after are lived again from the readings at their right times."""
    return noted_of(body).hour.at <= begin


def room_hour_stays(body: str, begin: Millis) -> bool:
    """The same of an hour of a place."""
    return _heard(body).at <= begin
