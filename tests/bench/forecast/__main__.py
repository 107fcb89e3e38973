"""How well a cold night is told before it comes, on simulated beds in real weather, beside what a script would do.

`sh tests/bench/run.sh forecast` takes some twenty minutes of CPU; VERMISTAT_QUICK=1 makes one or two of it, VERMISTAT_JOBS says
on how many cores (2). With VERMISTAT_KEPT=FOLDER each finished run is kept there, and one that was stopped goes on where it was;
what other code or other settings have left there is not taken. A table for people, one JSON line last.
"""

from __future__ import annotations

import json
import os
import platform
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

import numpy as np

from bench.forecast import closed, kept, measured, ours, rooms, runs
from bench.forecast.methods import Issues, issued
from bench.forecast.runs import FIRST_DAYS, Run
from bench.forecast.scores import MONTH_H, Told, Zone

QUICK = os.environ.get("VERMISTAT_QUICK") == "1"
SERIES = tuple(rooms.SERIES)[:1] if QUICK else tuple(rooms.SERIES)
SEEDS = (1,) if QUICK else (1, 2)
JOBS = int(os.environ.get("VERMISTAT_JOBS", "2"))
BEDS = 4 if QUICK else 12
BESIDE = 3 if QUICK else 6
"""Beds of the runs beside it: with an outdoor forecast, in wide vessels, and with a keeper who acts."""
HOURS = 24 * (90 if QUICK else 365)
OUTDOOR_ERROR = 1.0
"""K of an outdoor forecast that a keeper gives."""
RATE = 0.5
"""False alarms a zone and 30 days in season."""


@dataclass(frozen=True)
class Part:
    """One run and all that was said of it."""

    run: Run
    issues: tuple[Issues, ...]


def lived(job: tuple[str, int, bool, float | None]) -> Part:
    return kept.once(("lived", job, BEDS, BESIDE, HOURS), lambda: _lived(job))


def acted() -> dict[str, dict[str, float]]:
    return kept.once(
        ("acted", SERIES[0], BESIDE, HOURS),
        lambda: closed.compared(SERIES[0], 1, ours.Bed, count=BESIDE, hours=HOURS),
    )


def _lived(job: tuple[str, int, bool, float | None]) -> Part:
    series, seed, wide, outdoor = job
    beds = BEDS if outdoor is None and not wide else BESIDE
    run = runs.run(series, seed, beds=beds, hours=HOURS, wide=wide, outdoor=outdoor)
    return Part(run, tuple(issued(handed, ours.Bed) for handed in run.probed.handed))


def everything(
    pool: ProcessPoolExecutor,
) -> tuple[list[Part], list[Part], list[Part], dict[str, dict[str, float]]]:
    """As usual, with an outdoor forecast, in wide vessels, and a keeper who acts."""
    pairs = [(series, seed) for series in SERIES for seed in SEEDS]
    kinds: list[tuple[str, int, bool, float | None]] = [(*pair, False, None) for pair in pairs]
    kinds += [(series, SEEDS[-1], False, OUTDOOR_ERROR) for series in SERIES]
    kinds += [(series, 1, True, None) for series in SERIES]
    acting = pool.submit(acted)
    parts = []
    for number, part in enumerate(pool.map(lived, kinds), start=1):
        parts.append(part)
        print(f"{number} of {len(kinds)} runs", file=sys.stderr, flush=True)
    ends = len(pairs), len(pairs) + len(SERIES)
    return parts[: ends[0]], parts[ends[0] : ends[1]], parts[ends[1] :], acting.result()


def pooled(parts: Sequence[Part]) -> tuple[list[Zone], np.ndarray]:
    """The zones of all runs and their chances as columns."""
    every = [zone for part in parts for zone in runs.zones(part.run)]
    return every, np.concatenate([measured.joined(part.issues, "chance") for part in parts], axis=1)


def off(parts: Sequence[Part]) -> float:
    wrong = [measured.errors(part.run, measured.joined(part.issues, "minimum")) for part in parts]
    return float(np.abs(np.concatenate(wrong)).mean())


def baselines(parts: Sequence[Part]) -> dict[str, dict[str, float]]:
    """MAE and leads of each baseline at the same rate, all pooled."""
    every = [zone for part in parts for zone in runs.zones(part.run)]
    hand = [measured.by_hand(part.run) for part in parts]
    table = {}
    for name in hand[0][0]:
        wrong = np.concatenate(
            [measured.errors(part.run, one[0][name]) for part, one in zip(parts, hand, strict=True)]
        )
        points = measured.warned(every, np.concatenate([one[1][name] for one in hand], axis=1))
        table[name] = row(float(np.abs(wrong).mean()), points)
    margins = measured.margined(every, np.concatenate([one[2] for one in hand], axis=1))
    table["limit + margin"] = row(float("nan"), margins)
    return table


def row(mae: float, points: Sequence[Told]) -> dict[str, float]:
    return {
        "mae": round(mae, 3),
        "lead3": measured.share(points, RATE, 3),
        "lead6": measured.share(points, RATE, 6),
        "lead6_at_03": measured.share(points, 0.3, 6),
    }


def default(told: Told) -> dict[str, float]:
    return {
        "lead3_default": round(told.ahead(3), 3),
        "lead6_default": round(told.ahead(6), 3),
        "false_default": round(told.false_a_month, 3),
        "median_lead_h": round(float(np.median(told.leads)), 1) if told.leads else float("nan"),
        "told_with_faults": round(float(np.mean(np.array(told.every) >= 3)), 3) if told.every else float("nan"),
        "crossings": len(told.leads),
    }


def learned(parts: Sequence[Part]) -> dict[str, float]:
    """All lines that are read off one set of beds."""
    every, chances = pooled(parts)
    covers = np.concatenate([measured.coverage(part.run, part.issues) for part in parts])
    mats = measured.mats([part.run for part in parts], [part.issues for part in parts])
    spent = sum(one.seconds for part in parts for one in part.issues)
    zone_hours = sum(2 * one.asked for part in parts for one in part.issues)
    ahead = row(off(parts), measured.warned(every, chances))
    return {
        "mae": ahead["mae"],
        "lead3_at_half": ahead["lead3"],
        "lead6_at_half": ahead["lead6"],
        "lead6_at_03": ahead["lead6_at_03"],
        **default(measured.by_default(every, chances)),
        "coverage90_min": round(float(covers.min()), 3),
        "coverage90_max": round(float(covers.max()), 3),
        **mats.figures(),
        "ms_per_zone": round(1000 * spent / zone_hours, 3),
    }


def first_weeks(parts: Sequence[Part]) -> dict[str, float]:
    """The first three weeks of January of every bed, which know nothing of it when they begin."""
    ends = FIRST_DAYS * 24
    every = [zone for part in parts for zone in runs.zones(part.run, begins_h=0, ends_h=ends)]
    _, chances = pooled(parts)
    told = measured.by_default(every, chances)
    said = np.isfinite(chances[:ends]).mean()
    wrong = [
        measured.errors(part.run, measured.joined(part.issues, "minimum"), begins_h=0, ends_h=ends)
        for part in parts
    ]
    months = told.hours / MONTH_H
    return {
        "mae": round(float(np.abs(np.concatenate(wrong)).mean()), 3),
        **default(told),
        "known": round(float(said), 3),
        "zone_months": round(months, 1),
    }


def noticed(parts: Sequence[Part]) -> dict[str, float]:
    told = [
        measured.notices(part.run, measured.joined(part.issues, "chance"), measured.by_hand(part.run)[2])
        for part in parts
    ]
    leads = np.array([lead for one in told for lead in one.leads])
    return {
        "wakes": round(float(np.mean([one.wakes for one in told])), 2),
        "harm_h_untold": round(float(np.mean([one.untold_h for one in told])), 2),
        "lead3": round(float((leads >= 3).mean()), 3) if len(leads) else float("nan"),
        "lead6": round(float((leads >= 6).mean()), 3) if len(leads) else float("nan"),
        "median_lead_h": round(float(np.median(leads)), 1) if len(leads) else float("nan"),
    }


def table(result: dict[str, object], hand: dict[str, dict[str, float]]) -> None:
    print(f"{'':22}{'MAE K':>8}{'≥ 3 h':>8}{'≥ 6 h':>8}{'≥ 6 h at 0.3':>14}")
    rows = {"the learned bed": row_of(result), **hand}
    for name, one in rows.items():
        print(f"{name:22}{one['mae']:>8.2f}{one['lead3']:>8.2f}{one['lead6']:>8.2f}{one['lead6_at_03']:>14.2f}")


def row_of(result: dict[str, object]) -> dict[str, float]:
    names = {"mae": "mae", "lead3": "lead3_at_half", "lead6": "lead6_at_half", "lead6_at_03": "lead6_at_03"}
    return {short: float(str(result[name])) for short, name in names.items()}


def known(result: object) -> object:
    """The same with null for what could not be measured."""
    if isinstance(result, dict):
        return {name: known(value) for name, value in result.items()}
    return None if isinstance(result, float) and np.isnan(result) else result


def main() -> None:
    began = time.monotonic()
    with ProcessPoolExecutor(max_workers=JOBS) as pool:
        usual, outdoor, wide, acting = everything(pool)
    hand = baselines(usual)
    result: dict[str, object] = {"bench": "forecast", **learned(usual)}
    result["ratio_to_trend"] = round(float(str(result["mae"])) / hand["trend line"]["mae"], 3)
    result["lead6_margin"] = hand["limit + margin"]["lead6"]
    every, chances = pooled(outdoor)
    result["lead6_outdoor"] = measured.share(measured.warned(every, chances), 0.3, 6)
    result["mae_outdoor"] = round(off(outdoor), 3)
    bare = baselines(wide)
    result["wide"] = {
        **learned(wide),
        "trend_mae": bare["trend line"]["mae"],
        "lead6_margin": bare["limit + margin"]["lead6"],
    }
    result["first_weeks"] = first_weeks(usual)
    result["closed_loop"] = acting
    result["notices"] = noticed(usual)
    result["baselines"] = hand
    print(
        f"{', '.join(SERIES)}; seeds {SEEDS}; {BEDS} beds of two zones, {HOURS // 24} days each; "
        f"{platform.machine()}, Python {platform.python_version()}, {time.monotonic() - began:.0f} s"
    )
    table(result, hand)
    print(json.dumps(known(result), allow_nan=False))


if __name__ == "__main__":
    main()
