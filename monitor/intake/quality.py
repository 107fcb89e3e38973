"""How far one reading is to be trusted, decided once on arrival from the probe's last readings.

Marks: data sheet = DS18B20 data sheet rev. 042208 [seen]; common practice and proposal = a sensible start with
no standard behind it. The limits are wide: a fault that looks like weather is found later, by its neighbours.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.readings import HOUR, MINUTE, RESOLUTION, Measures, Millis, Quality, Reading
from monitor.rules import Probe, Unit
from monitor.science.moisture import wetness
from monitor.science.onewire import COLDEST, DISCONNECTED, HOTTEST, POWER_ON, SUSPECT_STEP, SUSPECT_WITHIN

TOLERANCE = 5.0
"""Per cent by which a humidity or moisture probe may overshoot 0…100 (common practice; capacitive humidity
chips read above 100 when they are wet)."""

JUMP = 8.0
"""K a bed or shed can move in an hour (proposal); after a longer gap so much for each hour of it."""
JUMP_WETNESS = 0.3
"""Part of the calibrated span a bed cannot dry by between two readings: the probe was pulled out (proposal)."""
AGREES, AGREES_WETNESS = 1.0, 0.05
"""How near a second reading must be to the jump before it to be the new truth (proposal)."""

MOST_WATTS = 10_000.0
"""Beyond what any plug can carry."""

MOST_KILOS, LEAST_KILOS = 3_000.0, -20.0
"""kg beyond which a scale under a bin says nonsense (proposal: a ton is a cubic metre and a half of bed; an empty scale that
has drifted shows a little below nought)."""

STUCK: dict[Measures, Millis] = {
    Measures.TEMPERATURE: 48 * HOUR,
    Measures.HUMIDITY: 48 * HOUR,
    Measures.MOISTURE: 72 * HOUR,
    Measures.MASS: 14 * 24 * HOUR,  # a coarse scale shows a bed's few grams an hour late
    Measures.POWER: 1 << 62,  # a plug may stay off all summer
}
"""How long a living thing's climate can read the same to the last digit (proposal)."""
STUCK_COUNTS = 6 * HOUR
"""The same for raw counts, which flicker (proposal)."""
SATURATED = 99.0
"""%RH from which humidity may stand still for ever: the air is full (common practice)."""

AHEAD = 10 * MINUTE
"""How far a probe's clock may run ahead of ours (proposal)."""
SILENCE = 45 * MINUTE
"""A probe is silent after this, or after three times its own interval if that is longer (proposal)."""

_SAME = 0.5 / RESOLUTION
"""Two values that are stored as the same number differ by less than this."""


def silence(every: Millis | None) -> Millis:
    """How long a probe with this interval may say nothing."""
    return max(3 * every, SILENCE) if every else SILENCE


@dataclass(slots=True)
class _Memory:
    """What is remembered of one probe: its newest reading, how long its value has stood, its last good
    reading, and the jump before the next reading decides what it was.
    """

    at: Millis
    value: float
    since: Millis
    good: tuple[Millis, float] | None = None
    jump: float | None = None


class Trust:
    """Judges readings one after the other. Remembers per probe id; not for more than one thread."""

    def __init__(self) -> None:
        self._probes: dict[str, _Memory] = {}

    def prime(
        self, probe: str, last_readings: Sequence[Reading], *, unchanged_since: Millis | None = None
    ) -> None:
        """Remember a probe's stored readings, oldest first; `unchanged_since` is the time from which the newest
        value has stood if that is longer than these readings reach.
        """
        memory: _Memory | None = None
        for reading in last_readings:
            if reading.quality in (Quality.AHEAD, Quality.RETAINED):
                continue
            at = reading.received_at if reading.quality is Quality.EARLY else reading.at
            memory = _moved_on(memory, reading.value, at)
            if reading.quality.trusted:
                memory.good = at, reading.value
            memory.jump = reading.value if reading.quality is Quality.JUMP else None
        if memory is None:
            return
        if unchanged_since is not None:
            memory.since = min(memory.since, unchanged_since)
        self._probes[probe] = memory

    def judge(
        self,
        probe: Probe,
        value: float,
        *,
        at: Millis,
        received_at: Millis,
        retained: bool = False,
        unsure: bool = False,
    ) -> Quality:
        """The quality of one reading (`value` canonical), and remember it. `retained` means: retained and without
        a time of its own. What is not newer than the last one is held to its range only and changes nothing.
        `unsure`: our clock cannot be right, so who is ahead of it is not wrong for that.
        """
        if retained:
            return Quality.RETAINED
        if unsure and at > received_at:
            as_of_now = self.judge(probe, value, at=received_at, received_at=received_at)
            return Quality.EARLY if as_of_now is Quality.GOOD else Quality.AHEAD
        if at > received_at + AHEAD:
            return Quality.AHEAD
        memory = self._probes.get(probe.id)
        good, jump = (memory.good, memory.jump) if memory is not None else (None, None)
        if memory is not None and at <= memory.at:
            return _impossible(probe, value, at, good) or _aged(probe, at, received_at)
        memory = self._probes[probe.id] = _moved_on(memory, value, at)
        memory.jump = None
        quality = _impossible(probe, value, at, good)
        jumped = quality is None and good is not None and _jumped(probe, value, at, good)
        if jumped and (jump is None or not _agree(probe, value, jump)):
            quality, memory.jump = Quality.JUMP, value
        if quality is None and at - memory.since > _longest_same(probe, value):
            quality = Quality.STUCK
        if quality is not None:
            return quality
        memory.good = at, value
        return _aged(probe, at, received_at)


def judged_anew(probe: Probe, reading: Reading) -> Quality:
    """How far a reading is to be trusted that was ahead of a clock of ours, now that `received_at` is known."""
    if reading.at > reading.received_at + AHEAD:
        return Quality.AHEAD
    return _impossible(probe, reading.value, reading.at, None) or _aged(probe, reading.at, reading.received_at)


def _moved_on(memory: _Memory | None, value: float, at: Millis) -> _Memory:
    if memory is None:
        return _Memory(at, value, at)
    if abs(value - memory.value) >= _SAME:
        memory.since = at
    memory.at, memory.value = at, value
    return memory


def _aged(probe: Probe, at: Millis, received_at: Millis) -> Quality:
    return Quality.STALE if received_at - at > silence(probe.every) else Quality.GOOD


def _possible(probe: Probe, value: float) -> Quality | None:
    """The fault of a value by itself, None when it may be right."""
    if probe.measures is Measures.TEMPERATURE:
        if COLDEST <= value <= HOTTEST:
            return None
        return Quality.DISCONNECTED if abs(value - DISCONNECTED) < _SAME else Quality.OUT_OF_RANGE
    if probe.source.sends is Unit.COUNTS:
        return Quality.OUT_OF_RANGE if value < 0 else None
    if probe.measures is Measures.POWER:
        return None if -1.0 <= value <= MOST_WATTS else Quality.OUT_OF_RANGE
    if probe.measures is Measures.MASS:
        return None if LEAST_KILOS <= value <= MOST_KILOS else Quality.OUT_OF_RANGE
    return None if -TOLERANCE <= value <= 100 + TOLERANCE else Quality.OUT_OF_RANGE


def _impossible(probe: Probe, value: float, at: Millis, good: tuple[Millis, float] | None) -> Quality | None:
    if probe.measures is Measures.TEMPERATURE and abs(value - POWER_ON) < _SAME:
        near = good is not None and abs(value - good[1]) <= SUSPECT_STEP and at - good[0] < SUSPECT_WITHIN
        return None if near else Quality.POWER_ON
    return _possible(probe, value)


def _jumped(probe: Probe, value: float, at: Millis, good: tuple[Millis, float]) -> bool:
    if probe.measures is Measures.TEMPERATURE:
        moved = abs(value - good[1])
        return moved > JUMP and moved > JUMP * (at - good[0]) / HOUR
    if probe.measures is Measures.MOISTURE:
        before, after = _wetness(probe, good[1]), _wetness(probe, value)
        return before is not None and after is not None and before - after > JUMP_WETNESS
    return False


def _agree(probe: Probe, value: float, jump: float) -> bool:
    if probe.measures is Measures.TEMPERATURE:
        return abs(value - jump) <= AGREES
    before, after = _wetness(probe, jump), _wetness(probe, value)
    return before is not None and after is not None and abs(before - after) <= AGREES_WETNESS


def _wetness(probe: Probe, value: float) -> float | None:
    """0 dry … 1 wet. Without points per cent span their own scale, and counts span nothing."""
    found = wetness(probe, value)
    if found is None and probe.source.sends is not Unit.COUNTS:
        return value / 100
    return found


def _longest_same(probe: Probe, value: float) -> Millis:
    if probe.measures is Measures.HUMIDITY and value >= SATURATED:
        return 1 << 62
    return STUCK_COUNTS if probe.source.sends is Unit.COUNTS else STUCK[probe.measures]
