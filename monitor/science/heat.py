"""How bedding holds and leads heat, what walls let through, how a vessel cools, what a mat must give and what it costs.

Temperatures in °C, differences in K, lengths in m, watts, kJ, hours. Film resistances after ASHRAE, Handbook of Fundamentals,
surface conductances for non-reflecting surfaces (memory; 0.68, 0.61, 0.92, 0.17 ft² h °F/Btu seen in WAC 51-11-0526).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from monitor.errors import BadValue

MINERAL, ORGANIC, WATER, AIR = 1.92, 2.51, 4.18, 0.0012
"""MJ/m³ K of what a bed is made of (de Vries 1963, in van Wijk (ed.), Physics of Plant Environment; the sum memory, water and air
seen in Moene & van Dam 2014, Table 2.2)."""
DRY_PEAT, BY_WATER = 0.04, 0.511
"""W/m K, a line through the table's peat at 0, 0.45 and 0.90 water: 0.04, 0.27, 0.50 (de Vries 1963; derived)."""
LUMPED = 0.1
"""Biot number below which one temperature is physics (Çengel, Heat Transfer, ch. 4; seen)."""
IP_RESISTANCE = 0.17611
"""m² K/W of 1 ft² h °F/Btu (derived)."""
PER_SQUARE_FOOT = 10.7639
"""1/m² of 1/ft² (derived)."""
MARGIN = 0.8
"""A mat is to be no more than so busy in the worst case (proposal)."""
KJ_PER_WH = 3.6


class Film(StrEnum):
    """A layer of air that clings to a surface, by where the heat goes."""

    SIDE = "side"
    UP = "up"
    DOWN = "down"
    WIND = "wind"
    INSIDE = "inside"
    OUTSIDE = "outside"


FILMS = {
    Film.SIDE: 0.120,  # ASHRAE Fundamentals, still air, vertical: 8.29 W/m² K; memory, 0.68 IP seen
    Film.UP: 0.108,  # ASHRAE Fundamentals, still air, heat going up: 9.26 W/m² K; memory, 0.61 IP seen
    Film.DOWN: 0.163,  # ASHRAE Fundamentals, still air, heat going down: 6.13 W/m² K; memory, 0.92 IP seen
    Film.WIND: 0.030,  # ASHRAE Fundamentals, 6.7 m/s, any direction: 34.0 W/m² K; memory, 0.17 IP seen
    Film.INSIDE: 0.13,  # ISO 6946, Rsi, horizontal flow; seen on a glossary page
    Film.OUTSIDE: 0.04,  # ISO 6946, Rse; seen on a glossary page
}
"""m² K/W."""

LEADS = {
    "hdpe": 0.48,  # handbook value; memory
    "softwood": 0.12,  # across the grain; memory
    "plywood": 0.13,  # memory
    "eps": 0.036,  # expanded polystyrene; memory
    "xps": 0.029,  # extruded polystyrene; seen on a lecture sheet
    "felt": 0.05,  # dry; memory
}
"""W/m K."""


class Layer(NamedTuple):
    """Thickness in m, conductivity in W/m K."""

    thick: float
    leads: float


MAKES: dict[str, tuple[Layer, ...]] = {
    "tub": (Layer(0.003, LEADS["hdpe"]),),
    "bag": (Layer(0.002, LEADS["felt"]),),
    "plywood box": (Layer(0.018, LEADS["plywood"]),),
    "wooden box": (Layer(0.019, LEADS["softwood"]),),
    "foam box": (Layer(0.050, LEADS["eps"]),),
}
"""Walls of usual vessels (common practice); a damp bag loses more, by evaporation."""


def capacity(organic: float, water: float, mineral: float = 0.0) -> float:
    """MJ/m³ K of bedding by its volumes (shares of 1): de Vries' sum, the air between left in. Raises BadValue beyond a whole."""
    parts = (organic, water, mineral)
    if min(parts) < 0 or sum(parts) > 1 + 1e-9:
        raise BadValue(f"{parts} are no shares of one whole")
    return ORGANIC * organic + WATER * water + MINERAL * mineral + AIR * max(0.0, 1 - sum(parts))


def conductivity(water: float) -> float:
    """W/m K of peat-like bedding by its share of water by volume. Raises BadValue outside 0 to 1."""
    if not 0 <= water <= 1:
        raise BadValue(f"{water} is no share of water by volume")
    return DRY_PEAT + BY_WATER * water


def diffusivity(leads: float, holds: float) -> float:
    """m²/s out of W/m K and MJ/m³ K."""
    return _more(leads) / (_more(holds) * 1e6)


def reach_time(length: float, spreads: float) -> float:
    """h until warmth is felt `length` m away: L²/α, an order of size."""
    return _more(length) ** 2 / _more(spreads) / 3600


def damping_depth(spreads: float, period_h: float = 24.0) -> float:
    """m at which a swing of this period has shrunk to 1/e: √(2α/ω) (Carslaw & Jaeger, Conduction of Heat in Solids; memory)."""
    return math.sqrt(2 * _more(spreads) * period_h * 3600 / (2 * math.pi))


def resistance_si(imperial: float) -> float:
    """m² K/W of a resistance in ft² h °F/Btu."""
    return imperial * IP_RESISTANCE


def watts_per_square_metre(per_square_foot: float) -> float:
    """W/m² of W/ft², as mats are labelled in some places."""
    return per_square_foot * PER_SQUARE_FOOT


def resistance(layers: Sequence[Layer]) -> float:
    """m² K/W of layers one on the other."""
    return sum(layer.thick / _more(layer.leads) for layer in layers)


def transmittance(layers: Sequence[Layer], *films: float) -> float:
    """U in W/m² K: 1 over the sum of layers and air films. The bed touches its wall, so a bed's wall has one film only."""
    return 1 / (resistance(layers) + sum(films))


@dataclass(frozen=True, slots=True)
class Box:
    """Inner length, width and height in m."""

    length: float
    width: float
    height: float

    def __post_init__(self) -> None:
        for side in (self.length, self.width, self.height):
            _more(side)

    @property
    def sides(self) -> float:
        """m² of its four walls."""
        return 2 * (self.length + self.width) * self.height

    @property
    def floor(self) -> float:
        """m²."""
        return self.length * self.width

    @property
    def volume(self) -> float:
        """m³."""
        return self.floor * self.height


ROUNDED = (0.12, 0.11, 0.16)
"""m² K/W of the films at sides, top and bottom: ASHRAE's, rounded as they are known."""


def loss(box: Box, layers: Sequence[Layer], *, films: tuple[float, float, float] = ROUNDED) -> float:
    """UA in W/K of a vessel whose six faces all stand in the air. One on a floor or with a mat below loses less there."""
    faces = (box.sides, box.floor, box.floor)
    return sum(area * transmittance(layers, film) for area, film in zip(faces, films, strict=True))


def loss_by_make(make: str, floor: float, depth: float, *, wrapped: float = 0.0) -> float:
    """UA in W/K of a usual vessel of `floor` m² and `depth` m, half as long again as wide, `wrapped` m of foam all round.

    Raises BadValue for a make that is not in MAKES.
    """
    if make not in MAKES:
        raise BadValue(f"no walls are known of a {make!r}: {', '.join(sorted(MAKES))}")
    width = math.sqrt(_more(floor) / 1.5)
    foam = (Layer(wrapped, LEADS["xps"]),) if wrapped > 0 else ()
    return loss(Box(1.5 * width, width, depth), (*MAKES[make], *foam))


def biot(film: float, length: float, leads: float) -> float:
    """h L/k: `film` W/m² K at the surface, `length` m = volume over area, `leads` W/m K inside."""
    return _more(film) * _more(length) / _more(leads)


def is_lumped(number: float) -> bool:
    """Whether one temperature for the whole thing is physics; for a bed it hardly ever is, and τ is a fitted number."""
    return number < LUMPED


def time_constant(heat: float, loses: float) -> float:
    """τ in h of `heat` kJ/K behind `loses` W/K."""
    return _more(heat) / KJ_PER_WH / _more(loses)


def cooled(start: float, around: float, tau: float, hours: float) -> float:
    """°C after `hours`: Newton's law of cooling."""
    return around + (start - around) * math.exp(-hours / _more(tau))


def hours_to(start: float, around: float, tau: float, *, limit: float) -> float:
    """h until it passes `limit` on its way to `around`; infinite when it never does, 0 when it has."""
    if (start - limit) * (start - around) <= 0:
        return 0.0
    if (limit - around) * (start - around) <= 0:
        return math.inf
    return _more(tau) * math.log((start - around) / (limit - around))


def fitted_tau(start: float, end: float, hours: float, *, around: float) -> float:
    """τ in h of something that went from `start` to `end` in `hours`. Raises BadValue when it went the wrong way."""
    ratio = (start - around) / (end - around) if end != around else 0.0
    if not ratio > 1:
        raise BadValue(f"from {start} to {end} °C in {around} °C tells no time constant")
    return _more(hours) / math.log(ratio)


def duty(loses: float, above: float, watts: float) -> float:
    """Share of the time a mat is on to hold `above` K over the room; beyond 1 it is too small."""
    return max(0.0, _more(loses) * above / _more(watts))


def energy(share: float, watts: float, hours: float = 24.0) -> float:
    """kWh of a mat that is on for `share` of `hours`, at most all of them."""
    return min(1.0, max(0.0, share)) * watts * hours / 1000


def mat_size(
    loses: float,
    above: float,
    *,
    heat: float = 0.0,
    warm_by: float = 0.0,
    in_hours: float = 12.0,
    margin: float = MARGIN,
) -> float:
    """W a mat must give to hold `above` K, and to warm `heat` kJ/K by `warm_by` K in `in_hours` besides."""
    return (loses * above + heat * warm_by / KJ_PER_WH / _more(in_hours)) / _more(margin)


def settles(loses: float, around: float, watts: float) -> float:
    """°C at which a bed ends with its mat always on."""
    return around + watts / _more(loses)


class Cycle(NamedTuple):
    """Hours on and off of a thermostat, and its duty."""

    on: float
    off: float

    @property
    def duty(self) -> float:
        """Share of the time it is on."""
        return self.on / (self.on + self.off)


def hysteresis(loses: float, heat: float, watts: float, *, around: float, band: tuple[float, float]) -> Cycle:
    """How long a thermostat that switches on below and off above `band` °C is on and off. Infinite where it never gets there."""
    low, high = band
    tau, top = time_constant(heat, loses), settles(loses, around, watts)
    on = tau * math.log((top - low) / (top - high)) if top > high else math.inf
    off = tau * math.log((high - around) / (low - around)) if around < low else math.inf
    return Cycle(on, off)


def is_on(now: float, was_on: bool, band: tuple[float, float]) -> bool:
    """A thermostat with a dead band: between its ends it stays as it was."""
    return now < band[0] or (was_on and now <= band[1])


def interface_rise(flux: float, thick: float, leads: float) -> float:
    """K between a mat that gives `flux` W/m² upwards and what lies `thick` m above it: q L/k (Fourier)."""
    return flux * thick / _more(leads)


def foam_for(loses: float, area: float, wanted: float, *, leads: float = LEADS["xps"]) -> float:
    """m of foam round `area` m² that bring `loses` W/K down to `wanted`; 0 when it is as low already."""
    if loses <= wanted:
        return 0.0
    return _more(leads) * _more(area) * (1 / _more(wanted) - 1 / loses)


def wrapped_loss(loses: float, area: float, thick: float, *, leads: float = LEADS["xps"]) -> float:
    """W/K of what lost `loses` over `area` m², with `thick` m of foam round it."""
    return 1 / (1 / _more(loses) + thick / (_more(leads) * _more(area)))


def _more(value: float) -> float:
    if not value > 0 or math.isinf(value):
        raise BadValue(f"{value} must be more than nothing")
    return value
