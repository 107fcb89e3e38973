"""How the product is asked about probes: their correction, squeezes of the hand, their neighbours."""

from __future__ import annotations

from monitor.readings import Measures
from monitor.rules import Bedding, Units
from monitor.science import correction
from monitor.science.squeeze import Feel, band
from monitor.settings.corrections import shift


def offset_taken(*, text, units="metric", measures="temperature"):
    return shift(text, Units(units)).of(Measures(measures))


PROBES = {
    "offset in melting ice": lambda *, read: correction.offset_from(read),
    "offset taken": offset_taken,
    "squeezed": lambda *, feel, bedding: list(band(Feel(feel), Bedding(bedding))[:2]),
}
