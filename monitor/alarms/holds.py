"""What a person may lay over an alarm so that it is not told for a while: a shelf, or work in its bin.

Values only; what begins and ends them stands in `alarms.quiet`. Both end by a time that is kept with them, so that
neither a restart nor a pause of the daemon makes them longer.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass

from monitor.checks.findings import AlarmKey, Condition, Kind, Subject
from monitor.readings import Millis
from monitor.rules import Level

SHELF, WORK, LAST_WORD = "shelf", "work", "last word"
"""The kinds of their documents among those that stand between rounds."""


@dataclass(frozen=True, slots=True)
class Shelf:
    """One alarm put aside by a person until a time: evaluated and recorded, not told.

    It lies over the alarm's key, not over one occurrence: what comes back meanwhile is not told either. `level` is
    the one at which it was put there; a higher one ends it. `number` is the occurrence it was put there for.
    """

    since: Millis
    until: Millis
    who: str
    level: Level
    number: int
    note: str = ""


@dataclass(frozen=True, slots=True)
class Work:
    """Somebody works in a bin: what its probes say meanwhile is evaluated and recorded, and not told.

    `spared` are the numbers of the alarms that stood in harm when the work began: they stay told.
    """

    bed: str
    since: Millis
    until: Millis
    who: str
    note: str = ""
    spared: tuple[int, ...] = ()


def shelf_key(key: AlarmKey) -> str:
    """What a shelf lies over, as the store's key: `bin:fig/cold`. The place is left out, which may change."""
    return f"{key.subject.kind}:{key.subject.id}/{key.condition}"


def key_of(text: str) -> AlarmKey:
    """The key of such a text, without its place."""
    subject, _, condition = text.partition("/")
    kind, _, id_ = subject.partition(":")
    return AlarmKey(Subject(Kind(kind), id_, ""), Condition(condition))


def shelf_text(shelf: Shelf) -> str:
    """A shelf as the store keeps it."""
    return _text(shelf.since, shelf.until, shelf.who, shelf.level, shelf.number, shelf.note)


def shelf_of(text: str) -> Shelf:
    """The shelf of such a text."""
    since, until, who, level, number, note = json.loads(text)
    return Shelf(since, until, who, Level(level), number, note)


def work_key(bed: str) -> str:
    """Where somebody works, as the store's key: `bin:fig`."""
    return f"{Kind.BIN}:{bed}"


def work_text(work: Work) -> str:
    """A work as the store keeps it, without its bin."""
    return _text(work.since, work.until, work.who, work.note, list(work.spared))


def work_of(key: str, text: str) -> Work:
    """The work of such a text and key."""
    since, until, who, note, spared = json.loads(text)
    return Work(key.partition(":")[2], since, until, who, note, tuple(spared))


def shelves_in(standing: Mapping[tuple[str, str], str]) -> dict[str, Shelf]:
    """Every shelf among the documents that stand between rounds, by `shelf_key`."""
    return {key: shelf_of(body) for (kind, key), body in standing.items() if kind == SHELF}


def works_in(standing: Mapping[tuple[str, str], str]) -> dict[str, Work]:
    """Every work among them, by bin."""
    found = [work_of(key, body) for (kind, key), body in standing.items() if kind == WORK]
    return {work.bed: work for work in found}


def last_words_in(standing: Mapping[tuple[str, str], str]) -> dict[str, Millis]:
    """By bin: when it was last said that somebody works in it, or no longer does."""
    return {key.partition(":")[2]: json.loads(body) for (kind, key), body in standing.items() if kind == LAST_WORD}


def _text(*parts: object) -> str:
    return json.dumps(parts, ensure_ascii=False)
