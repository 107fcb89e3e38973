"""From what moist bedding does to an electric field to how wet it is; why a soil probe's own per cent mislead here.

A capacitive probe sees the permittivity K of what surrounds it, and K follows the volume share of water θ (m³ of water per m³ of
bed). Which θ belongs to which K was fitted for mineral soil by Topp et al. 1980; light organic bedding at the same K is wetter
by a tenth or more. From θ to wet basis it takes the dry bulk density, which packing changes. So all this explains and bounds
what a probe says; two points in the keeper's own bedding (`moisture`) beat every curve.
"""

from __future__ import annotations

import math
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from monitor.errors import BadValue


class Medium(StrEnum):
    """What the probe sticks in, as far as somebody fitted a curve to it."""

    MINERAL_SOIL = "mineral soil"
    ORGANIC_SOIL = "organic soil"
    LIGHT_PEAT = "light peat"
    PEAT = "peat"
    BOG_PEAT = "bog peat"


CURVES: Final = MappingProxyType(
    {
        # Topp, Davis & Annan 1980, Water Resour. Res. 16(3):574–582 (coefficients seen in SoilHyP)
        Medium.MINERAL_SOIL: (-5.3e-2, 2.92e-2, -5.5e-4, 4.3e-6),
        # Roth, Malicki & Plagge 1992, 0.26–0.77 g/cm³, 10.5–54.8 % organic (seen in SoilHyP)
        Medium.ORGANIC_SOIL: (-0.0233, 0.0285, -4.31e-4, 3.04e-6),
        # Nagare et al. 2011, 0.053–0.183 g/cm³, porosity 73–94 % (seen in SoilHyP); nearest to shredded bedding (proposal)
        Medium.LIGHT_PEAT: (-1.89e-2, 3.20e-2, -4.59e-4, 2.70e-6),
        # Myllys & Simojoki 1996 (seen in SoilHyP)
        Medium.PEAT: (-0.0733, 0.0417, -8.01e-4, 5.56e-6),
        # Kellner & Lundin 2001, 0.029–0.066 g/cm³, n = 190, error 0.04 (seen in SoilHyP)
        Medium.BOG_PEAT: (3.90e-2, 3.17e-2, -4.50e-4, 2.60e-6),
    }
)
"""(c0, c1, c2, c3) of θ = c0 + c1 K + c2 K² + c3 K³."""

LARGEST_K = 81.0
"""Water near 18 °C (Malmberg & Maryott 1956; memory)."""


def water_share(permittivity: float, medium: Medium = Medium.MINERAL_SOIL) -> float:
    """θ, m³ of water per m³ of bed, held to 0…1: in air the cubic falls below 0. Raises BadValue outside K = 1…81."""
    if not 1 <= permittivity <= LARGEST_K:
        raise BadValue(f"permittivity runs from 1 (air) to {LARGEST_K:g} (water), not {permittivity}")
    c0, c1, c2, c3 = CURVES[medium]
    return min(max(c0 + permittivity * (c1 + permittivity * (c2 + permittivity * c3)), 0.0), 1.0)


def soil_permittivity(share: float) -> float:
    """K of mineral soil at θ: 3.03 + 9.3 θ + 146 θ² − 76.7 θ³ (Topp et al. 1980; memory). Not an exact inverse."""
    _share(share)
    return 3.03 + share * (9.3 + share * (146 - 76.7 * share))


def water_permittivity(celsius: float) -> float:
    """K of water at `celsius`, 0 to 100 °C (Malmberg & Maryott 1956; memory): it falls by 0.45 % a kelvin."""
    if not 0 <= celsius <= 100:
        raise BadValue(f"water's permittivity is known from 0 to 100 °C, not at {celsius} °C")
    return 87.740 + celsius * (-0.40008 + celsius * (9.398e-4 - 1.410e-6 * celsius))


def share_of_moisture(moisture: float, density: float) -> float:
    """θ of a bed at `moisture` % wet basis that weighs `density` kg/m³ as it lies: M ρ / 1000 (definition)."""
    if not 0 <= moisture <= 100:
        raise BadValue(f"moisture runs from 0 to 100 %, not {moisture} %")
    return _share(moisture / 100 * _density(density) / 1000)


def moisture_of_share(share: float, dry_density: float) -> float:
    """% wet basis of a bed at θ with `dry_density` kg of dry matter per m³: 1000 θ / (1000 θ + ρ_dry) (definition)."""
    water = 1000 * _share(share)
    return 100 * water / (water + _density(dry_density))


def dry_density(density: float, moisture: float) -> float:
    """kg of dry matter per m³, of a bed that weighs `density` kg/m³ at `moisture` % (definition)."""
    if not 0 <= moisture < 100:
        raise BadValue(f"moisture runs from 0 to below 100 %, not {moisture} %")
    return _density(density) * (1 - moisture / 100)


def _share(share: float) -> float:
    if not 0 <= share <= 1:
        raise BadValue(f"water fills between nothing (0) and all (1) of a bed, not {share}")
    return share


def _density(density: float) -> float:
    if not 0 < density < math.inf:
        raise BadValue(f"a bed of {density} kg/m³ cannot be")
    return density
