"""Whole hours out of raw readings: what a zone is observed by, and how much its mats were on.

A mat's state is known by what its plug reads, by its settings (always on, a timer) or by the diary, in this order; else it is
not known, and what it gives is learned as part of what warms the bed anyhow.
"""

from __future__ import annotations

import statistics
from collections.abc import Sequence
from enum import StrEnum

from monitor.bed.zone import Hour
from monitor.readings import HOUR, MINUTE, Millis
from monitor.rules import Control, Mat
from monitor.science import series
from monitor.science.series import GAP, Series

AT_AN_END: Millis = 35 * MINUTE
"""How old the older of the two readings may be that make an hour's end (proposal: two quarters and a little)."""
HALF: Millis = 30 * MINUTE
FLOOR = 0.25
"""°C, the least spread by which a reading is an outlier: two steps of a 9-bit chip and its noise (proposal)."""
DRAWS = 0.1
"""Share of a mat's rated watts from which it is on (proposal)."""
HOLDS: Millis = 2 * HOUR
"""How long a plug's last word holds (proposal)."""


DENSE: Millis = 10 * MINUTE
"""Readings closer together are taken together, so many minutes as one (proposal)."""


class Known(StrEnum):
    """What tells whether a mat is on."""

    READING = "its plug"
    SETTINGS = "its settings"
    DIARY = "the diary"
    NOTHING = "nothing"


def thinned(readings: Series) -> Series:
    """Readings no denser than one in ten minutes: of each ten, the median at their mean time. A minute's probe then reads, and
    costs, like one that speaks in quarters of an hour.
    """
    if len(readings) < 2 or (readings[-1][0] - readings[0][0]) / (len(readings) - 1) >= DENSE:
        return readings
    slots: dict[int, list[tuple[Millis, float]]] = {}
    for at, value in readings:
        slots.setdefault((at - 1) // DENSE, []).append((at, value))
    return [
        (sum(at for at, _ in slot) // len(slot), statistics.median(value for _, value in slot))
        for slot in slots.values()
    ]


def hour_of(
    at: Millis, probes: Sequence[Series], air: Series, *, duty: float | None, gap: Millis = GAP
) -> Hour | None:
    """The hour that ended at `at`, of the trusted readings of a zone's probes and of its air, each in order of time.

    Pass about two hours before `at`; several probes of a zone are one by their median. None when nothing of its end is known.
    """
    cleaned = [series.without_outliers(one, floor=FLOOR) for one in probes]
    end = _together([_at_end(one, at) for one in cleaned])
    start = _together([_at_end(one, at - HOUR) for one in cleaned])
    if end is None and start is None:
        return None
    clean_air = series.without_outliers(air, floor=FLOOR)
    lows, highs = zip(*[_ends(one, at - HOUR, gap) for one in cleaned], strict=True) if cleaned else ((), ())
    return Hour(
        at,
        start,
        end,
        series.mean(clean_air, at - HOUR, at, gap=gap),
        duty,
        _together(lows),
        _together(highs),
    )


def duty_by_plug(readings: Series, start: Millis, end: Millis, *, watts: float | None) -> float | None:
    """Share of [start, end] a plug drew power: `watts` is the mat's, None where it says 1 and 0. It holds two hours."""
    bar = DRAWS * watts if watts else 0.5
    switches = [(at, value >= bar) for at, value in readings]
    return _share(switches, start, end, holds=HOLDS)


def duty_by_diary(switches: Sequence[tuple[Millis, bool]], start: Millis, end: Millis) -> float | None:
    """The same of what was written: (when, whether on), which holds until the next word. None before the first."""
    return _share(switches, start, end, holds=None)


def duty_of(
    mat: Mat, plug: Series, diary: Sequence[tuple[Millis, bool]], *, start: Millis, end: Millis
) -> tuple[float | None, Known]:
    """How much a mat was on, and what says so. A thermostat that only its maker reads is not known."""
    read = duty_by_plug(plug, start, end, watts=mat.power if plug and max(v for _, v in plug) > 1.5 else None)
    if read is not None:
        return read, Known.READING
    if mat.control is Control.ALWAYS:
        return 1.0, Known.SETTINGS
    if mat.control is Control.THERMOSTAT:
        return None, Known.NOTHING
    written = duty_by_diary(diary, start, end)
    return written, Known.NOTHING if written is None else Known.DIARY


def together(duties: Sequence[tuple[float | None, float | None]]) -> float | None:
    """One duty of several mats of a zone, each (duty, watts), weighted by watts; None when one of them is not known."""
    if not duties or any(duty is None for duty, _ in duties):
        return None
    weights = [watts or 1.0 for _, watts in duties]
    return sum((duty or 0.0) * weight for (duty, _), weight in zip(duties, weights, strict=True)) / sum(weights)


def _at_end(one: Series, at: Millis) -> float | None:
    """The mean of the last two readings before `at`."""
    near = [value for when, value in one if at - AT_AN_END <= when <= at][-2:]
    return sum(near) / len(near) if near else None


def _ends(one: Series, at: Millis, gap: Millis) -> tuple[float | None, float | None]:
    """Least and greatest of centred means in the hour before `at`, which the readings after `at` complete."""
    inside = [value for when, value in series.smoothed(one, gap=gap) if at - HOUR < when <= at]
    return (min(inside), max(inside)) if inside else (None, None)


def _together(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return statistics.median(known) if known else None


def _share(
    switches: Sequence[tuple[Millis, bool]], start: Millis, end: Millis, *, holds: Millis | None
) -> float | None:
    on, reached = 0, start
    before = [(at, state) for at, state in switches if at <= start]
    state = before[-1] if before else None
    for at, now_on in [*((a, s) for a, s in switches if start < a < end), (end, False)]:
        if state is None or (holds is not None and at - state[0] > holds):
            return None
        on += (at - reached) * state[1]
        reached, state = at, (at, now_on)
    return on / (end - start)
