"""What a keeper or a simple script would go by, all dressed alike with their own recent errors; zones are columns.

Last night's minimum, yesterday's drop, a straight line through the last three hours, and the learned bed with its room
staying as it is (`flat`): the integral form of F, recursive least squares, all zones at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

SPREAD = 0.12
"""K, the kernel of the dressing."""


def filled(values: np.ndarray) -> np.ndarray:
    """The last value that was there, along the first axis."""
    at = np.where(np.isfinite(values), np.arange(len(values)).reshape(-1, *[1] * (values.ndim - 1)), 0)
    return np.take_along_axis(values, np.maximum.accumulate(at, axis=0), axis=0)


def least_ahead(lowest: np.ndarray, horizon: int) -> np.ndarray:
    """(hours, zones): the least of the `horizon` hours after each, NaN at the end and where none was read."""
    padded = np.concatenate((lowest[1:], np.full((horizon, lowest.shape[1]), np.nan)))
    windows = np.lib.stride_tricks.sliding_window_view(padded, horizon, axis=0)
    missing = np.isnan(windows)
    return np.where(missing.sum(axis=-1) <= horizon // 4, np.where(missing, np.inf, windows).min(axis=-1), np.nan)


def last_night(warmth: np.ndarray, least: np.ndarray) -> np.ndarray:
    """What the same hours brought yesterday."""
    return np.minimum(filled(warmth), _ago(least, 24))


def yesterdays_drop(warmth: np.ndarray, least: np.ndarray) -> np.ndarray:
    now = filled(warmth)
    return np.minimum(now, now + _ago(least - now, 24))


def trend(warmth: np.ndarray, horizon: int) -> np.ndarray:
    """A straight line through the last three hours."""
    now = filled(warmth)
    slope = (3 * (now - _ago(now, 3)) + (_ago(now, 1) - _ago(now, 2))) / 10
    return np.minimum(now, now + horizon * slope)


def flat(
    warmth: np.ndarray, room: np.ndarray, duty: np.ndarray, *, settings: Settings, horizons: tuple[int, ...]
) -> list[np.ndarray]:
    """(hours, zones) for each horizon: a, b, c of each zone by RLS, the room staying as it is."""
    watts = settings.watts
    now, rooms, hours, zones = filled(warmth), filled(room), *warmth.shape
    theta = np.tile([0.04, 0.4, 0.0], (zones, 1))
    theta[:, 1] = np.where(watts > 0, theta[:, 1], 0)
    spread = np.tile(np.diag((np.array([0.03, 0.5, 0.15]) / 0.1) ** 2), (zones, 1, 1))
    points = [np.full((hours, zones), np.nan) for _ in horizons]
    for hour in range(3, hours):
        ends = np.stack([now[hour - n] for n in range(4)])
        mean = (ends[:-1] + ends[1:]) / 2
        cause = np.stack(
            [
                sum(rooms[hour - n] - mean[n] for n in range(3)),
                sum(duty[hour - n] for n in range(3)) * (watts > 0),
                np.full(zones, 3.0),
            ],
            axis=1,
        )
        there = np.isfinite(warmth[hour]) & np.isfinite(warmth[hour - 3]) & np.isfinite(room[hour])
        moved = np.einsum("zij,zj->zi", spread, cause)
        gain = moved / (0.999 + np.einsum("zi,zi->z", cause, moved))[:, None]
        wrong = np.clip(ends[0] - ends[3] - np.einsum("zi,zi->z", theta, cause), -1, 1)
        theta = np.where(there[:, None], theta + gain * wrong[:, None], theta)
        after = (spread - np.einsum("zi,zj->zij", gain, moved)) / 0.999
        grows = np.trace(after, axis1=1, axis2=2) > 500
        spread = np.where((there & ~grows)[:, None, None], after, spread)
        a, b, c = (
            np.clip(theta[:, 0], 0.006, 0.3),
            np.clip(theta[:, 1], 0.02, 4) * (watts > 0),
            np.clip(theta[:, 2], -0.6, 0.6),
        )
        lowest, at = now[hour], now[hour]
        for ahead in range(1, max(horizons) + 1):
            free = at + a * (rooms[hour] - at) + c
            at = free + b * settings.holds(
                hour + ahead, duty[hour], (settings.setpoint - free) / np.maximum(b, 0.02)
            )
            lowest = np.minimum(lowest, at)
            for horizon, point in zip(horizons, points, strict=True):
                if ahead == horizon:
                    point[hour] = lowest
    return points


@dataclass(frozen=True)
class Settings:
    """What stands in the settings of each zone's mat, (zones,) each; NaN where it is not so."""

    watts: np.ndarray
    setpoint: np.ndarray
    begins: np.ndarray
    spans: np.ndarray

    def holds(self, hour: int, now: np.ndarray, missing: np.ndarray) -> np.ndarray:
        """How much of `hour` the mats will be on: by thermostat, by clock, or as they are."""
        timed = (hour % 24 - self.begins) % 24 < self.spans
        by_clock = np.where(np.isfinite(self.begins), timed, now)
        return np.where(np.isfinite(self.setpoint), np.clip(missing, 0, 1), by_clock) * (self.watts > 0)


def dressed(points: np.ndarray, least: np.ndarray, limits: np.ndarray, *, horizon: int) -> np.ndarray:
    """(hours, zones) P(minimum < limit): errors of the last 20 days' issues within two hours of this one."""
    hours, zones = points.shape
    errors = least - points
    back = np.array([24 * day + near for day in range(1, 21) for near in range(-2, 3)])
    back = back[back >= horizon + 1]
    chances = np.full((hours, zones), np.nan)
    index = np.arange(hours)[:, None] - back[None, :]
    usable = index >= 0
    for zone in range(zones):
        error = np.where(usable, errors[np.maximum(index, 0), zone], np.nan)
        there = np.isfinite(error)
        above = (limits[zone] - points[:, zone, None] - np.where(there, error, 0)) / SPREAD
        count = there.sum(axis=1)
        chance = np.where(there, ndtr(above), 0).sum(axis=1) / np.maximum(count, 1)
        chances[:, zone] = np.where((count >= 30) & np.isfinite(points[:, zone]), chance, np.nan)
    return chances


def _ago(values: np.ndarray, hours: int) -> np.ndarray:
    return np.concatenate((np.full((hours, *values.shape[1:]), np.nan), values[:-hours]))
