"""How well it is told when a bed will be too dry, on simulated beds, beside a line through the probe's last four days.

The beds differ from what is learned of them: two layers, the upper drying ever slower, air that changes from day to day, a lid
left open, water that comes with the feed, a keeper who waters between 70 and 74 %. A probe has 2 points of noise and, in a
second run, drifts by up to 3. Scored once a day where the bed is in truth at most ten days from 72 %.

Besides, on the same beds, whether a probe that moves by 10 points within three weeks is found by what its own bed loses
(`bed.strayed`), within six weeks of its beginning, and how often a steady one is doubted. A table for people, one JSON line last.
"""

from __future__ import annotations

import json
import math
import platform
import random
import statistics
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import product

from monitor.advice.dryness import AWAY
from monitor.bed import drying
from monitor.bed.drying import Drying
from monitor.bed.strayed import strayed
from monitor.readings import DAY, HOUR
from monitor.science.water import dry_basis, wet_basis

BEDS, DAYS, FIRST, SEEDS = 30, 300, 60, (1, 2)
LIMIT, TARGET = 72.0, 78.0
AHEAD, FURTHEST = 10, 20.0
"""Days: scored when the truth lies at most so far ahead; every method's answer is cut at the other alike."""


@dataclass
class Bed:
    """Two layers in X, kg of water per kg of dry matter, an hour a step."""

    chance: random.Random
    drift: float
    x: list[float] = field(default_factory=lambda: [3.4, 3.4])
    vent: float = 1.0
    lid: float = 0.0
    fed: float = 0.0

    def __post_init__(self) -> None:
        between = self.chance.uniform
        self.top, self.seen_top = between(0.2, 0.4), between(0.3, 0.5)
        self.loss, self.falls_below, self.exchange = between(0.03, 0.10), between(2.6, 3.4), between(0.15, 0.5)
        self.feeds_every, self.feed = between(3, 5), between(0.02, 0.06)
        self.waters_at, self.to, self.phase = between(70, 74), between(77, 80), between(0, 2 * math.pi)
        self.drift *= between(-1, 1)

    @property
    def moisture(self) -> float:
        return wet_basis(self.top * self.x[0] + (1 - self.top) * self.x[1])

    def hour(self, hour: int) -> bool:
        """Live through it; whether it was watered."""
        if hour % 24 == 0:
            self.vent = min(2.5, max(0.3, self.chance.lognormvariate(0, 0.35)))
            if self.lid <= 0 and self.chance.random() < 0.02:
                self.lid = self.chance.uniform(6, 24)
        open_ = 4.0 if self.lid > 0 else 1.0
        self.lid -= 1
        slower = min(1.0, max(0.0, (self.x[0] - 0.6) / (self.falls_below - 0.6)))
        self.x[0] -= self.loss * self.vent * open_ * slower / 24 / self.top
        moved = self.exchange * (self.x[1] - self.x[0]) / 24
        self.x[0] += moved * (1 - self.top)
        self.x[1] -= moved * self.top
        if hour >= self.fed:
            self.x[0] += self.feed * self.chance.uniform(0.5, 1.5) / self.top
            self.fed = hour + 24 * self.feeds_every * self.chance.uniform(0.7, 1.3)
        if hour % 24 != 18 or self.moisture >= self.waters_at:
            return False
        missing = dry_basis(self.to) - dry_basis(self.moisture)
        self.x[0] += 0.7 * missing / self.top
        self.x[1] += 0.3 * missing / (1 - self.top)
        return True

    def probe(self, hour: int, noise: float) -> float:
        seen = wet_basis(self.seen_top * self.x[0] + (1 - self.seen_top) * self.x[1])
        slow = self.drift * math.sin(self.phase + hour / 24 / 40)
        return min(99.0, max(5.0, seen + slow + self.chance.gauss(0, noise)))


@dataclass
class Scores:
    ours: list[float] = field(default_factory=list)
    trend: list[float] = field(default_factory=list)
    dose: list[float] = field(default_factory=list)
    inside: list[bool] = field(default_factory=list)
    between: list[float] = field(default_factory=list)


def dries_in(truth: list[float], watered: list[bool], hour: int) -> float | None:
    """Days until the bed is in truth at the limit, when that is near and nobody waters before."""
    if truth[hour] <= LIMIT:
        return None
    for ahead in range(hour, min(len(truth), hour + 24 * AHEAD)):
        if truth[ahead] <= LIMIT:
            return (ahead - hour) / 24
        if watered[ahead]:
            return None
    return None


def trend(history: list[tuple[float, float]], day: float) -> float:
    """Days by a straight line through the medians of the last four days."""
    last = [(at, x) for at, x in history if at > day - 4]
    if len(last) < 4:
        return FURTHEST
    middle, mean = statistics.fmean(at for at, _ in last), statistics.fmean(x for _, x in last)
    slope = sum((at - middle) * (x - mean) for at, x in last) / sum((at - middle) ** 2 for at, _ in last)
    left = last[-1][1] - dry_basis(LIMIT)
    return max(0.0, left / -slope) if slope < -1e-6 else FURTHEST


def followed(
    bed: Bed, noise: float
) -> Iterator[tuple[int, float, Drying, list[tuple[float, float]], list[bool], list[float]]]:
    """Every six hours what is known by then: the median, what was learned, the medians since the last water."""
    truth: list[float] = []
    watered: list[bool] = []
    values: list[float] = []
    for hour in range(24 * DAYS):
        watered.append(bed.hour(hour))
        truth.append(bed.moisture)
        values.append(bed.probe(hour, noise))
    state, history = Drying(), []
    for hour in range(24, 24 * DAYS, 6):
        median = statistics.median(values[hour - 24 : hour])
        for past in range(hour - 6, hour):
            if watered[past]:
                state, history = drying.watered(state, past * HOUR), []
        state = drying.seen(state, hour * HOUR, median)
        history.append((hour / 24, dry_basis(median)))
        yield hour, median, state, history, watered, truth


def score(seed: int, drift: float, noise: float = 2.0) -> Scores:
    scores = Scores()
    for number in range(BEDS):
        bed, last = Bed(random.Random(1000 * seed + number), drift), None
        for hour, _, state, history, watered, truth in followed(bed, noise):
            for past in range(hour - 6, hour):
                if watered[past]:
                    if last is not None:
                        scores.between.append((past - last) / 24)
                    last = past
            there = dries_in(truth, watered, hour) if hour % 24 == 0 and hour >= 24 * FIRST else None
            told = drying.until(state, LIMIT)
            if there is None or told is None:
                continue
            scores.ours.append(abs(min(told.likely, FURTHEST) - there))
            scores.trend.append(abs(min(trend(history, hour / 24), FURTHEST) - there))
            scores.inside.append(told.early <= there <= told.late)
            needed = dry_basis(TARGET) - dry_basis(truth[hour])
            if needed > 0.1:
                scores.dose.append(abs(dry_basis(TARGET) - drying.level(state) - needed) / needed)
    return scores


STRAYS, STRAYS_IN, BEGINS, WITHIN = 10.0, 21, 150, 42
"""Points, days in which it moves by so much, the day on which it begins, and days within which it is to be found."""


def away(bed: Bed, moves: Callable[[float], float], first: int, last: int) -> Iterator[tuple[int, float]]:
    """Of each day, the points by which its probe stands beside what its bed loses."""
    watered, values = [], []
    for hour in range(24 * last):
        if bed.hour(hour):
            watered.append(hour * HOUR)
        values.append(min(99.0, max(5.0, bed.probe(hour, 2.0) + moves(hour / 24))))
    medians = [(hour * HOUR, statistics.median(values[hour - 24 : hour])) for hour in range(24, 24 * last, 6)]
    for day in range(first, last):
        known = [one for one in medians if (day - 120) * DAY < one[0] <= day * DAY]
        found = strayed(known, [at for at in watered if at <= day * DAY])
        if found is not None:
            yield day, found.points


def strays() -> dict[str, float]:
    """`found` of beds whose probe moves, and `false` ones of a steady probe a bed and year."""
    found: dict[str, list[float | None]] = {"up": [], "down": []}
    false, days = 0, 0
    for seed, number in product(SEEDS, range(BEDS)):
        for way, points in (("up", STRAYS), ("down", -STRAYS)):
            bed = Bed(random.Random(1000 * seed + number), 0.0)
            told = away(
                bed,
                lambda day, p=points: p * min(1.0, max(0.0, (day - BEGINS) / STRAYS_IN)),
                BEGINS,
                BEGINS + WITHIN,
            )
            found[way].append(next((day - BEGINS for day, by in told if by * points > 0 and abs(by) > AWAY), None))
        over = 0
        for day, by in away(Bed(random.Random(1000 * seed + number), 0.0), lambda _: 0.0, FIRST, DAYS):
            days += 1
            if abs(by) > AWAY and day >= over:
                false, over = false + 1, day + STRAYS_IN
    known = [day for one in found.values() for day in one if day is not None]
    share = {way: round(sum(day is not None for day in one) / len(one), 3) for way, one in found.items()}
    return {
        "found_up": share["up"],
        "found_down": share["down"],
        "after_days": round(statistics.median(known), 1),
        "false_a_year": round(false / days * 365, 2),
    }


def figures(drift: float, noise: float = 2.0) -> dict[str, float]:
    runs = [score(seed, drift, noise) for seed in SEEDS]
    every = {
        name: [v for run in runs for v in getattr(run, name)]
        for name in ("ours", "trend", "dose", "inside", "between")
    }
    ours, line = statistics.fmean(every["ours"]), statistics.fmean(every["trend"])
    return {
        "days_off": round(ours, 2),
        "trend_off": round(line, 2),
        "ratio": round(ours / line, 3),
        "dose_error": round(statistics.median(every["dose"]), 3),
        "inside": round(statistics.fmean(every["inside"]), 3),
        "between": round(statistics.median(every["between"]), 1),
        "cases": len(every["ours"]),
    }


def main() -> None:
    steady, drifting, beside = figures(0.0), figures(3.0), strays()
    print(f"{BEDS} beds, seeds {SEEDS}, {DAYS} days, {platform.machine()}, Python {platform.python_version()}")
    print(f"{'':28}{'steady probe':>14}{'drift to 3':>14}")
    for name, label in (
        ("days_off", "days off, ours"),
        ("trend_off", "days off, four days' trend"),
        ("ratio", "ours to trend"),
        ("dose_error", "dose, median error"),
        ("inside", "in the 10–90 % told"),
        ("between", "days between waterings"),
    ):
        print(f"{label:28}{steady[name]:>14}{drifting[name]:>14}")
    print(
        f"a probe that moves by {STRAYS:g} points in {STRAYS_IN} days, found by what its bed loses within {WITHIN}:"
    )
    print(", ".join(f"{name} {value}" for name, value in beside.items()))
    print(
        json.dumps(
            {
                "bench": "drying",
                "dry_ratio_to_trend": steady["ratio"],
                "dose_error": steady["dose_error"],
                "inside": steady["inside"],
                "drifting": drifting,
                "strays": beside,
            }
        )
    )


if __name__ == "__main__":
    main()
