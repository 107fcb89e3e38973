"""What comes out of a run: errors of the minimum, warnings, coverage, dead mats, first weeks, notices."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bench.forecast import baselines
from bench.forecast.methods import Issues
from bench.forecast.runs import FIRST_DAYS, Run, zones
from bench.forecast.scores import AFTER_H, MONTH_H, Told, Zone, at_rate, episodes, minima, swept, told
from monitor.bed.dressing import ALARM
from monitor.bed.forecast import ON, STAYS

CHANCES = (0.02, 0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5, 0.55, 0.6, 0.7, 0.8, 0.9)
MARGINS = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0, 1.2, 1.4, 1.8, 2.2)
DEADBAND = 0.3
"""K above limit + margin at which that alarm may end."""
DEFAULT, KEEPS = ON, STAYS
"""As the product ships them."""
EVENING = 17
"""The hour that ends at 18:00."""


@dataclass(frozen=True)
class Seen:
    """One run as columns of zones, near and far of each bed in turn."""

    warmth: np.ndarray
    lowest: np.ndarray
    room: np.ndarray
    duty: np.ndarray
    settings: baselines.Settings
    limits: np.ndarray


def columns(run: Run) -> Seen:
    handed, hours = run.probed.handed, len(run.probed.season)

    def both(values: list[np.ndarray]) -> np.ndarray:
        return np.stack(values, axis=1).reshape(hours, -1)

    def each(values: list[float | None]) -> np.ndarray:
        return np.repeat([np.nan if value is None else float(value) for value in values], 2)

    settings = baselines.Settings(
        each([one.watts for one in handed]),
        each([one.setpoint for one in handed]),
        each([one.timer and one.timer[0] for one in handed]),
        each([one.timer and one.timer[1] for one in handed]),
    )
    return Seen(
        both([one.warmth for one in handed]),
        both([one.lowest for one in handed]),
        np.repeat(np.stack([one.room for one in handed], axis=1), 2, axis=1),
        np.repeat(np.stack([one.duty for one in handed], axis=1), 2, axis=1),
        settings,
        run.probed.limits.T.reshape(-1),
    )


def by_hand(run: Run) -> tuple[dict[str, np.ndarray], dict[str, np.ndarray], np.ndarray]:
    """Of each baseline the minimum of 12 h and the chance for as long as an alarm looks ahead, (hours, zones).

    And how far each reading is above its limit.
    """
    seen = columns(run)
    flat = baselines.flat(seen.warmth, seen.room, seen.duty, settings=seen.settings, horizons=(12, ALARM))
    points: dict[int, dict[str, np.ndarray]] = {}
    least = {horizon: baselines.least_ahead(seen.lowest, horizon) for horizon in (12, ALARM)}
    for horizon, learned in zip((12, ALARM), flat, strict=True):
        points[horizon] = {
            "last night's minimum": baselines.last_night(seen.warmth, least[horizon]),
            "yesterday's drop": baselines.yesterdays_drop(seen.warmth, least[horizon]),
            "trend line": baselines.trend(seen.warmth, horizon),
            "flat room": learned,
        }
    chances = {
        name: baselines.dressed(point, least[ALARM], seen.limits, horizon=ALARM)
        for name, point in points[ALARM].items()
    }
    return points[12], chances, baselines.filled(seen.warmth) - seen.limits


def joined(issues: Sequence[Issues], what: str) -> np.ndarray:
    """(hours, zones) of one run's beds."""
    return np.concatenate([getattr(one, what) for one in issues], axis=1)


def errors(
    run: Run, points: np.ndarray, *, begins_h: int = FIRST_DAYS * 24, ends_h: int | None = None
) -> np.ndarray:
    """K, forecast less truth, of the 12-h minimum issued at 18:00 in the colder half-year."""
    every = zones(run, begins_h=begins_h, ends_h=ends_h)
    at = np.flatnonzero(every[0].counted & (np.arange(len(points)) % 24 == EVENING))
    wrong = points[at] - np.stack([minima(zone.held, 12)[at] for zone in every], axis=1)
    return wrong[np.isfinite(wrong)]


def warned(every: Sequence[Zone], chances: np.ndarray, levels: Sequence[float] = CHANCES) -> list[Told]:
    return swept(every, lambda n, level: (chances[:, n] > level, chances[:, n] > level / 2), levels)


def margined(every: Sequence[Zone], above: np.ndarray) -> list[Told]:
    return swept(every, lambda n, margin: (above[:, n] < margin, above[:, n] < margin + DEADBAND), MARGINS)


def by_default(every: Sequence[Zone], chances: np.ndarray) -> Told:
    result = Told()
    for n, zone in enumerate(every):
        result += told(zone, chances[:, n] > DEFAULT, chances[:, n] > KEEPS)
    return result


def coverage(run: Run, issues: Sequence[Issues]) -> np.ndarray:
    """(zones,) share of bands that held what the probe later read, every hour after the first days."""
    low, high = joined(issues, "low"), joined(issues, "high")
    reads = (
        run.probed.reads.reshape(len(run.probed.reads), 2, -1)
        .transpose(0, 2, 1)
        .reshape(len(run.probed.reads), -1)
    )
    shares = np.empty(low.shape[1])
    for n in range(low.shape[1]):
        later = minima(reads[:, n], 12)
        there = np.isfinite(later) & np.isfinite(low[:, n]) & (np.arange(len(later)) >= FIRST_DAYS * 24)
        shares[n] = np.mean((low[there, n] <= later[there]) & (later[there] <= high[there, n]))
    return shares


@dataclass(frozen=True)
class Mats:
    """What became of dead mats."""

    delays: tuple[float, ...]
    """h from the first hour a dead mat was called on; infinite when it was not found while it was dead."""
    false: int
    active_h: float

    def figures(self) -> dict[str, float]:
        found = sorted(delay for delay in self.delays if np.isfinite(delay))
        return {
            "dead_mat_found": round(len(found) / len(self.delays), 3) if self.delays else float("nan"),
            "dead_mat_median_h": round(float(np.median(found)), 1) if found else float("nan"),
            "dead_mat_p90_h": round(float(np.quantile(found, 0.9)), 1) if found else float("nan"),
            "dead_mat_false": round(self.false * MONTH_H / self.active_h, 3) if self.active_h else float("nan"),
        }


def stretches(marked: np.ndarray) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate(([0], marked.astype(int), [0]))))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def mats(runs: Sequence[Run], issues: Sequence[Sequence[Issues]]) -> Mats:
    """A found mat is one that is said to be dead within its stretch; elsewhere, from a quarter of a day after one, it is false.

    A mat that was called on for less than two hours of its death could not be missed by anybody and is not counted.
    """
    delays: list[float] = []
    false, active = 0, 0.0
    for run, said in zip(runs, issues, strict=True):
        for bed, one in enumerate(said):
            called = run.year.duty[:, bed] > 0.05
            days = np.repeat(called[: len(called) // 24 * 24].reshape(-1, 24).any(axis=1), 24)
            days[: FIRST_DAYS * 24] = False
            explained = np.zeros(len(called), dtype=bool)
            for begins, end in stretches(run.beds.dead[bed]):
                explained[begins : end + 6] = True
                on = np.flatnonzero(called[begins:end])
                if begins < FIRST_DAYS * 24 or run.year.duty[begins:end, bed].sum() < 2:
                    continue
                first = begins + int(on[0])
                told_at = np.flatnonzero(one.dead[first:end])
                delays.append(float(told_at[0]) + 1 if len(told_at) else float("inf"))
            active += float((days & ~explained[: len(days)]).sum())
            for begins, _ in episodes(one.dead, one.dead):
                false += bool(not explained[begins] and begins < len(days) and days[begins])
    return Mats(tuple(delays), false, active)


@dataclass(frozen=True)
class Noticed:
    wakes: float
    """A bin and winter."""
    untold_h: float
    """Hours below a limit before anybody was told, a bin and winter."""
    leads: tuple[float, ...]


NIGHT = (22, 7)
TOLD_AT = 20
"""The hour that ends at 21:00: each person's evening."""
WINTER_H = 182 * 24


def notices(run: Run, chances: np.ndarray, above: np.ndarray) -> Noticed:
    """A cold night is told by day at once, else in the evening for the whole night; the plain limit wakes whoever was not told.

    `above` (hours, zones) is how far each reading is above its limit: the plain limit goes by readings, harm by the truth.
    """
    every = zones(run)
    hours = np.arange(len(chances))
    asleep = ((hours + 1) % 24 >= NIGHT[0]) | ((hours + 1) % 24 < NIGHT[1])
    wakes, untold, leads = 0, 0.0, []
    for n, zone in enumerate(every):
        ahead = np.zeros(len(hours), dtype=bool)
        for begins, end in episodes(chances[:, n] > DEFAULT, chances[:, n] > KEEPS):
            heard = np.flatnonzero(~asleep[begins:end])
            if len(heard):
                ahead[begins + heard[0] : end + AFTER_H] = True
        known = ahead.copy()
        for begins, end in episodes(above[:, n] < 0, above[:, n] < DEADBAND):
            wakes += bool(asleep[begins] and not ahead[begins] and zone.counted[begins])
            known[begins:end] = True
        untold += float((zone.below & ~known & zone.counted).sum())
        for at in zone.crossings:
            hour = int(at // 4)
            if not zone.fault[max(0, hour - 24) : hour + 1].any():
                since = np.flatnonzero(~known[:hour])
                leads.append(float(np.clip(at / 4 - (since[-1] + 2 if len(since) else 0), 0, 24)))
    beds, winters = len(every) / 2, every[0].counted.sum() / WINTER_H
    return Noticed(wakes / beds / winters, untold / beds / winters, tuple(leads))


def share(points: Sequence[Told], rate: float, least: float) -> float:
    return round(at_rate(points, rate, least), 3)
