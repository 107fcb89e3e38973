"""What a subject's value is: of each probe a statistic, of each zone the median of its probes, of the
subject its best zone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from itertools import pairwise

from monitor.checks.memory import ProbeMemory, Window, is_fresh, middle, silence
from monitor.checks.watches import Statistic, View
from monitor.readings import DAY, HOUR, Measures, Millis
from monitor.rules import Probe
from monitor.science.correction import corrected
from monitor.science.moisture import Firm, firm, moisture_percent

ENOUGH: Millis = 12 * HOUR
"""A day's median is none before so much of the day is known (proposal)."""

RISE = 4.0
"""Points of moisture within an hour that only water makes, and that last (proposal)."""
SETTLED: Millis = 4 * HOUR
"""So long after water came the probe has settled (4 to 12 h; proposal)."""

ZoneValues = tuple[tuple[str, float], ...]
Memories = Mapping[str, ProbeMemory]


def zone_values(view: View, memory: Memories, *, at: Millis) -> ZoneValues:
    """Each zone of a subject that a good, fresh probe speaks for, with its value, in °C, % or points."""
    found = []
    for zone, probes in view.zones:
        values = [v for p in probes if (v := _of_probe(view, p, memory=memory[p.id], at=at)) is not None]
        if values:
            found.append((zone, values[0] if len(values) == 1 else middle(values)))
    return tuple(found)


def sides(view: View, memory: Memories, *, at: Millis) -> dict[str, int]:
    """The zones whose value is only known to be at least (1) or at most (−1) so much."""
    if view.measures is not Measures.MOISTURE:
        return {}
    found = {}
    for zone, probes in view.zones:
        known = [v for p in probes if is_fresh(p, memory[p.id], at=at) and (v := _firm(view, p, memory[p.id], at))]
        side = next((v.side for v in known if v.side), 0)
        if side:
            found[zone] = side
    return found


def newest_at(view: View, memory: Memories) -> Millis | None:
    """The newest trusted reading of a subject: until when it is judged."""
    times = [t for p in view.probes if (t := memory[p.id].trusted_at) is not None and p.stands(t)]
    return max(times) if times else None


def known_until(view: View, memory: Memories) -> Millis | None:
    """Until when something is known of a subject: its longest-lasting value plus that probe's silence."""
    times = [
        t + silence(p, memory[p.id])
        for p in view.probes
        if (t := memory[p.id].trusted_at) is not None and p.stands(t)
    ]
    return max(times) if times else None


def best(below: bool, values: ZoneValues) -> tuple[str, float]:
    """The zone a worm would choose: the warmest or wettest against a low limit, else the coolest or driest."""
    return (max if below else min)(values, key=lambda zone: zone[1])


def percent(probe: Probe, value: float) -> float | None:
    """A value as it is judged: °C by the probe's offset and scale, wet-basis moisture by its own points; None outside
    them.
    """
    if probe.measures is not Measures.MOISTURE:
        return corrected(value, offset=probe.offset, scale=probe.scale)
    judged = moisture_percent(probe, value)
    return judged[0] if judged and judged[1] else None


def day_median(window: Window, at: Millis, *, longest_gap: Millis) -> float | None:
    """The median of the last 24 h, None while less than ENOUGH of them is known.

    A value speaks for the time until the next one, at most `longest_gap`.
    """
    recent = [kept for kept in window if kept[0] > at - DAY]
    if not recent or at - recent[0][0] < ENOUGH:
        return None
    times = [kept[0] for kept in recent] + [at]
    gaps = [b - a for a, b in pairwise(times)]
    unknown = sum([gap - longest_gap for gap in gaps if gap > longest_gap])
    return middle([kept[1] for kept in recent]) if at - times[0] - unknown >= ENOUGH else None


def decides(view: View, value: Firm) -> bool:
    """Whether a value is known well enough for a subject's limits. What is only known to be at least, or at most, so
    much must lie beyond a limit for sure, or past every deadband for sure.
    """
    if not value.side:
        return True
    watches = [watch for _, group in view.keys for watch in group]
    if watches[0].below:
        worse, bounds = value.side < 0, [w.bound.value for w in watches]
        met, past = value.percent <= max(bounds), value.percent > max(w.clear_at for w in watches)
    else:
        worse, bounds = value.side > 0, [w.bound.value for w in watches]
        met, past = value.percent >= min(bounds), value.percent < min(w.clear_at for w in watches)
    return met if worse else past


def _of_probe(view: View, probe: Probe, *, memory: ProbeMemory, at: Millis) -> float | None:
    value = _firm(view, probe, memory, at) if is_fresh(probe, memory, at=at) else None
    return value.percent if value is not None else None


def _firm(view: View, probe: Probe, memory: ProbeMemory, at: Millis) -> Firm | None:
    value = _STATISTICS[view.statistic](probe, memory, at)
    return value if value is not None and decides(view, value) else None


def _judged(probe: Probe, value: float) -> Firm | None:
    if probe.measures is Measures.MOISTURE:
        return firm(probe, value)
    return Firm(corrected(value, offset=probe.offset, scale=probe.scale))


def _value(probe: Probe, memory: ProbeMemory, _: Millis) -> Firm | None:
    return _judged(probe, memory.value)


def _median(probe: Probe, memory: ProbeMemory, at: Millis) -> Firm | None:
    if probe.moved:
        memory = replace(memory, day=tuple(kept for kept in memory.day if probe.stands(kept[0])))
    raw = day_median(memory.day, at, longest_gap=silence(probe, memory))
    day = None if raw is None else _judged(probe, raw)
    return day if day is None else _since_watered(probe, memory, day, at) or day


def _since_watered(probe: Probe, memory: ProbeMemory, day: Firm, at: Millis) -> Firm | None:
    """What was measured since water came, once that is SETTLED: the dry hours before tell of another bed. None where
    no sudden rise has lasted; a rise over many hours is the day's own swing, or the warmth of the probe.
    """
    now = _judged(probe, memory.value)
    if now is None or now.percent < day.percent + RISE:
        return None
    known = [(t, v, firm_.percent) for t, v in memory.day if t > at - DAY and (firm_ := _judged(probe, v))]
    for n in range(len(known) - 1, 0, -1):
        before = [p for t, _, p in known[max(n - 2, 0) : n] if known[n][0] - t <= HOUR]
        base = min(before, default=100.0)
        lasting = all(p >= base + RISE for _, _, p in known[n:])
        if lasting and at - known[n][0] >= SETTLED:
            return _judged(probe, middle(v for _, v, _ in known[n:]))
    return None


def _rise(probe: Probe, memory: ProbeMemory, at: Millis) -> Firm | None:
    if not probe.stands(at - HOUR):
        return None  # the hour began elsewhere
    # a calibration may run either way: the hour's driest is its least or its greatest raw value
    ends = {memory.lows[0][1], memory.highs[0][1]}
    known = [v for end in ends if (v := percent(probe, end)) is not None]
    now = percent(probe, memory.value) if len(known) == len(ends) else None
    return None if now is None else Firm(now - min(known))


_STATISTICS: Mapping[Statistic, Callable[[Probe, ProbeMemory, Millis], Firm | None]] = {
    Statistic.VALUE: _value,
    Statistic.MEDIAN_DAY: _median,
    Statistic.RISE: _rise,
}
