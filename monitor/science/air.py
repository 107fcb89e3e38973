"""Air and the water in it: how much it holds, where it condenses, what dries a bed and what drying costs in heat.

Temperatures in °C, pressures in Pa, relative humidity in %. One formula for saturation everywhere, because formulas
differ by up to 0.3 % and a humidity chip by 2 to 3 points: the Magnus form of Alduchov & Eskridge 1996, J. Appl. Meteor.
35:601–609 (abstract seen, constants memory), which can be turned round. Over water throughout, supercooled below 0 °C.
"""

from __future__ import annotations

import math

from monitor.errors import BadValue

MAGNUS_PA, MAGNUS_A, MAGNUS_B = 610.94, 17.625, 243.04
"""Pa, -, °C: e = 610.94 exp(17.625 t / (243.04 + t)), −40 to 50 °C (Alduchov & Eskridge 1996; memory)."""
COLDEST, HOTTEST = -40.0, 60.0
"""°C that are looked up; the fit was made to 50 °C and is 0.1 % off at 60 °C against Hyland & Wexler (derived)."""
SEA_LEVEL = 101_325.0
"""Pa, standard atmosphere at sea level (ICAO; memory)."""
VAPOUR_GAS = 461.5
"""J/kg K, gas constant of water vapour (8.314 J/mol K over 18.015 g/mol; derived)."""
DAY_SECONDS = 86_400.0
"""Seconds of a day (definition)."""


def saturation(celsius: float) -> float:
    """Pa of water vapour that air at `celsius` holds at most. Raises BadValue outside −40 to 60 °C."""
    if not COLDEST <= celsius <= HOTTEST:
        raise BadValue(f"saturation is known from {COLDEST:g} to {HOTTEST:g} °C, not at {celsius} °C")
    return MAGNUS_PA * math.exp(MAGNUS_A * celsius / (MAGNUS_B + celsius))


def vapour(celsius: float, humidity: float) -> float:
    """Pa of water vapour in air at `celsius` and `humidity` %."""
    return saturation(celsius) * _humidity(humidity) / 100


def dew_point(celsius: float, humidity: float) -> float | None:
    """°C at which this air begins to drip: the same formula turned round. None for air without water (0 %)."""
    if _humidity(humidity) == 0:
        return None
    gamma = math.log(vapour(celsius, humidity) / MAGNUS_PA)
    return MAGNUS_B * gamma / (MAGNUS_A - gamma)


def deficit(celsius: float, humidity: float) -> float:
    """Pa that this air could still take up."""
    return saturation(celsius) - vapour(celsius, humidity)


def bed_deficit(bed: float, air: float, humidity: float) -> float:
    """Pa that draw water out of a bed at `bed` °C into a room at `air` °C and `humidity` %; below 0 it condenses.

    Air among moist bedding is near saturation at the bed's own temperature, so what dries it is e_s(bed) − e(room),
    not the room's own deficit (vapour balance at a wet surface, Incropera & DeWitt, Heat and Mass Transfer; memory).
    """
    return saturation(bed) - vapour(air, humidity)


def water_content(celsius: float, humidity: float) -> float:
    """g of water in a m³ of this air: e / (R_v T), the gas law."""
    return 1000 * vapour(celsius, humidity) / (VAPOUR_GAS * (celsius + 273.15))


def humidity_ratio(celsius: float, humidity: float, *, pressure: float = SEA_LEVEL) -> float:
    """kg of water a kg of dry air: 0.621945 e / (p − e) (ASHRAE Handbook Fundamentals 2017, ch. 1; seen in psychrolib)."""
    held = vapour(celsius, humidity)
    if pressure <= held:
        raise BadValue(f"air at {pressure} Pa cannot hold {held:.0f} Pa of vapour")
    return 0.621945 * held / (pressure - held)


def pressure_at(height: float) -> float:
    """Pa at so many metres above the sea, standard atmosphere: 101325 (1 − 2.25577e-5 h)^5.2559.

    ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 3 (as in psychrolib; seen). Raises BadValue beyond −5000 to 11000 m.
    """
    if not -5_000 <= height <= 11_000:
        raise BadValue(f"nobody keeps worms {height} m above the sea")
    return float(SEA_LEVEL * (1 - 2.25577e-5 * height) ** 5.2559)


def latent_heat(celsius: float) -> float:
    """kJ that a kg of water takes with it when it dries at `celsius`: 2501 − 2.361 t.

    Harrison 1963, in Allen et al. 1998, FAO-56, annex 3 (memory).
    """
    if not 0 <= celsius <= HOTTEST:
        raise BadValue(f"water does not dry out of a bed at {celsius} °C")
    return 2501 - 2.361 * celsius


def drying_watts(litres_a_day: float, celsius: float = 20.0) -> float:
    """W that a bed loses by drying so many litres a day."""
    if not 0 <= litres_a_day < math.inf:
        raise BadValue(f"a bed cannot dry {litres_a_day} L a day")
    return litres_a_day * latent_heat(celsius) * 1000 / DAY_SECONDS


def drying(
    bed: float, air: float, humidity: float, *, area: float, cover: float, film: float = 3.0
) -> tuple[float, float]:
    """(lower, upper) litres a day from a wet surface of `area` m² under a cover that lets `cover` (0…1) of it through.

    Lower: heat and mass transfer alike, h_m = h_c / (ρ c_p), Lewis factor 1, with `film` = h_c in W/m²K; upper: twice that,
    as an open pool's rule has it (Carrier 1918 gives about twice; both memory). So it is a band by a factor of two, to begin
    with; a bed's own waterings say better. Never below 0: what condenses is not rain.
    """
    if not 0 <= cover <= 1:
        raise BadValue(f"a cover lets between nothing (0) and all (1) through, not {cover}")
    if not (0 < area < math.inf and 0 < film < math.inf):
        raise BadValue(f"{area} m² and {film} W/m²K are no surface and no film")
    if not (math.isfinite(bed) and math.isfinite(air)):
        raise BadValue(f"{bed} and {air} °C are no temperatures")
    transfer = film / (1.2 * 1005)  # m/s; air at 20 °C: 1.2 kg/m³, 1005 J/kg K (memory)
    pulled = water_content(bed, 100) - water_content(air, humidity)
    rate = max(0.0, pulled / 1000 * transfer * DAY_SECONDS * area * cover)
    return rate, 2 * rate


def _humidity(humidity: float) -> float:
    if not 0 <= humidity <= 100:
        raise BadValue(f"relative humidity runs from 0 to 100 %, not {humidity} %")
    return humidity
