"""How the product is asked for printed values of heat: bedding, walls, cooling, mats."""

from __future__ import annotations

import math

from monitor.science import heat
from monitor.science.heat import Box, Layer


def _finite(value):
    return "never" if math.isinf(value) else value


def u_value(*, layers, films):
    return heat.transmittance([Layer(*layer) for layer in layers], *films)


def bin_loss(*, box, layers):
    return heat.loss(Box(*box), [Layer(*layer) for layer in layers])


def hours_to_limit(*, start, around, tau, limit):
    return _finite(heat.hours_to(start, around, tau, limit=limit))


def thermostat(*, loses, holds, watts, around, band):
    cycle = heat.hysteresis(loses, holds, watts, around=around, band=tuple(band))
    return [_finite(60 * cycle.on), _finite(60 * cycle.off), cycle.duty]


def warm_up(*, start, end, around, loses, holds, watts):
    """Hours of a mat that is on; `never` where it ends below."""
    top = heat.settles(loses, around, watts)
    return _finite(heat.hours_to(start, top, heat.time_constant(holds, loses), limit=end))


def sphere_biot(*, diameter, film, leads):
    return heat.biot(film, diameter / 6, leads)


def sphere_tau_s(*, diameter, film, density, specific):
    """Seconds: a sphere of 1 m² of surface has diameter / 6 m³."""
    return 3600 * heat.time_constant(density * specific / 1000 * diameter / 6, film)


def sphere_seconds(*, diameter, film, density, specific, start, around, limit):
    tau = sphere_tau_s(diameter=diameter, film=film, density=density, specific=specific)
    return tau * heat.hours_to(start, around, 1.0, limit=limit)


def day_of_mat(*, loses, above, watts, price):
    share = heat.duty(loses, above, watts)
    kwh = heat.energy(share, watts)
    return [share, kwh, kwh * price]


HEAT = {
    "de Vries capacity": heat.capacity,
    "conductivity of bedding": heat.conductivity,
    "film of air": lambda film: heat.FILMS[heat.Film(film)],
    "film of air, W/m2K": lambda film: 1 / heat.FILMS[heat.Film(film)],
    "resistance in SI": heat.resistance_si,
    "wall": u_value,
    "loss of a bin": bin_loss,
    "biot": heat.biot,
    "is lumped": heat.is_lumped,
    "biot of a sphere": sphere_biot,
    "time constant of a sphere, s": sphere_tau_s,
    "seconds of a sphere": sphere_seconds,
    "time constant": heat.time_constant,
    "cooled": heat.cooled,
    "fitted time constant": heat.fitted_tau,
    "hours to limit": hours_to_limit,
    "day of a mat": day_of_mat,
    "mat size": heat.mat_size,
    "W/m2 of W/ft2": heat.watts_per_square_metre,
    "thermostat": thermostat,
    "thermostat on": lambda now, was_on, band: heat.is_on(now, was_on, tuple(band)),
    "interface rise": heat.interface_rise,
    "warm up by mat": warm_up,
    "diffusivity, 1e-7 m2/s": lambda leads, holds: 1e7 * heat.diffusivity(leads, holds),
    "hours through bedding": heat.reach_time,
    "damping depth, cm": lambda spreads: 100 * heat.damping_depth(spreads),
    "conductivity of a wall": lambda what: heat.LEADS[what],
}
