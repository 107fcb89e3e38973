"""What people keep from being told for a while: shelves, and the bins they work in."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from monitor.alarms.holds import Shelf, Work, key_of, shelf_key, shelves_in, works_in
from monitor.reports.notes import plain
from monitor.reports.saying import Saying, instant, millis
from monitor.store.promises import Past

if TYPE_CHECKING:
    from monitor.reports.shapes import HeldShape, NoteShape, ShelfShape, WorkShape


def held_facts(hold: Shelf | Work) -> HeldShape:
    """Who, since when, until when, and why."""
    return {
        "who": hold.who,
        "since": instant(hold.since),
        "until": instant(hold.until),
        "note": plain(hold.note),
    }


def shelf_facts(past: Past, saying: Saying) -> list[ShelfShape]:
    """Everything that is shelved, what ends first before the rest."""
    standing = {shelf_key(a.key) for a in past.alarms}
    shelves = sorted(shelves_in(past.standing).items(), key=lambda item: item[1].until)
    return [
        {
            **held_facts(shelf),
            "number": shelf.number,
            "about": saying.about(key_of(key), None),
            "stands": key in standing,
        }
        for key, shelf in shelves
    ]


def work_facts(past: Past, saying: Saying) -> list[WorkShape]:
    """Every bin that is worked in, in the order in which that ends."""
    works = sorted(works_in(past.standing).values(), key=lambda work: work.until)
    return [{**held_facts(work), "bin": work.bed, "about": bed_words(work.bed, saying)} for work in works]


def bed_words(bed: str, saying: Saying) -> str:
    """How a bin is called, also one that the settings know no longer."""
    known = saying.rules.bins.get(bed)
    return known.name if known else bed


def note_facts(past: Past, saying: Saying) -> Iterator[NoteShape]:
    """What `now` says of both."""
    for work in work_facts(past, saying):
        said = f"{work['who']} works in {work['about']} until {_clock(work, saying)}: what its probes say is told to nobody."
        yield {"kind": "working", "about": work["bin"], "sentence": said, "at": work["since"], "count": 1}
    for shelf in shelf_facts(past, saying):
        said = f"{shelf['about']} is shelved by {shelf['who']} until {_clock(shelf, saying)}: told to nobody."
        yield {
            "kind": "shelved",
            "about": str(shelf["number"]),
            "sentence": said,
            "at": shelf["since"],
            "count": 1,
        }


def _clock(hold: HeldShape, saying: Saying) -> str:
    return saying.clock(millis(hold["until"]))
