"""How much lies in a bin and how that is known, in the keeper's units: what stands beside every amount of water."""

from __future__ import annotations

from monitor import words
from monitor.advice.scene import Scene
from monitor.masses import FOOD_STAYS, Mass
from monitor.rules import Bin


def mass_lines(scene: Scene, bed: Bin) -> tuple[str, ...]:
    """How the mass of a bin's bedding came to be, where the diary makes it another than the settings do."""
    mass = scene.masses.get(bed.id)
    if mass is None or mass.begun is None or not mass.moved:
        return ()
    return (f"{_sum(scene, mass)}.", *_doubts(scene, mass))


def no_mass(scene: Scene, bed: Bin) -> str | None:
    """Why nobody knows how much lies in a bin, None where that is known."""
    if bed.bedding is not None:
        return None
    mass = scene.masses.get(bed.id)
    if mass is None or mass.begun is None:
        return "No amounts: the settings don't say how much `bedding` the bin holds."
    return f"No amounts: the diary takes out of {bed.name} more than was in it. Weigh it and write it there."


def _sum(scene: Scene, mass: Mass) -> str:
    def kilos(kg: float) -> str:
        return words.kilograms(kg, scene.units)

    begun = kilos(mass.begun or 0.0)
    weighed = mass.weighed_at
    parts = [f"weighed {words.clock_time(weighed, scene.tz, scene.at)} as {begun}" if weighed is not None else
             f"{begun} when it began"]  # fmt: skip
    if mass.added:
        parts.append(f"{kilos(mass.added)} of bedding added")
    if mass.food:
        parts.append(f"{kilos(mass.food)} of food leave {kilos(FOOD_STAYS * mass.food)} (proposal)")
    if mass.harvested:
        parts.append(f"{kilos(mass.harvested)} harvested")
    total = "nothing" if mass.bedding is None else kilos(mass.bedding)
    return f"Bedding by the diary: {', '.join(parts)}: {total} now"


def _doubts(scene: Scene, mass: Mass) -> tuple[str, ...]:
    found = []
    if mass.full is not None:
        most = words.kilograms(mass.full, scene.units)
        found.append(f"Taken as {most}, since its vessel holds no more: weigh it when you can.")
    if mass.unweighed:
        entries = words.amount(mass.unweighed, "entry", "entries")
        verb = "is" if mass.unweighed == 1 else "are"
        found.append(f"{entries} of bedding without a weight {verb} not counted.")
    return tuple(found)
