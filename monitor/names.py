"""Ids that were written otherwise before (`was:`): the old ones → those they go on under."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields

Ids = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Names:
    """Old id → new id, by what bears it. A zone is `bin.zone` on both sides; one whose bin alone got another id
    need not be named.
    """

    places: Ids = field(default_factory=dict)
    bins: Ids = field(default_factory=dict)
    zones: Ids = field(default_factory=dict)
    probes: Ids = field(default_factory=dict)
    mats: Ids = field(default_factory=dict)
    people: Ids = field(default_factory=dict)

    def __bool__(self) -> bool:
        return any(getattr(self, kind) for kind in KINDS)

    def without(self, done: Names) -> Names:
        """Those that are not in `done`."""
        kept: dict[str, dict[str, str]] = {}
        for kind in KINDS:
            before: Ids = getattr(done, kind)
            mine: Ids = getattr(self, kind)
            kept[kind] = {old: new for old, new in mine.items() if before.get(old) != new}
        return Names(**kept)

    def place(self, id_: str) -> str:
        """What a place is called now."""
        return self.places.get(id_, id_)

    def bed(self, id_: str) -> str:
        """What a bin is called now."""
        return self.bins.get(id_, id_)

    def zone(self, id_: str) -> str:
        """What `bin.zone` is called now."""
        bed, dot, zone = id_.partition(".")
        return self.zones.get(id_) or f"{self.bed(bed)}{dot}{zone}"

    def probe(self, id_: str) -> str:
        """What a probe is called now."""
        return self.probes.get(id_, id_)

    def mat(self, id_: str) -> str:
        """What a mat is called now."""
        return self.mats.get(id_, id_)

    def person(self, id_: str) -> str:
        """What a person is called now."""
        return self.people.get(id_, id_)

    def anything(self, id_: str) -> str:
        """What a thing is called now of which only its id is known: the first kind that has another name for it."""
        ways: tuple[Callable[[str], str], ...] = (self.zone, self.probe, self.mat, self.place, self.person)
        return next((new for way in ways if (new := way(id_)) != id_), id_)

    def told(self) -> tuple[str, ...]:
        """Each as `bin fig is called plum now`, for the record."""
        return tuple(
            f"{WORDS[kind]} {old} is called {new} now"
            for kind in KINDS
            for old, new in getattr(self, kind).items()
        )


KINDS = tuple(f.name for f in fields(Names))
WORDS = {
    "places": "place",
    "bins": "bin",
    "zones": "zone",
    "probes": "probe",
    "mats": "mat",
    "people": "person",
}
"""What one of each kind is called."""
