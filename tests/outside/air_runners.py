"""How the product is asked about air, about wet bedding in an electric field, and about clocks that run with warmth."""

from __future__ import annotations

from monitor.science import air, clocks, dielectric
from monitor.science.dielectric import Medium

AIR = {
    "saturation vapour pressure": air.saturation,
    "mean saturation vapour pressure": lambda *, celsius: sum(map(air.saturation, celsius)) / len(celsius),
    "humidity ratio": air.humidity_ratio,
    "pressure at height": air.pressure_at,
    "latent heat": air.latent_heat,
    "dew point": air.dew_point,
    "water in air": air.water_content,
    "bed deficit": air.bed_deficit,
    "water share": lambda *, permittivity, medium: dielectric.water_share(permittivity, Medium(medium)),
    "soil permittivity": dielectric.soil_permittivity,
    "water permittivity": dielectric.water_permittivity,
    "share of moisture": dielectric.share_of_moisture,
    "moisture of share": dielectric.moisture_of_share,
    "development line": lambda *, points: list(clocks.line_through(points)),
    "q10": clocks.q10,
    "degree days": clocks.degree_days,
}
