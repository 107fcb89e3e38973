"""What the keeper did and saw. Entries are never changed; a correction is a new entry."""

from __future__ import annotations

from collections.abc import Iterable
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
    FED = "fed"
    WATERED = "watered"
    DRAINED = "drained"
    """Leachate that was let off, or a tray that was emptied."""
    BEDDING = "bedding added"
    HARVESTED = "harvested"
    WEIGHED = "weighed"
    """The bedding as it lies in the bin; from here on the bin's mass is counted anew."""
    WORMS_ADDED = "worms added"
    WORMS_TAKEN = "worms split off"
    MAT_ON = "mat on"
    MAT_OFF = "mat off"
    COVER = "cover changed"
    INSULATED = "insulation changed"
    MOVED = "moved"
    PROBE_LIFTED = "probe lifted"
    LOOKED = "looked"
    SQUEEZED = "squeezed"
    """A handful of bedding; the first word of the text is what it did (`science.squeeze.Feel`)."""
    USEFUL = "useful"
    """A notice was called so; the text begins with the condition of its alarm."""
    NEEDLESS = "needless"
    LIMITS_CHANGED = "limits changed"
    """A limit was accepted from what was tried; the text says which, and why."""
    LEARNS_ANEW = "learns anew"
    """What was learned of a bed's heat is forgotten, because the keeper asked for it."""


EVERY = 1_000_000
"""More entries than anybody writes in a life."""

SWITCHED = (Deed.MAT_ON, Deed.MAT_OFF)
"""That somebody switched a mat."""

NEEDED = frozenset(
    {
        Deed.FED,
        Deed.WATERED,
        Deed.DRAINED,
        Deed.BEDDING,
        Deed.HARVESTED,
        Deed.WEIGHED,
        Deed.WORMS_ADDED,
        Deed.WORMS_TAKEN,
        Deed.MAT_ON,
        Deed.MAT_OFF,
        Deed.DONE,
        Deed.LOOKED,
        Deed.COVER,
        Deed.INSULATED,
        Deed.MOVED,
        Deed.LEARNS_ANEW,
    }
)
"""What advice and the learned bed look at, besides whatever corrects."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One diary entry: `at` is when it happened, `written_at` when it was said.

    `subject` is `bin:fig`, `zone:fig.west`, `mat:long-mat`, `probe:fig-east`, or empty for the site. `amount` is
    in `unit`, a canonical one (kg, L, W); None when nobody said how much. `number` is that of the request that asked for it,
    0 for entries from before they had one; entries of one request share it. `corrects` is the number that this
    entry stands for instead.
    """

    at: Millis
    written_at: Millis
    who: str
    deed: Deed
    subject: str
    text: str
    alarm: int | None = None
    amount: float | None = None
    unit: str = ""
    number: int = 0
    corrects: int | None = None

    @property
    def id(self) -> str:
        """The subject without its kind: `fig`, `fig.west`, `long-mat`; empty for the site."""
        return self.subject.partition(":")[2]

    @property
    def bed(self) -> str:
        """The bin an entry is about, empty when it is about none."""
        kind, _, name = self.subject.partition(":")
        return name.partition(".")[0] if kind in ("bin", "zone") else ""


def corrected_by(entries: Iterable[Entry]) -> dict[int, int]:
    """The number of each corrected entry → that of the newest entry that stands for it.

    A correction may be corrected in its turn: what it stood for stays corrected.
    """
    found: dict[int, int] = {}
    for entry in entries:
        if entry.corrects is not None and entry.corrects != entry.number:
            found[entry.corrects] = max(entry.number, found.get(entry.corrects, 0))
    return found


def in_force(entries: Iterable[Entry], upto: Millis) -> list[Entry]:
    """What happened until `upto` as far as it still counts, by time: without what was corrected."""
    every = list(entries)
    gone = corrected_by(every)
    return sorted((e for e in every if e.at <= upto and e.number not in gone), key=lambda e: (e.at, e.number))


def needed(entries: Iterable[Entry]) -> list[Entry]:
    """Those that advice and forecasts are made of: the rest is for people to read."""
    return [e for e in entries if e.deed in NEEDED or e.corrects is not None]


def switches(entries: Iterable[Entry], mat: str) -> list[tuple[Millis, bool]]:
    """What was written of a mat: when, and whether it was switched on. In the order of the entries."""
    return [(e.at, e.deed is Deed.MAT_ON) for e in entries if e.subject == f"mat:{mat}" and e.deed in SWITCHED]
