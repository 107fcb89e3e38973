"""Water in bedding: how wet it is, how much to add, what water of another temperature does to a bed.

Moisture is % wet basis (water of the total mass) everywhere; masses in kg, and a litre of water is a kilogram.
The mass balance keeps dry matter unchanged: the form of Rynk et al. 1992, On-Farm Composting Handbook, NRAES-54
(read as quoted; seen). What looks simpler, mass times the difference in moisture, gives a quarter of the water.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from monitor.errors import BadValue

WATER_HEAT = 4.186
"""kJ/kg K, water (memory)."""

DRY_HEAT = 1.3
"""kJ/kg K, dry organic matter (memory; peat 1.2 at 0 °C in Gnatowski et al. 2022 and 1.9 in de Vries 1963, both
seen): the choice moves the heat of a bed at 75 % moisture by 4 %."""

POUR_SHARE = 1 / 3
"""Of the low end of a dose, in one pour (proposal): the probe settles for 4 to 12 h before the next."""

POUR_DEPTH = 5.0
"""Litres per m² of floor in one pour (proposal); half of the pour where water cannot drain."""


def dry_basis(moisture: float) -> float:
    """kg of water per kg of dry matter, from % wet basis: X = M / (1 - M). By definition (memory)."""
    share = _share(moisture)
    return share / (1 - share)


def wet_basis(ratio: float) -> float:
    """% wet basis, from kg of water per kg of dry matter: M = X / (1 + X). By definition (memory)."""
    if not 0 <= ratio < math.inf:
        raise BadValue(f"{ratio} kg of water per kg of dry matter cannot be")
    return 100 * ratio / (1 + ratio)


def oven_moisture(*, wet: float, dry: float) -> float:
    """% wet basis of a sample weighed wet and after 24 h at 105 to 110 °C (same unit twice).

    Richard & Trautmann, Cornell Composting, Calculating moisture content (seen).
    """
    if not 0 <= _mass(dry) <= wet or wet == 0:
        raise BadValue(f"a sample of {_mass(wet)} cannot weigh {dry} when dry")
    return 100 * (wet - dry) / wet


def to_reach(mass: float, moisture: float, *, target: float) -> float:
    """Litres that bring `mass` kg at `moisture` to `target` %: W = m(B - A)/(1 - B), never below 0.

    NRAES-54 (seen, as quoted).
    """
    have, want = _share(moisture), _share(target)
    return max(0.0, _mass(mass) * (want - have) / (1 - want))


def lost(mass: float, moisture: float, *, now: float) -> float:
    """kg of water gone since `mass` kg at `moisture` dried or drained to `now` %: m(A - B)/(1 - B), at least 0."""
    had, has = _share(moisture), _share(now)
    return max(0.0, _mass(mass) * (had - has) / (1 - has))


def bedding_to_add(mass: float, moisture: float, *, target: float, bedding: float = 8.0) -> float:
    """kg of drier bedding (`bedding` %) that brings a bed down to `target` %: m(A - T)/(T - M), at least 0.

    Richard & Trautmann, Cornell Composting, two materials (seen). Shredded paper as it is holds about 8 %
    (NRAES-54 Table A.1; memory). Raises BadValue when the bedding is not drier than the target.
    """
    have, want, add = _share(moisture), _share(target), _share(bedding)
    if add >= want:
        raise BadValue(f"bedding at {bedding} % cannot bring a bed down to {target} %")
    return max(0.0, _mass(mass) * (have - want) / (want - add))


def mixed(parts: Iterable[tuple[float, float]]) -> float:
    """% wet basis of (kg, %) parts mixed: their mean by mass."""
    listed = [(_mass(mass), 100 * _share(moisture, most=1.0)) for mass, moisture in parts]
    total = sum(mass for mass, _ in listed)
    if total == 0:
        raise BadValue("a mix of nothing has no moisture")
    return sum(mass * moisture for mass, moisture in listed) / total


@dataclass(frozen=True, slots=True)
class Dose:
    """How much water, in litres: the bed needs something between `low` and `high`; pour `first`, then measure."""

    low: float
    high: float
    first: float


def dose(
    mass: float,
    moisture: float,
    *,
    target: float,
    uncertainty: float,
    floor: float | None = None,
    drains: bool | None = None,
) -> Dose:
    """The water for `mass` kg of bed whose probe says `moisture` ± `uncertainty` points, to reach `target` %.

    The first pour is the lower of a third of the low end and 5 L per m² of `floor`, half of that unless the
    vessel is known to drain (proposal). It is 0 when the bed may already be wet enough: measure again.
    """
    if not 0 <= uncertainty <= 100:
        raise BadValue(f"a probe cannot be off by {uncertainty} points")
    if floor is not None and not 0 < floor < math.inf:
        raise BadValue(f"a floor of {floor} m² cannot be")
    _share(moisture)
    low = to_reach(mass, min(moisture + uncertainty, 99.9), target=target)
    high = to_reach(mass, max(moisture - uncertainty, 0.0), target=target)
    first = min(low * POUR_SHARE, POUR_DEPTH * floor if floor is not None else math.inf)
    return Dose(low, high, first if drains else first / 2)


def heat(mass: float, moisture: float) -> float:
    """kJ/K of `mass` kg of bed: the heats of its water and its dry matter, added."""
    share = _share(moisture, most=1.0)
    return _mass(mass) * (share * WATER_HEAT + (1 - share) * DRY_HEAT)


def after_pouring(
    mass: float, temperature: float, *, litres: float, water: float, moisture: float = 75.0
) -> float:
    """°C of a bed of `mass` kg after `litres` at `water` °C are mixed in: the mean by heat.

    Where the water goes it is colder than this for hours; nothing is lost to the air.
    """
    bed, poured = heat(mass, moisture), WATER_HEAT * _mass(litres)
    if bed + poured == 0:
        raise BadValue("no bed and no water have no temperature")
    if not (math.isfinite(temperature) and math.isfinite(water)):
        raise BadValue(f"{temperature} and {water} °C are no temperatures")
    return (bed * temperature + poured * water) / (bed + poured)


def _share(moisture: float, most: float = 1 - 1e-9) -> float:
    """A moisture as a share of one. At 100 % there is no bed left to divide by."""
    if not 0 <= moisture / 100 <= most:
        raise BadValue(f"moisture runs from 0 to below 100 %, not {moisture} %")
    return moisture / 100


def _mass(mass: float) -> float:
    if not 0 <= mass < math.inf:
        raise BadValue(f"a mass of {mass} kg cannot be")
    return mass
