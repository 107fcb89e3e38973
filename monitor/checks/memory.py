"""What is remembered of a probe: everything a check needs of its past, derived from stored readings alone.

Nothing of it is kept in the store. `from_history` makes the same memory again out of the readings, so a restart
changes nothing.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import groupby, pairwise

from monitor.readings import DAY, HOUR, MINUTE, Measures, Millis, Quality, Reading
from monitor.rules import Probe

GAPS = 21
"""From so many newest gaps a probe's own interval is learned: their median is one of them. (Not 20: CPython 3.11 sets
2,000 freed tuples of that length aside and never takes one up again, 400 kB.)"""

MISSED = 3
"""So many intervals without a word are silence: "after 3 missed" (heartbeat practice [common practice])."""

SHORTEST_SILENCE: Millis = 45 * MINUTE
"""No probe is called silent sooner, however often it speaks (proposal)."""

SLOT: Millis = 30 * MINUTE
"""The day's window keeps the first value of each slot: 48 numbers stand for a day of any probe."""

HISTORY: Millis = DAY + 2 * HOUR
"""How much of a moisture probe's past `from_history` needs; of any probe, its newest GAPS + 1 readings."""

_FUTURE = frozenset({Quality.AHEAD, Quality.EARLY})

Window = tuple[tuple[Millis, float], ...]


@dataclass(frozen=True)
class ProbeMemory:
    """What is remembered of one probe. Values are what the probe sent; a calibration may still change.

    `last_at` is the newest own time (older readings are late), `heard` the newest sign of life. `day` and the two
    sides of the last hour (`lows` rising, `highs` falling: its exact least and greatest) are kept of
    moisture probes only (`windows`).
    """

    windows: bool = False
    last_at: Millis | None = None
    heard: Millis | None = None
    quality: Quality | None = None
    trusted_at: Millis | None = None
    value: float = 0.0
    untrusted_since: Millis | None = None
    gaps: tuple[Millis, ...] = ()
    day: Window = ()
    lows: Window = ()
    highs: Window = ()

    @cached_property
    def usual(self) -> Millis | None:
        """The median of the remembered gaps, None before there is one."""
        return int(middle(self.gaps)) if self.gaps else None


_NOTHING = ProbeMemory()


def nothing_of(probe: Probe) -> ProbeMemory:
    """The memory of a probe that never spoke."""
    return ProbeMemory(windows=probe.measures is Measures.MOISTURE)


def remember(memory: ProbeMemory | None, reading: Reading) -> ProbeMemory:
    """The memory after one more reading; the very same object for one that is late or proves nothing.

    None stands for a probe that never spoke and of which no windows are kept.
    """
    memory = memory or _NOTHING
    if reading.quality is Quality.RETAINED or is_late(memory, reading):
        return memory
    if reading.quality is Quality.AHEAD:
        return _heard_ahead(memory, reading)
    at = speaks_for(reading)
    apart = memory.last_at is not None and at > memory.last_at
    gaps = (*memory.gaps, at - (memory.last_at or 0))[-GAPS:] if apart else memory.gaps
    heard = at if memory.heard is None else max(at, memory.heard)
    if not reading.quality.trusted:
        since = at if memory.untrusted_since is None else memory.untrusted_since
        return replace(memory, last_at=at, heard=heard, quality=reading.quality, untrusted_since=since, gaps=gaps)
    day, lows, highs = _windows(memory, ((at, reading.value),)) if memory.windows else ((), (), ())
    return ProbeMemory(memory.windows, at, heard, reading.quality, at, reading.value, None, gaps, day, lows, highs)


def remember_run(memory: ProbeMemory, readings: Sequence[Reading]) -> ProbeMemory:
    """What remembering one by one comes to, of good readings each newer than the one before."""
    newest, times = readings[-1], [r.at for r in readings]
    if memory.last_at is not None:
        times.insert(0, memory.last_at)
    gaps = (*memory.gaps, *[b - a for a, b in pairwise(times)])[-GAPS:]
    heard = newest.at if memory.heard is None else max(newest.at, memory.heard)
    known = _windows(memory, [(r.at, r.value) for r in readings]) if memory.windows else ((), (), ())
    return ProbeMemory(
        memory.windows, newest.at, heard, newest.quality, newest.at, newest.value, None, gaps, *known
    )


def is_late(memory: ProbeMemory, reading: Reading) -> bool:
    """Whether a reading is at or before the newest one of its probe. One from the future never is."""
    if memory.last_at is None or reading.quality is Quality.AHEAD:
        return False
    if reading.quality is Quality.EARLY:  # several of one message speak for its arrival, the last one counts
        return reading.received_at < memory.last_at
    return reading.at <= memory.last_at


def in_order(readings: Iterable[Reading]) -> list[Reading]:
    """Readings by the time they can speak for; of one such time by their own."""
    return sorted(readings, key=lambda r: (speaks_for(r), r.at))


def speaks_for(reading: Reading) -> Millis:
    """The time a reading can speak for: its own, or its arrival when its own lies in the future."""
    return reading.received_at if reading.quality in _FUTURE else reading.at


def from_history(probe: Probe, readings: Iterable[Reading], *, rounds: Sequence[int] = ()) -> ProbeMemory:
    """The memory as it was when the last of these stored readings had been judged.

    `rounds` are the newest arrival numbers that the past rounds had seen, rising: with them a reading that was
    late then is late again. Without them every reading counts as having come in order of time.
    """
    memory = nothing_of(probe)
    kept = list(readings)
    if not rounds and not memory.windows and _plainly(kept):
        return _summed(kept) if kept else memory
    for together in _as_judged(kept, rounds):
        for reading in in_order(together):
            memory = remember(memory, reading)
    return memory


def _plainly(readings: Sequence[Reading]) -> bool:
    """Whether one came after the other, each to be trusted: as nearly always."""
    return all(r.quality is Quality.GOOD for r in readings) and all(a.at < b.at for a, b in pairwise(readings))


def _summed(readings: Sequence[Reading]) -> ProbeMemory:
    """What remembering such readings one by one comes to."""
    newest = readings[-1]
    gaps = tuple([b.at - a.at for a, b in pairwise(readings[-GAPS - 1 :])])
    return ProbeMemory(False, newest.at, newest.at, newest.quality, newest.at, newest.value, None, gaps)


def interval(probe: Probe, memory: ProbeMemory) -> Millis | None:
    """How often a probe speaks: as the keeper says, else as learned, else nobody knows."""
    return probe.every or memory.usual


def silence(probe: Probe, memory: ProbeMemory, *, shortest: Millis = SHORTEST_SILENCE) -> Millis:
    """How old its newest reading may be: three intervals, and never less than `shortest`."""
    return max(MISSED * (interval(probe, memory) or 0), shortest)


def is_fresh(probe: Probe, memory: ProbeMemory, *, at: Millis) -> bool:
    """Whether its newest trusted value still speaks for that time, and for where the probe stands."""
    newest = memory.trusted_at
    return (
        newest is not None
        and (at - newest <= SHORTEST_SILENCE or at - newest <= silence(probe, memory))
        and (not probe.moved or (probe.stands(newest) and probe.stands(at)))
    )


def middle(numbers: Iterable[float]) -> float:
    """The median; the mean of the middle two of an even number."""
    ordered = sorted(numbers)
    half = len(ordered) // 2
    return ordered[half] if len(ordered) % 2 else (ordered[half - 1] + ordered[half]) / 2


def _heard_ahead(memory: ProbeMemory, reading: Reading) -> ProbeMemory:
    # its own time must not become the newest: every right reading after it would be late
    at = reading.received_at
    return replace(
        memory,
        heard=at if memory.heard is None else max(at, memory.heard),
        quality=reading.quality,
        untrusted_since=at if memory.untrusted_since is None else memory.untrusted_since,
    )


def _windows(memory: ProbeMemory, values: Iterable[tuple[Millis, float]]) -> tuple[Window, Window, Window]:
    day, lows, highs = memory.day, list(memory.lows), list(memory.highs)
    for one in values:
        at, value = one
        if not day or day[-1][0] // SLOT != at // SLOT:
            day = (*[kept for kept in day if kept[0] > at - DAY], one)
        # both sides are in order of time and of value: what goes stands at their ends
        while lows and lows[-1][1] >= value:
            lows.pop()
        while highs and highs[-1][1] <= value:
            highs.pop()
        for side in (lows, highs):
            while side and side[0][0] < at - HOUR:
                del side[0]
            side.append(one)
    return day, tuple(lows), tuple(highs)


def _as_judged(readings: Iterable[Reading], rounds: Sequence[int]) -> Iterator[Iterable[Reading]]:
    if not rounds:
        yield readings
        return
    by_arrival = sorted(readings, key=lambda r: r.arrival)
    for _, together in groupby(by_arrival, key=lambda r: bisect_left(rounds, r.arrival)):
        yield together
