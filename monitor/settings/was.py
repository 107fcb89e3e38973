"""`was: old-id`: what goes on under another id, and what is wrong with saying so."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from monitor.names import Names
from monitor.settings.mistakes import Paper, Path, quoted
from monitor.settings.schema import FileShape, ProbeShape


class Said(NamedTuple):
    """One `was`: of which kind, among which ids (of a bin, for its zones), where it stands, the old and the new id."""

    kind: str
    among: str
    path: Path
    old: str
    new: str


def check_was(model: FileShape, paper: Paper) -> None:
    """Note every `was` that cannot be: of an id that is still there, its own, or that another has taken over."""
    known = _ids(model)
    taken: dict[tuple[str, str, str], str] = {}
    for said in _said(model):
        if not paper.whole((*said.path, "was")):
            continue
        at: Path = (*said.path, "was")
        first = taken.setdefault((said.kind, said.among, said.old), said.new)
        if said.old == said.new:
            paper.wrong(at, f"{quoted(said.old)} is its own id.", "Write the id it had before, or delete this.")
        elif said.old in known.get((said.kind, said.among), ()):
            hint = "Two cannot share one past: delete `was`, or the other one."
            paper.wrong(at, f"{quoted(said.old)} is a {said.kind} of this file.", hint)
        elif first != said.new:
            paper.wrong(at, f"{quoted(first)} goes on from {quoted(said.old)} already.", "Keep one of them.")


def names(model: FileShape) -> Names:
    """Every old id with the one it goes on under. A zone is found under the bin's old id and under its new one."""
    found: dict[str, dict[str, str]] = {kind: {} for kind in ("place", "bin", "probe", "mat", "person", "zone")}
    for said in _said(model):
        if said.kind == "zone":
            for bed in filter(None, (said.among, model.bins[said.among].was)):
                found["zone"][f"{bed}.{said.old}"] = f"{said.among}.{said.new}"
        elif said.kind in found:
            found[said.kind][said.old] = said.new
    return Names(
        places=found["place"],
        bins=found["bin"],
        zones=found["zone"],
        probes=found["probe"],
        mats=found["mat"],
        people=found["person"],
    )


def channels(model: FileShape) -> Mapping[str, str]:
    """Old id → new id of channels: what waits for the old one is sent by the new one."""
    return {shape.was: key for key, shape in model.channels.items() if shape.was is not None}


def _said(model: FileShape) -> Iterator[Said]:
    for kind, section in (("place", "places"), ("bin", "bins"), ("mat", "mats"), ("person", "people"),
                          ("channel", "channels")):  # fmt: skip
        for key, shape in getattr(model, section).items():
            if shape.was is not None:
                yield Said(kind, "", (section, key), shape.was, key)
    for bed, shape in model.bins.items():
        for zone, part in shape.zones.items():
            if part.was is not None:
                yield Said("zone", bed, ("bins", bed, "zones", zone), part.was, zone)
    for path, probe in _probes(model):
        if probe.was is not None:
            yield Said("probe", "", path, probe.was, str(path[-1]))


def _probes(model: FileShape) -> Iterator[tuple[Path, ProbeShape]]:
    for place, air in model.places.items():
        yield from ((("places", place, "probes", key), probe) for key, probe in air.probes.items())
    for bed, shape in model.bins.items():
        for zone, part in shape.zones.items():
            for key, probe in part.probes.items():
                yield ("bins", bed, "zones", zone, "probes", key), probe


def _ids(model: FileShape) -> dict[tuple[str, str], set[str]]:
    found: dict[tuple[str, str], set[str]] = {
        ("place", ""): set(model.places),
        ("bin", ""): set(model.bins),
        ("mat", ""): set(model.mats),
        ("person", ""): set(model.people),
        ("channel", ""): set(model.channels),
        ("probe", ""): {str(path[-1]) for path, _ in _probes(model)},
    }
    for bed, shape in model.bins.items():
        found["zone", bed] = set(shape.zones)
    return found
