"""How well it was told: crossings, leads, false alarms, coverage; and the verification scores of weather forecasting.

A *crossing*: below the limit after at least six hours above, and at least 0.2 K below within six hours. Its *lead*: from the
start of the episode in force to the crossing, 24 h at most. A *false alarm*: an episode that starts above the limit and until
twelve hours after whose end it never goes below. Episodes in which a lid stood open, a mat was dead, or the keeper then
switched the mat on are left out, for every method alike: an averted crossing is no false alarm. Quarters of an hour for
truth, whole hours for alarms: an alarm of `hour` is known at its end.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

ABOVE_H, BELOW_BY, WITHIN_H, CAP_H, AFTER_H, QUIET_H = 6, 0.2, 6, 24, 12, 6
MONTH_H = 30 * 24


def crossings(held: np.ndarray, limit: float) -> np.ndarray:
    """Indices of quarters at which it goes below `limit` and counts."""
    below = held < limit
    found = []
    for at in np.flatnonzero(below[1:] & ~below[:-1]) + 1:
        before = held[max(0, at - ABOVE_H * 4) : at]
        if (
            at >= ABOVE_H * 4
            and (before >= limit).all()
            and held[at : at + WITHIN_H * 4].min() <= limit - BELOW_BY
        ):
            found.append(at)
    return np.array(found, dtype=int)


def episodes(raised: np.ndarray, kept: np.ndarray) -> list[tuple[int, int]]:
    """Hours [start, end) of alarms: begun where `raised`, held where `kept`, over after six hours of neither."""
    spans: list[tuple[int, int]] = []
    hour, total = 0, len(raised)
    starts = np.flatnonzero(raised)
    holds = np.flatnonzero(kept | raised)
    while True:
        place = np.searchsorted(starts, hour)
        if place == len(starts):
            return spans
        begins = end = int(starts[place])
        at = np.searchsorted(holds, begins)
        while at < len(holds) and holds[at] - end <= QUIET_H:
            end = int(holds[at])
            at += 1
        hour = min(total, end + QUIET_H)
        spans.append((begins, hour))
        hour += 1


@dataclass
class Told:
    """Pooled over zones."""

    leads: list[float] = field(default_factory=list)
    """h, one a crossing by weather alone; 0 when it was not told before."""
    every: list[float] = field(default_factory=list)
    """The same with crossings after faults."""
    false: int = 0
    hours: float = 0

    @property
    def false_a_month(self) -> float:
        return self.false * MONTH_H / self.hours if self.hours else 0.0

    def ahead(self, least: float) -> float:
        """Share of the crossings told at least so many hours ahead."""
        return float(np.mean(np.array(self.leads) >= least)) if self.leads else float("nan")

    def __iadd__(self, other: Told) -> Told:
        self.leads += other.leads
        self.every += other.every
        self.false += other.false
        self.hours += other.hours
        return self


@dataclass(frozen=True)
class Zone:
    """What one zone's alarms are scored by."""

    held: np.ndarray
    """(hours · 4,) °C in truth, the probe's bias kept."""
    limit: float
    fault: np.ndarray
    """(hours,) bool: lid open, or mat dead."""
    helped: np.ndarray
    """(hours,) bool: the keeper switched the mat on in this hour."""
    counted: np.ndarray
    """(hours,) bool: in season, and not among the first days."""
    crossings: np.ndarray = field(init=False)
    below: np.ndarray = field(init=False)

    def __post_init__(self) -> None:
        found = crossings(self.held, self.limit)
        object.__setattr__(self, "crossings", found[self.counted[found // 4]])
        object.__setattr__(self, "below", (self.held < self.limit).reshape(-1, 4).any(axis=1))


def told(zone: Zone, raised: np.ndarray, kept: np.ndarray) -> Told:
    """How one zone's alarms did; `raised`, `kept` (hours,) bool."""
    spans = episodes(raised, kept)
    result = Told(hours=float(zone.counted.sum()))
    for at in zone.crossings:
        hour = at / 4
        lead = max(
            (min(CAP_H, hour - (begins + 1)) for begins, end in spans if begins + 1 <= hour < end + 1), default=0.0
        )
        result.every.append(max(0.0, lead))
        if not zone.fault[max(0, int(hour) - 24) : int(hour) + 1].any():
            result.leads.append(max(0.0, lead))
    for begins, end in spans:
        until = min(len(zone.below), end + AFTER_H)
        if not zone.counted[begins] or zone.held[4 * begins + 3] < zone.limit:
            continue
        if zone.fault[begins:until].any() or zone.helped[begins:until].any():
            continue
        result.false += not zone.below[begins:until].any()
    return result


def at_rate(points: Sequence[Told], rate: float, least: float) -> float:
    """Share told `least` h ahead at `rate` false alarms a zone-month, by straight lines between operating points."""
    pairs = sorted((point.false_a_month, point.ahead(least)) for point in points)
    rates = np.array([r for r, _ in pairs])
    best = np.maximum.accumulate([share for _, share in pairs])
    if rate < rates[0]:
        return float("nan")
    return float(np.interp(rate, rates, best))


def swept(
    zones: Sequence[Zone], alarms: Callable[[int, float], tuple[np.ndarray, np.ndarray]], levels: Sequence[float]
) -> list[Told]:
    """One `Told` for each level; `alarms(zone number, level)` gives raised and kept."""
    points = []
    for level in levels:
        point = Told()
        for number, zone in enumerate(zones):
            point += told(zone, *alarms(number, level))
        points.append(point)
    return points


def minima(quarters: np.ndarray, horizon_h: int, least: float = 0.8) -> np.ndarray:
    """(hours,) the least value of the `horizon_h` hours after each hour's end, that end included; NaN where too few are there."""
    hours = len(quarters) // 4
    padded = np.concatenate((quarters, np.full(horizon_h * 4 + 1, np.nan)))
    windows = np.lib.stride_tricks.sliding_window_view(padded, horizon_h * 4 + 1)[3 : 4 * hours : 4]
    there = np.isfinite(windows)
    least_value = np.where(there, windows, np.inf).min(axis=1)
    return np.where(there.mean(axis=1) >= least, least_value, np.nan)


@dataclass(frozen=True)
class Table:
    """A two-by-two table of forecasts and events: hits, false alarms, misses, correct negatives."""

    hits: float
    false: float
    missed: float
    quiet: float

    @property
    def total(self) -> float:
        return self.hits + self.false + self.missed + self.quiet

    @property
    def right(self) -> float:
        """Proportion correct."""
        return (self.hits + self.quiet) / self.total

    @property
    def detection(self) -> float:
        """Probability of detection."""
        return self.hits / (self.hits + self.missed)

    @property
    def false_ratio(self) -> float:
        """False alarm ratio."""
        return self.false / (self.hits + self.false)

    @property
    def threat(self) -> float:
        """Threat score, or critical success index."""
        return self.hits / (self.hits + self.false + self.missed)

    @property
    def bias(self) -> float:
        return (self.hits + self.false) / (self.hits + self.missed)

    @property
    def heidke(self) -> float:
        chance = (
            (self.hits + self.missed) * (self.hits + self.false)
            + (self.quiet + self.missed) * (self.quiet + self.false)
        ) / self.total**2
        return (self.right - chance) / (1 - chance)

    @property
    def peirce(self) -> float:
        return self.detection - self.false / (self.false + self.quiet)
