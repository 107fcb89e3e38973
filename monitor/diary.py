"""What the keeper did and saw. Entries are never changed; a correction is a new entry."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from monitor.readings import Millis


class Deed(StrEnum):
    """What an entry tells of."""

    DONE = "done"
    """What an alarm's advice asked for was done."""
    NOTE = "note"
    WORKING = "working"
    """Somebody began to work in a bin, or goes on longer."""
    WORKED = "work over"


@dataclass(frozen=True, slots=True)
class Entry:
    """One diary entry: `at` is when it happened, `written_at` when it was said."""

    at: Millis
    written_at: Millis
    who: str
    deed: Deed
    subject: str
    text: str
    alarm: int | None = None
