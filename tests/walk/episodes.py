"""Which episodes a series holds, computed in pandas from the words of the rules: shares no code with the product.

An episode begins with the first reading at which the value has been at or beyond the limit for the on-delay,
and ends with the first at which it has been back by the deadband for the off-delay; both spans are unbroken
runs of readings, and a gap longer than `silence` breaks a run.
"""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd


@dataclass(frozen=True)
class Limit:
    below: bool
    value: float
    lasting: pd.Timedelta
    deadband: float
    off: pd.Timedelta


def full_runs(
    series: pd.Series, holds: pd.Series, span: pd.Timedelta, silence: pd.Timedelta
) -> list[pd.Timestamp]:
    """The first reading of every unbroken run at which the run is `span` long."""
    stamps = series.index.to_series()
    broken = (holds != holds.shift()) | (stamps.diff() > silence)
    run = broken.cumsum()
    length = stamps - stamps.groupby(run).transform("min")
    full = holds & (length >= span)
    return list(stamps[full].groupby(run[full]).min())


def episodes(
    series: pd.Series, limit: Limit, silence: pd.Timedelta
) -> list[tuple[pd.Timestamp, pd.Timestamp | None]]:
    """(begin, end) of every episode; the last may have no end."""
    sign = 1 if limit.below else -1
    beyond = sign * series <= sign * limit.value
    inside = sign * series >= sign * limit.value + limit.deadband
    begins = full_runs(series, beyond, limit.lasting, silence)
    ends = full_runs(series, inside, limit.off, silence)
    found: list[tuple[pd.Timestamp, pd.Timestamp | None]] = []
    for begin in begins:
        if found and (found[-1][1] is None or begin < found[-1][1]):
            continue
        found.append((begin, next((end for end in ends if end > begin), None)))
    return found


def steps(
    series: pd.Series, comfort: Limit | None, harms: list[Limit], silence: pd.Timedelta
) -> list[tuple[str, str]]:
    """(time, event) of every step that the alarm of one condition must take."""
    changes: dict[pd.Timestamp, list[tuple[str, int]]] = {}
    for name, limits in (("comfort", [comfort] if comfort else []), ("harm", harms)):
        for limit in limits:
            for begin, end in episodes(series, limit, silence):
                changes.setdefault(begin, []).append((name, 1))
                if end is not None:
                    changes.setdefault(end, []).append((name, -1))
    standing = {"comfort": 0, "harm": 0}
    level, said = 0, []
    for at in sorted(changes):
        for name, change in changes[at]:
            standing[name] += change
        after = 2 if standing["harm"] else 1 if standing["comfort"] else 0
        event = {(0, 1): "raised", (0, 2): "raised", (1, 2): "rose", (2, 1): "fell"}.get((level, after))
        event = event or ("returned" if after == 0 and level else None)
        if event:
            said.append((at.isoformat(), event))
        level = after
    return said


def silences(series: pd.Series, silence: pd.Timedelta) -> int:
    """How many gaps are longer than the silence."""
    return int((series.index.to_series().diff() > silence).sum())
