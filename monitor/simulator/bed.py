"""Beds as lumps of bedding that hold heat, lose it through their walls, and dry. Pure: no clock, no chance.

A worm bed is too thick for one temperature (Biot number about 1 in a bare tub), so a bed is two or three
lumps in a row, each well mixed, joined by what conducts between them. Temperatures in °C, heat in W, J/K
and W/K, masses in kg, pressures in kPa, time in s.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

STILL_AIR = 0.120
"""m²K/W, outer film of a vertical surface: ASHRAE Handbook—Fundamentals, surface conductances [memory]."""

LATENT = 2.45e6
"""J/kg at 20 °C: FAO-56, Allen et al. 1998 [memory]."""

DRIES = 1.58 / 86_400
"""kg/m²s per kPa of bare wet surface in still air (h_c 3 W/m²K, Lewis factor 1) [derived]; good to a factor 2."""

LONGEST_STEP = 60.0

Vector = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Air:
    """The air of a place: °C and per cent of relative humidity."""

    temperature: float
    humidity: float = 70.0

    @property
    def vapour(self) -> float:
        """Its vapour pressure in kPa."""
        return self.humidity / 100 * saturation(self.temperature)


@dataclass(frozen=True, slots=True)
class Lump:
    """Well-mixed bedding: J/K it holds, W/K it loses to the air, W it makes from its feed."""

    holds: float
    loses: float
    makes: float = 0.0


@dataclass(frozen=True, slots=True)
class Mat:
    """A heating mat: watts and how they spread over the lumps. With `thermostat` (on below, off above) it is
    switched by the temperature of lump `feels`, otherwise by a hand.
    """

    watts: float
    spread: Vector
    thermostat: tuple[float, float] | None = None
    feels: int = 0


@dataclass(frozen=True, slots=True)
class Bed:
    """Lumps in a row; `joints` are the W/K between neighbours. `surface` in m² dries as far as `cover` lets it
    (1 open, 0.1–0.3 a loose sheet [proposal]); `dry` is the dry matter in kg.
    """

    lumps: tuple[Lump, ...]
    joints: Vector
    dry: float
    surface: float = 0.0
    cover: float = 1.0
    mat: Mat | None = None


@dataclass(frozen=True, slots=True)
class State:
    """How a bed is: each lump's temperature, the water in it, and whether its mat is on."""

    temperatures: Vector
    water: float
    mat_on: bool = False


def saturation(celsius: float) -> float:
    """Saturation vapour pressure over water in kPa, Magnus form: Alduchov & Eskridge 1996 [memory constants]."""
    return 0.61094 * math.exp(17.625 * celsius / (243.04 + celsius))


def heat_capacity(mass: float, moisture: float) -> float:
    """J/K of wet bedding, moisture as a wet-basis fraction: water 4186, dry matter 1300 J/kgK [memory]."""
    return mass * (moisture * 4186 + (1 - moisture) * 1300)


def transmittance(*layers: tuple[float, float], film: float = STILL_AIR) -> float:
    """U in W/m²K of a wall of (thickness in m, conductivity in W/mK) with one outer film: the bed touches it."""
    return 1 / (film + sum(thickness / conductivity for thickness, conductivity in layers))


def moisture(bed: Bed, state: State) -> float:
    """Wet-basis moisture in per cent."""
    return 100 * state.water / (state.water + bed.dry)


def drying(bed: Bed, state: State, air: Air) -> float:
    """kg/s that evaporate: the bed's own air is saturated, so the room's deficit alone does not say it."""
    warmth = sum(state.temperatures) / len(state.temperatures)
    return max(0.0, DRIES * bed.cover * bed.surface * (saturation(warmth) - air.vapour))


def heating(bed: Bed, state: State) -> Vector:
    """W that the mat puts into each lump now."""
    if bed.mat is None or not state.mat_on:
        return tuple(0.0 for _ in bed.lumps)
    return tuple(bed.mat.watts * share for share in bed.mat.spread)


def switched(bed: Bed, state: State) -> State:
    """The state after the mat's thermostat has looked; inside its band nothing changes."""
    if bed.mat is None or bed.mat.thermostat is None:
        return state
    low, high = bed.mat.thermostat
    felt = state.temperatures[bed.mat.feels]
    return replace(state, mat_on=felt < low or (state.mat_on and felt <= high))


def step(bed: Bed, state: State, air: Air, seconds: float, *, longest: float = LONGEST_STEP) -> State:
    """The bed after `seconds` in air that stays as it is. The thermostat looks at every step of at most `longest` s."""
    steps = max(1, math.ceil(seconds / longest))
    for _ in range(steps):
        state = _one_step(bed, switched(bed, state), air, seconds / steps)
    return state


def _one_step(bed: Bed, state: State, air: Air, seconds: float) -> State:
    lost = min(state.water, drying(bed, state, air) * seconds)
    cooling = lost * LATENT / seconds / len(bed.lumps)
    gains = tuple(w + lump.makes - cooling for w, lump in zip(heating(bed, state), bed.lumps, strict=True))
    warmed = _runge_kutta(lambda t: _slopes(bed, t, gains, air.temperature), state.temperatures, seconds)
    return replace(state, temperatures=warmed, water=state.water - lost)


def _slopes(bed: Bed, temperatures: Vector, gains: Vector, air: float) -> Vector:
    """K/s of each lump: its gains, its walls, its neighbours."""
    flows = [gain - lump.loses * (t - air) for gain, lump, t in zip(gains, bed.lumps, temperatures, strict=True)]
    for i, joint in enumerate(bed.joints):
        through = joint * (temperatures[i] - temperatures[i + 1])
        flows[i] -= through
        flows[i + 1] += through
    return tuple(flow / lump.holds for flow, lump in zip(flows, bed.lumps, strict=True))


def _runge_kutta(slopes: Callable[[Vector], Vector], at: Vector, seconds: float) -> Vector:
    """One classical fourth-order step."""

    def ahead(by: Vector, share: float) -> Vector:
        return tuple(t + k * seconds * share for t, k in zip(at, by, strict=True))

    k1 = slopes(at)
    k2 = slopes(ahead(k1, 0.5))
    k3 = slopes(ahead(k2, 0.5))
    k4 = slopes(ahead(k3, 1.0))
    return tuple(
        t + seconds / 6 * (a + 2 * b + 2 * c + d) for t, a, b, c, d in zip(at, k1, k2, k3, k4, strict=True)
    )
