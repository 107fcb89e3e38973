"""How warm the water for a bed may be, and what a pour does to the bed's own warmth."""

from __future__ import annotations

import math

from monitor import words
from monitor.advice.scene import Scene, limits_of
from monitor.readings import Measures
from monitor.rules import Bin, Units
from monitor.science.units import fahrenheit
from monitor.science.water import after_pouring

WITHIN = 3.0
"""°C that water may differ from the bed (proposal)."""

WARMEST_WATER = 30.0
"""°C below which water stays, whatever the bed (proposal)."""

NEAR_COLD = 1.0
"""°C above its cold limit within which a bed gets no water that is colder than itself (proposal)."""


def water_range(bed: float | None, units: Units, *, no_colder: bool = False) -> str | None:
    """How warm the water for a bed may be: "20 to 25 °C", "bed-warm" where that is not known, None
    where no water is right: what is near the bed is too warm for the worms. `no_colder`: than the bed.
    """
    if bed is None:
        return "bed-warm"
    low, high = max(bed if no_colder else bed - WITHIN, 1.0), min(bed + WITHIN, WARMEST_WATER)
    sign = "°C" if units is Units.METRIC else "°F"
    if units is Units.US:
        low, high = fahrenheit(low), fahrenheit(high)
    too_warm = bed + WITHIN >= WARMEST_WATER
    least, most = math.ceil(low - 1e-9), math.ceil(high - 1e-9) - 1 if too_warm else math.floor(high + 1e-9)
    if least > most:
        return None
    return f"{least} to {most} {sign}" if least < most else f"{least} {sign}"


def warmth(scene: Scene, bed: Bin) -> str | None:
    """How warm the water for this bed may be now: no colder than the bed where that is too cold, or nearly."""
    return water_range(scene.bed_temperature(bed), scene.units, no_colder=_no_colder(scene, bed))


def chill(scene: Scene, bed: Bin, *, mass: float | None, moisture: float, litres: float) -> tuple[str, ...]:
    """What the coldest of that water does to the bed, by the balance of heat."""
    inside = scene.bed_temperature(bed)
    if inside is None or not mass:
        return ()
    coldest = max(inside if _no_colder(scene, bed) else inside - WITHIN, 1.0)
    after = after_pouring(mass, inside, litres=litres, water=coldest, moisture=moisture)
    units = scene.units
    if coldest >= inside:
        return ("No colder than the bed, because that is too cold, or nearly.",)
    return (
        f"At {words.temperature(coldest, units)} that pour takes the bed from {words.temperature(inside, units)} "
        f"to {words.temperature(after, units, beside=inside)}.",
    )


def _no_colder(scene: Scene, bed: Bin) -> bool:
    """Whether the bed is too cold, or the coldest water could bring a worm that needs warmth to its limit."""
    inside = scene.bed_temperature(bed)
    low = limits_of(bed, None, Measures.TEMPERATURE).low
    near = inside is not None and low is not None and inside <= low.value + NEAR_COLD
    return bool(scene.cold(bed)) or (near and scene.needs_warmth(bed))
