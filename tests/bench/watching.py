"""Half-dead mats and open lids on the beds of the forecast bench: how many are found, and how often one is that is not there.

    sh tests/bench/run.sh watching

Two series of weather, two seeds, 12 beds, whole years, each bed's near zone alone, by the code that the daemon runs. A half-dead
mat is found within 24 h of the first hour in which it was called on, an open lid until two hours after it was shut again, where
the bed was at least 2 K warmer than its room. False is an episode from six hours after any fault on, a month of 30 days: of mats
counted over days on which they were called on. Thresholds were chosen on seeds 5 and 7. A line for people, one JSON line last.
"""

from __future__ import annotations

import json
import platform
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, fields

import numpy as np

from bench.forecast import runs
from bench.forecast.measured import stretches
from bench.forecast.methods import hours_of
from bench.forecast.ours import MOIST, known
from bench.forecast.scores import MONTH_H, episodes
from bench.forecast.seen import Handed
from monitor.bed import mats, zone
from monitor.readings import HOUR

SERIES, SEEDS = ("newark", "sandpoint"), (1, 2)
FIRST_H = runs.FIRST_DAYS * 24
FOUND_WITHIN, AFTER = 24, 6
"""h"""


@dataclass
class Count:
    """Faults, those found, false episodes, and the hours in which one could be false."""

    faults: int = 0
    found: int = 0
    false: int = 0
    hours: float = 0.0

    def __iadd__(self, other: Count) -> Count:
        for one in fields(self):
            setattr(self, one.name, getattr(self, one.name) + getattr(other, one.name))
        return self


def watched(handed: Handed) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(hours,) whether the mat is said to be weak, whether heat is said to be lost, and K above the room."""
    hours, watts = len(handed.warmth), handed.watts or None
    learned = zone.begun(0, loss=handed.loss, heat=handed.kilograms * MOIST, watts=watts)
    watch, ended = mats.Watch(), None
    weak, losing, above = np.zeros(hours, bool), np.zeros(hours, bool), np.zeros(hours)
    for number in range(hours):
        seen = hours_of(handed, number)
        now, air = known(seen.warmth[0]), known(seen.room)
        hour = zone.Hour((number + 1) * HOUR, ended, now, air, seen.duty if watts else None)
        ended, learned = now, zone.observe(learned, hour)
        watch = mats.watch(watch, learned, hour)
        weak[number], losing[number] = watch.mat_weak, watch.losing_heat
        above[number] = now - air if now is not None and air is not None else 0.0
    return weak, losing, above


def counted(job: tuple[str, int]) -> tuple[Count, Count]:
    """Mats and lids of one year-run."""
    year_run = runs.run(*job, halves=True)
    halves, lids = Count(), Count()
    for bed, handed in enumerate(year_run.probed.handed):
        weak, losing, above = watched(handed)
        of_mat, of_lid = stretches(year_run.beds.weak[bed]), stretches(year_run.beds.lid[bed])
        duty = year_run.year.duty[:, bed]
        if handed.watts:
            halves += mat_of(weak, duty, of_mat)
        lids += lid_of(losing, above, of_lid, beside=of_mat)
    return halves, lids


def mat_of(said: np.ndarray, duty: np.ndarray, faults: list[tuple[int, int]]) -> Count:
    """One that was called on for less than two hours of its fault could be missed by nobody and is not counted."""
    called, count = duty > mats.ON, Count()
    days = np.repeat(called.reshape(-1, 24).any(axis=1), 24)
    days[:FIRST_H] = False
    for begins, end in faults:
        if begins >= FIRST_H and duty[begins:end].sum() >= 2:
            first = begins + int(np.flatnonzero(called[begins:end])[0])
            count += Count(1, int(said[first : min(end, first + FOUND_WITHIN)].any()))
    free = days & ~marked(len(said), faults)
    return _with_false(count, said, free)


def lid_of(
    said: np.ndarray, above: np.ndarray, faults: list[tuple[int, int]], *, beside: list[tuple[int, int]]
) -> Count:
    """`beside` are other faults, in which nothing counts as false."""
    count, free = Count(), ~marked(len(said), [*faults, *beside])
    free[:FIRST_H] = False
    for begins, end in faults:
        if begins >= FIRST_H and above[max(0, begins - AFTER) : begins + 1].mean() >= mats.ABOVE_ROOM:
            count += Count(1, int(said[begins : end + 2].any()))
    return _with_false(count, said, free)


def marked(hours: int, faults: list[tuple[int, int]]) -> np.ndarray:
    """(hours,) during a fault and shortly after."""
    found = np.zeros(hours, bool)
    for begins, end in faults:
        found[begins : end + AFTER] = True
    return found


def _with_false(count: Count, said: np.ndarray, free: np.ndarray) -> Count:
    count += Count(false=sum(bool(free[begins]) for begins, _ in episodes(said, said)), hours=float(free.sum()))
    return count


def figures() -> dict[str, float]:
    """All of it."""
    halves, lids = Count(), Count()
    with ProcessPoolExecutor(2) as pool:
        for half, lid in pool.map(counted, [(series, seed) for series in SERIES for seed in SEEDS]):
            halves += half
            lids += lid
    return {
        "half_mat_found": round(halves.found / halves.faults, 3),
        "half_mat_false": round(halves.false * MONTH_H / halves.hours, 3),
        "lid_found": round(lids.found / lids.faults, 3),
        "lid_false": round(lids.false * MONTH_H / lids.hours, 3),
        "half_mats": halves.faults,
        "lids": lids.faults,
    }


def main() -> None:
    found = figures()
    print(", ".join(f"{name} {value}" for name, value in found.items()))
    print(json.dumps({"bench": "watching", "machine": platform.machine(), **found}))


if __name__ == "__main__":
    main()
