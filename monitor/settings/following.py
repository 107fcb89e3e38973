"""Which mats a switch may follow: only those that are safe without us."""

from __future__ import annotations

from monitor.readings import Measures
from monitor.rules import Control, Role
from monitor.settings.mistakes import Paper, Path
from monitor.settings.schema import FileShape, MatShape


def check_follow(model: FileShape, paper: Paper, path: Path, mat: MatShape) -> None:
    """Note on `paper` why nothing may follow this mat."""
    at: Path = (*path, "follow")
    if not mat.follow or not paper.whole(at):
        return
    if mat.control is not Control.THERMOSTAT and paper.whole((*path, "control")):
        said = "No switch may follow a mat that has no thermostat of its own."
        hint = "Put one into its line and write `control: thermostat`, or delete this."
        paper.wrong(at, said, hint, key=True)
    elif not _measured(model, mat) and paper.whole((*path, "warms"), *(("bins", bed) for bed, _ in mat.warms)):
        said = "No switch may follow a mat that nobody measures right above."
        hint = "Give its bin a zone with `role: at-the-mat` and a thermometer, or delete this."
        paper.wrong(at, said, hint, key=True)


def _measured(model: FileShape, mat: MatShape) -> bool:
    beds = [model.bins[bed] for bed, _ in mat.warms if bed in model.bins]
    zones = [zone for bed in beds for zone in bed.zones.values() if zone.role is Role.AT_THE_MAT]
    return any(probe.measures is Measures.TEMPERATURE for zone in zones for probe in zone.probes.values())
