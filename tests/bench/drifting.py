"""Thermometers without a neighbour that drift, on the beds of the forecast bench: how many are found by their bed's own air.

    sh tests/bench/run.sh drifting

Two series of weather, two seeds, 12 beds, whole years, each bed's near zone and its room, by the code that `vermistat care` runs.
A probe that moves by 5 K within ten days, from day 120, 180 or 230 on, is found within five weeks of its beginning, where four
weeks of that are known at all. False is an episode of a steady one, of 21 days, a bed and year of known days. What is too far was
chosen on seeds 11 and 12. A line for people, one JSON line last.
"""

from __future__ import annotations

import json
import platform
import statistics
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor

import numpy as np

from bench.forecast import runs
from bench.forecast.methods import hours_of
from bench.forecast.ours import known
from bench.forecast.seen import Handed
from monitor.bed.shifted import DAY, LOOKS_BACK, QUARTER, Quarter, Shifted, shifted

SERIES, SEEDS, BEGINS = ("newark", "sandpoint"), (1, 2), (120, 180, 230)
MOVES, MOVES_IN = 5.0, 10
"""K, and the days in which it moves by so much."""
FOUND_WITHIN, KNOWN = 35, 28
"""Days."""
EPISODE = 21
A_DAY = DAY // QUARTER


def quarters_of(handed: Handed, duty: np.ndarray) -> list[Quarter]:
    """A year of a bed's near zone and its room, six hours each."""
    hours = [hours_of(handed, number) for number in range(len(handed.warmth))]
    return [
        Quarter(
            (n + 1) * QUARTER,
            _mean([h.warmth[0] for h in six]),
            _mean([h.room for h in six]),
            not duty[at : at + 6].any(),
        )
        for n, at in enumerate(range(0, len(hours) - 5, 6))
        if (six := hours[at : at + 6])
    ]


def _mean(values: list[float | None]) -> float | None:
    heard = [value for one in values if (value := known(one)) is not None]
    return statistics.fmean(heard) if heard else None


def told(quarters: list[Quarter], first: int, last: int, moves: float = 0.0) -> Iterator[tuple[int, Shifted]]:
    """(day, how it stands) of each day on which that is known, of a probe that moves by `moves` from the first on."""
    for day in range(first, last):
        seen = [
            one
            if one.bed is None
            else one._replace(bed=one.bed + moves * min(1.0, max(0.0, (one.at / DAY - first) / MOVES_IN)))
            for one in quarters[max(0, A_DAY * (day - LOOKS_BACK)) : A_DAY * day]
        ]
        stands = shifted(seen)
        if stands is not None:
            yield day, stands


def counted(job: tuple[str, int]) -> tuple[list[int | None], int, int]:
    """After how many days each drift was found, false episodes, and known days of steady ones."""
    year_run = runs.run(*job)
    found: list[int | None] = []
    false, days = 0, 0
    for bed, handed in enumerate(year_run.probed.handed):
        quarters = quarters_of(handed, year_run.year.duty[:, bed])
        steady, over = dict(told(quarters, runs.FIRST_DAYS, 365)), 0
        days += len(steady)
        for day, stands in steady.items():
            if stands.told and day >= over:
                false, over = false + 1, day + EPISODE
        for first in BEGINS:
            if all(day in steady for day in range(first, first + KNOWN)):
                for moves in (MOVES, -MOVES):
                    drifts = told(quarters, first, first + FOUND_WITHIN, moves)
                    found.append(next((d - first for d, s in drifts if s.told and s.kelvins * moves > 0), None))
    return found, false, days


def figures() -> dict[str, float]:
    """All of it."""
    found: list[int | None] = []
    false, days = 0, 0
    with ProcessPoolExecutor(2) as pool:
        for one in pool.map(counted, [(series, seed) for series in SERIES for seed in SEEDS]):
            found, false, days = found + one[0], false + one[1], days + one[2]
    after = [day for day in found if day is not None]
    return {
        "lone_found": round(len(after) / len(found), 3),
        "lone_after_days": statistics.median(after),
        "lone_false_a_year": round(false / days * 365, 2),
        "lone_drifts": len(found),
    }


def main() -> None:
    found = figures()
    print(", ".join(f"{name} {value}" for name, value in found.items()))
    print(json.dumps({"bench": "drifting", "machine": platform.machine(), **found}))


if __name__ == "__main__":
    main()
