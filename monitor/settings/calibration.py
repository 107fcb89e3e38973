"""Whether the calibration points of a moisture probe can carry a line."""

from __future__ import annotations

from datetime import date
from itertools import pairwise

from monitor.readings import Measures
from monitor.science.points import LEAST_SPREAD
from monitor.settings.mistakes import Paper, Path
from monitor.settings.schema import PointShape, ProbeShape


def check_calibration(paper: Paper, path: Path, probe: ProbeShape, today: date) -> None:
    """Note what is wrong with the points of one probe: too few, alike, out of order, too near, or to come."""
    at: Path = (*path, "calibration")
    points = probe.calibration or []
    if not paper.whole(at, (*path, "measures")):
        return
    if probe.measures is not Measures.MOISTURE:
        paper.wrong(at, f"A {probe.measures} probe has no moisture points.", "Delete them.", key=True)
        return
    for index, point in enumerate(points):
        if point.taken is not None and point.taken > today:
            paper.wrong(
                (*at, index, "taken"), f"{point.taken} has not come yet.", "Write the day it was measured."
            )
    if len(points) < 2:
        hint = "Weigh bedding dry and wet: at least two points make a line."
        paper.wrong(at, f"{'One point is' if points else 'No point is'} written here.", hint, key=True)
    elif not _alike(paper, at, points):
        _line(paper, at, points)


def _alike(paper: Paper, at: Path, points: list[PointShape]) -> bool:
    """Whether two points have the same counts or the same moisture; each such point is noted."""
    found = False
    for index, point in enumerate(points):
        for key in ("counts", "moisture"):
            if getattr(point, key) in [getattr(other, key) for other in points[:index]]:
                found = True
                hint = "Measure in bedding of another dampness, or keep one of them."
                paper.wrong((*at, index, key), f"Two points have the same {key}.", hint)
    return found


def _line(paper: Paper, at: Path, points: list[PointShape]) -> None:
    by_counts = sorted(points, key=lambda point: point.counts)
    steps = [b.moisture - a.moisture for a, b in pairwise(by_counts)]
    least, most = by_counts[0].counts, by_counts[-1].counts
    if any(step * steps[0] < 0 for step in steps):
        hint = "With more counts it must always get wetter, or always drier. Is one of them mistyped?"
        paper.wrong(at, "The points go up and down.", hint, key=True)
    elif most - least < LEAST_SPREAD * most:
        hint = "They must differ by a tenth of the larger one at least: measure drier and wetter bedding."
        paper.wrong(at, f"The counts {least:g} to {most:g} lie too near to each other.", hint, key=True)
