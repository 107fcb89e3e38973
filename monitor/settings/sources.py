"""Whether every probe's value stands at one place of its own on the wire, in a unit that fits."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import TypeAlias

from monitor.readings import Measures
from monitor.settings.calibration import check_calibration
from monitor.settings.corrections import check_corrections
from monitor.settings.mistakes import Paper, Path, listed, quoted
from monitor.settings.placements import check_placements, is_moved
from monitor.settings.readers import in_yaml
from monitor.settings.schema import SENDS, FileShape, ProbeShape, StateShape

Value: TypeAlias = tuple[str, str | None, str | None]
"""Topic, field and SenML name: no two probes may share all three."""
Taken: TypeAlias = dict[Value, Path]


def check_probes(model: FileShape, paper: Paper, today: date) -> None:
    """Note what is wrong with any probe, or between two of them."""
    check_placements(_all_probes(model), paper)
    taken: Taken = {}
    for path, probe in _all_probes(model):
        _listens(paper, path, probe, model.site.id)
        _sends(paper, path, probe)
        _same_source(paper, taken, path, (probe.topic, probe.field, probe.name))
        if path[0] == "places" and probe.measures is Measures.MOISTURE:
            said = "Moisture is a bed's, and this is a place's air."
            paper.wrong((*path, "measures"), said, "Write `measures: humidity`, or put the probe into a zone.")
        if path[0] == "places" and probe.measures is Measures.MASS:
            said = "A scale weighs a bin, and this is a place's air."
            paper.wrong((*path, "measures"), said, "Put the probe into a zone of the bin that stands on it.")
        check_corrections(paper, path, probe.measures, offset=probe.offset, scale=probe.scale)
        if probe.calibration is not None:
            check_calibration(paper, path, probe, today)
    for key, mat in model.mats.items():
        if mat.state is not None:
            state = mat.state
            _listens(paper, ("mats", key, "state"), state, model.site.id)
            _same_source(paper, taken, ("mats", key, "state"), (state.topic, state.field, state.name))


def _all_probes(model: FileShape) -> Iterator[tuple[Path, ProbeShape]]:
    for place, air in model.places.items():
        for key, probe in air.probes.items():
            yield ("places", place, "probes", key), probe
    for bed, shape in model.bins.items():
        for zone, part in shape.zones.items():
            for key, probe in part.probes.items():
                yield ("bins", bed, "zones", zone, "probes", key), probe


def _listens(paper: Paper, path: Path, probe: ProbeShape | StateShape, site: str) -> None:
    """Where in the message the value stands must fit together."""
    if not paper.whole(path):
        return
    if probe.topic == "vermistat" or probe.topic.startswith(f"vermistat/{site}/"):
        said = f"{quoted(probe.topic)} is where Vermistat itself speaks."
        paper.wrong(
            (*path, "topic"), said, "Let the probe publish to a topic of its own, for example probes/its-id."
        )
    if probe.field is not None and probe.name is not None:
        said = "`field` is for plain JSON and `name` for SenML: a probe has one of them."
        paper.wrong((*path, "name"), said, "Delete one of them.", key=True)
    elif probe.time is not None and probe.field is None:
        other = "A SenML message carries its own time." if probe.name else "A plain number carries no time."
        hint = "Delete `time`." if probe.name else "Write `field` too, or delete `time`."
        paper.wrong((*path, "time"), other, hint, key=True)


def _sends(paper: Paper, path: Path, probe: ProbeShape) -> None:
    allowed = SENDS[probe.measures]
    if probe.sends is not None and probe.sends.value not in allowed and paper.whole(path):
        hint = f"Write {listed(in_yaml(unit) for unit in allowed)}."
        paper.wrong((*path, "sends"), f"No probe of {probe.measures} sends {probe.sends.value}.", hint)


def _same_source(paper: Paper, taken: Taken, path: Path, source: Value) -> None:
    if not paper.whole((*path, "topic"), (*path, "field"), (*path, "name")):
        return
    other = taken.setdefault(source, path)
    if other is path or (other[-1] == path[-1] and is_moved(paper, path)):
        return
    _, field, name = source
    which = "topic and field" if field is not None else "topic and name" if name is not None else "topic"
    whose = f"Mat {quoted(other[1])}" if other[-1] == "state" else f"Probe {quoted(other[-1])}"
    said = f"{whose} already reads this {which}."
    paper.wrong((*path, "topic"), said, "One value cannot be two: give each probe its own.")
