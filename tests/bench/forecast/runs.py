"""The runs that are scored: which weather, which seeds, which beds; what every method shares when it is scored."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from bench.forecast import rooms, seen, truth
from bench.forecast.scores import Zone
from bench.forecast.seen import Probed

FIRST_DAYS = 21
"""Not scored: the first three weeks."""


@dataclass(frozen=True)
class Run:
    """One series of weather and one seed: N beds of two zones, a year."""

    series: str
    seed: int
    beds: truth.Beds
    probed: Probed
    year: truth.Year


def run(
    series: str,
    seed: int,
    *,
    beds: int = 12,
    hours: int = 8760,
    wide: bool = False,
    outdoor: float | None = None,
    shuffle: bool = False,
    halves: bool = False,
) -> Run:
    """The same seed gives the same beds, with or without an outdoor forecast. With `halves` mats that would die die half."""
    chance = np.random.default_rng([seed, sorted(rooms.SERIES).index(series), int(wide)])
    outside = rooms.outdoors(series, hours)
    if shuffle:
        outside = rooms.shuffled(outside, seed)
    warmth = truth.place(outside, beds, chance)
    made = (truth.wide if wide else truth.made)(chance, beds, hours)
    if halves:
        made = replace(made, dead=np.zeros_like(made.dead), weak=made.dead)
    year = truth.live(made, warmth, np.repeat(outside[:, None], beds, axis=1))
    noise, outages = (0.3, 40.0) if wide else (0.1, 10.0)
    return Run(series, seed, made, seen.probed(year, chance, noise=noise, outages=outages, outdoor=outdoor), year)


def zones(one: Run, *, begins_h: int = FIRST_DAYS * 24, ends_h: int | None = None) -> list[Zone]:
    """Two a bed, near and far, in the order of beds."""
    found = []
    hours = len(one.probed.season)
    counted = one.probed.season & (np.arange(hours) >= begins_h) & (np.arange(hours) < (ends_h or hours))
    for bed in range(len(one.probed.handed)):
        duty = one.year.duty[:, bed]
        helped = (one.beds.mode[bed] == "keeper") & (np.diff(duty, prepend=duty[0]) > 0.5)
        fault = one.beds.lid[bed] | one.beds.dead[bed]
        for side in range(2):
            found.append(
                Zone(one.probed.held[:, side, bed], float(one.probed.limits[side, bed]), fault, helped, counted)
            )
    return found
