"""Offset and scale of a probe: read with their units, and whether the probe may have them."""

from __future__ import annotations

from dataclasses import dataclass

from monitor.readings import Measures
from monitor.rules import Units
from monitor.science.correction import (
    LARGEST_OFFSET,
    LARGEST_OFFSET_HUMIDITY,
    LARGEST_SCALE,
    LARGEST_TARE,
    SMALLEST_SCALE,
)
from monitor.settings import quantities as q
from monitor.settings import readers as r
from monitor.settings.mistakes import Misread, Paper, Path, quoted

_KINDS = {
    Measures.TEMPERATURE: r.amount(q.DEGREES, -LARGEST_OFFSET, LARGEST_OFFSET),
    Measures.HUMIDITY: r.amount(q.PERCENT, -LARGEST_OFFSET_HUMIDITY, LARGEST_OFFSET_HUMIDITY),
    Measures.MASS: r.amount(q.MASS, -LARGEST_TARE, LARGEST_TARE),
}


@dataclass(frozen=True, slots=True)
class Shift:
    """An offset as it is written; which quantity it is, only its probe says."""

    text: str
    units: Units

    def of(self, measures: Measures) -> float:
        """In K, points or kg. Raises Misread for another quantity and for more than a correction."""
        return _KINDS[measures](self.text, self.units)


def shift(text: str, units: Units) -> Shift:
    """A difference of temperature, of humidity or of mass, whatever its size."""
    weighs = text.rstrip().endswith(("kg", "g", "lb"))
    q.measured(text, q.PERCENT if text.rstrip().endswith("%") else q.MASS if weighs else q.DEGREES, units)
    return Shift(text, units)


def scale(text: str, units: Units) -> float:
    """A factor near 1."""
    value = r.number(text, units)
    if not SMALLEST_SCALE <= value <= LARGEST_SCALE:
        hint = (
            f"Write what lies between {SMALLEST_SCALE:g} and {LARGEST_SCALE:g}: other units are told by `sends`."
        )
        raise Misread(f"{quoted(text)} is no small correction.", hint)
    return value


def check_corrections(
    paper: Paper, path: Path, measures: Measures, *, offset: Shift | None, scale: float | None
) -> None:
    """Note what is wrong with offset and scale of one probe."""
    if not paper.whole((*path, "measures")):
        return
    if measures is Measures.MOISTURE:
        for key in [key for key, value in (("offset", offset), ("scale", scale)) if value is not None]:
            said = "A moisture probe is not shifted: points of your own bedding say what its numbers mean."
            paper.wrong((*path, key), said, "Write `calibration:` and two points.", key=True)
    elif offset is not None:
        try:
            offset.of(measures)
        except Misread as misread:
            paper.wrong((*path, "offset"), misread.sentence, misread.hint)
