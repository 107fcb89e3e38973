"""What a calibration comes to: its arithmetic, the lines for the settings, and what to beware of on the way."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from monitor import words
from monitor.advice.cautions import ICE_WATER
from monitor.rules import Units
from monitor.science.correction import ICE_POINT
from monitor.science.ice import InIce
from monitor.science.tubs import Tub

SOURCE = (
    "wet basis: what is lost, of what it weighed wet (Richard & Trautmann, Cornell Composting, "
    "Calculating moisture content [seen]); drying at 105 °C until an hour more changes nothing"
)

TUB_CAUTIONS = (
    "No worms go into the tubs.",
    "Dry bedding dusts: damp what you turn, wear an FFP3 mask, and with asthma or weak lungs let somebody else do it.",
    "Dry paper and coir can catch fire: keep them away from the oven's elements, never hotter than 105 °C, and stay near it. "
    "What the oven's maker and your local rules say goes first.",
    "Use a dish that no food goes into again.",
)
ICE_CAUTIONS = tuple(caution.words for caution in ICE_WATER)


def tub_sentences(tubs: Sequence[Tub]) -> list[str]:
    """Each tub's arithmetic, what the scales leave open, and what the probe sent there."""
    return [
        f"{tub.weighed.arithmetic}, to {tub.weighed.either_way:.1f} points by the scales; the probe sent {tub.counts:.6g} there."
        for tub in tubs
    ]


def point_lines(tubs: Sequence[Tub], *, taken: date) -> list[str]:
    """YAML to write below a moisture probe, from tubs as `points_of` gives them."""
    return [
        "calibration:",
        *(
            f"  - {{counts: {tub.counts:.6g}, moisture: {tub.moisture:.3g} %, taken: {taken.isoformat()}}}"
            for tub in tubs
        ),
    ]


def ice_sentence(found: InIce, units: Units) -> str:
    """What the probe read in the ice, and what that asks for."""
    read = words.temperature(found.middle, units)
    if not found.needed:
        return f"It reads {read} in melting ice: that is as near as an ice bath tells. Leave it as it is."
    return f"It reads {read} in melting ice, which is {words.limit(ICE_POINT, units)}: write the line below the probe."


def offset_line(found: InIce, units: Units) -> str | None:
    """YAML to write below a temperature probe; None where none is needed."""
    return f"offset: {_apart(found.offset, units)}" if found.needed else None


def _apart(k: float, units: Units) -> str:
    return f"{1.8 * k:.2f} °F" if units is Units.US else f"{k:.2f} °C"
