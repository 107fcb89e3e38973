"""Whether readings of a bin can move anything: the cheap answer, for going over the past.

As long as the value that decides keeps to its side of every limit and no delay becomes full, phases stay what they are. Which
values those are follows from the phases alone, so a reading need only be held against two numbers. Where that is not enough
(several at once could matter, something has not been heard for long, a value lies outside its points) the answer is
"perhaps", and the fold itself has to say.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from math import inf, isnan, nan, nextafter
from operator import attrgetter
from typing import NamedTuple

from monitor.checks.delays import PhaseName
from monitor.checks.fold import Bench
from monitor.checks.memory import SHORTEST_SILENCE, ProbeMemory, middle, remember_run
from monitor.checks.watches import Statistic, View, Watch, Watched
from monitor.readings import Measures, Millis, Reading
from monitor.rules import Probe
from monitor.science.correction import corrected
from monitor.science.moisture import Line, line_of, on_line

_OWN_TIME = attrgetter("at")
KNOWN = 100
"""Values of a probe whose moisture is not reckoned twice: of the last hour each is asked for several times."""
TOGETHER = 12
"""So many readings of a moisture probe are remembered together; until then its day and its hour only grow wider."""


class Still:
    """A bin at which nothing has moved since its bench was made. `passes` takes readings up, `undo` takes the last ones back,
    `settle` brings the bench's memory up to date.
    """

    def __init__(self, watched: Watched, on: Bench) -> None:
        self._on = on
        self._probes = {id_: _Held(probe, on.memory[id_]) for id_, probe in watched.probes.items()}
        self._simple = not watched.moved
        self._spans: list[_Span] = []
        for view in watched.views if self._simple else ():
            span = _Span(view, self._probes, on)
            self._spans.append(span)
            for probe in view.probes:
                self._probes[probe.id].spans.append(span)
        self._undo: list[tuple[_Held, _Kept]] = []

    def passes(self, readings: Sequence[Reading]) -> bool:
        """Whether these readings, good ones of the bin's probes, surely move nothing. They are taken up then, and only then."""
        self._undo = []
        if not self._simple:
            return False
        for reading in readings if len(readings) == 1 else sorted(readings, key=_OWN_TIME):
            if not self._takes(reading):
                self.undo()
                return False
        return True

    def passes_alone(self, reading: Reading) -> bool:
        """The same of one reading, which is not to be taken back."""
        held = self._probes[reading.probe]
        judged = self._judged(held, reading) if self._simple else None
        if judged is None:
            return False
        self._undo = []
        self._take(held, reading, judged)
        return True

    def undo(self) -> None:
        """Take back what the last call took up."""
        for held, kept in reversed(self._undo):
            held.back_to(kept)
            for span in held.spans:
                span.look_again()
        self._undo = []

    def go_on(self, memory: Mapping[str, ProbeMemory]) -> None:
        """Go on from what is remembered now: something else has judged meanwhile, and no phase is another."""
        for id_, held in self._probes.items():
            held.go_on(memory[id_])
        for span in self._spans:
            span.look_again()

    def settle(self) -> dict[str, ProbeMemory]:
        """The bench's memory, with everything taken up remembered in it."""
        for id_, held in self._probes.items():
            self._on.memory[id_] = held.settled()
        return self._on.memory

    def _takes(self, reading: Reading) -> bool:
        held = self._probes[reading.probe]
        judged = self._judged(held, reading)
        if judged is None:
            return False
        self._undo.append((held, held.kept()))
        self._take(held, reading, judged)
        return True

    def _judged(self, held: _Held, reading: Reading) -> float | None:
        """As what it is judged, if it surely moves nothing; NaN for a value that nobody judges."""
        at = reading.at
        if held.at is None or not held.well or at <= held.at:
            return None
        judged = held.judged(reading.value)
        if judged is None:
            return None if held.spans else nan
        for span in held.spans:
            if not span.stays(held, at, judged):
                return None
        return judged

    def _take(self, held: _Held, reading: Reading, judged: float) -> None:
        at = reading.at
        held.take(reading, None if isnan(judged) else judged)
        for span in held.spans:
            span.newest = max(span.newest, at)


class _Kept(NamedTuple):
    """What a probe was before a reading."""

    at: Millis | None
    value: float | None
    memory: ProbeMemory
    waiting: list[Reading]
    length: int
    wet: _Wet | None


class _Wet(NamedTuple):
    """Of a moisture probe: between which moistures (%) its day and its last hour surely lie."""

    day_low: float
    day_high: float
    hour_low: float
    rise: float


class _Held:
    """One probe: when it last spoke, as what that is judged, and what of it the memory does not hold yet (`waiting`)."""

    __slots__ = (
        "_known",
        "_line",
        "_memory",
        "_moist",
        "_probe",
        "_waiting",
        "at",
        "spans",
        "value",
        "well",
        "wet",
    )

    def __init__(self, probe: Probe, memory: ProbeMemory) -> None:
        self._probe = probe
        self._moist = probe.measures is Measures.MOISTURE
        self._line: Line | None = line_of(probe) if self._moist else None
        self._waiting: list[Reading] = []
        self._known: dict[float, float | None] = {}
        self.spans: list[_Span] = []
        self._hold(memory)

    def _hold(self, memory: ProbeMemory) -> None:
        self._memory = memory
        self.at = memory.trusted_at
        self.well = memory.untrusted_since is None and memory.trusted_at == memory.last_at
        self.value = self.judged(memory.value) if self.at is not None else None
        self.wet = self._wet_of(memory) if memory.windows and self.value is not None else None

    def judged(self, value: float) -> float | None:
        """°C, %RH or % wet basis; None where its points do not say for sure."""
        if not self._moist:
            return corrected(value, offset=self._probe.offset, scale=self._probe.scale)
        known = self._known
        if value not in known:
            line = self._line
            if len(known) >= KNOWN:
                known.clear()
            sure = line is not None and line.least <= value <= line.most
            known[value] = on_line(line, value) if line is not None and sure else None
        return known[value]

    def take(self, reading: Reading, judged: float | None) -> None:
        """One more reading."""
        self.at, self.value = reading.at, judged
        self._waiting.append(reading)
        if not self._memory.windows:
            return
        if judged is None:
            self.wet = None
        elif self.wet is None or len(self._waiting) >= TOGETHER:
            self._memory, self._waiting = remember_run(self._memory, self._waiting), []
            self.wet = self._wet_of(self._memory)
        else:
            day_low, day_high, driest, _ = self.wet
            driest = min(driest, judged)
            self.wet = _Wet(min(day_low, judged), max(day_high, judged), driest, judged - driest)

    def go_on(self, memory: ProbeMemory) -> None:
        """Go on from another memory, with nothing waiting."""
        if memory is not self._memory:
            self._waiting.clear()
            self._hold(memory)

    def kept(self) -> _Kept:
        """What `back_to` needs."""
        return _Kept(self.at, self.value, self._memory, self._waiting, len(self._waiting), self.wet)

    def back_to(self, kept: _Kept) -> None:
        """As it was."""
        self.at, self.value, self._memory, self._waiting, length, self.wet = kept
        del self._waiting[length:]

    def settled(self) -> ProbeMemory:
        """The memory, with nothing left waiting."""
        if self._waiting:
            self._memory = remember_run(self._memory, self._waiting)
            self._waiting.clear()
        return self._memory

    def _wet_of(self, memory: ProbeMemory) -> _Wet | None:
        values = [value for _, value in memory.day]
        if not values or self.value is None:
            return None
        ends = self._ends((min(values), max(values), memory.lows[0][1], memory.highs[0][1]))
        if ends is None:
            return None
        day, driest = (*ends[:2], self.value), min(*ends[2:], self.value)
        return _Wet(min(day), max(day), driest, self.value - driest)

    def _ends(self, values: Iterable[float]) -> list[float] | None:
        """The moistures of values, None where one lies outside the points or the line runs both ways: then what lies between
        two values is not between their moistures.
        """
        if self._line is None or not self._line.one_way:
            return None
        found = [self.judged(value) for value in values]
        known = [value for value in found if value is not None]
        return known if len(known) == len(found) else None


class _Span:
    """One view: between which values its best zone moves nothing, against low limits (the greatest decides) and high ones.

    `stays` says whether the view stays as it is when a probe of it says so much.
    """

    def __init__(self, view: View, probes: dict[str, _Held], on: Bench) -> None:
        self.zones = [[probes[p.id] for p in of_zone] for _, of_zone in view.zones]
        self.held = [held for zone in self.zones for held in zone]
        self.newest: Millis = 0
        self.look_again()
        self.until: float = inf
        alone = all(len(zone) == 1 for zone in self.zones)
        self.stays: Callable[[_Held, Millis, float], bool] = {
            Statistic.VALUE: self._each if alone else self._value,
            Statistic.MEDIAN_DAY: self._median,
            Statistic.RISE: self._rise,
        }[view.statistic]
        self.greatest, self.least = (-inf, inf), (-inf, inf)
        self.delayed = False
        for watch in (w for _, watches in view.keys for w in watches):
            low, high = self._of(watch, on)
            if watch.below:
                self.greatest = (max(self.greatest[0], low), min(self.greatest[1], high))
            else:
                self.least = (max(self.least[0], low), min(self.least[1], high))

    def look_again(self) -> None:
        """When its newest probe spoke."""
        self.newest = max((h.at for h in self.held if h.at is not None), default=0)

    def _of(self, watch: Watch, on: Bench) -> tuple[float, float]:
        """Which values, ends not included, leave a watch in its phase (`delays.MOVES`)."""
        phase = on.phases.get(watch.name)
        name = PhaseName.CLEAR if phase is None else phase.name
        if phase is not None and name in (PhaseName.PENDING, PhaseName.CLEARING):
            self.delayed = True
            delay = watch.on_delay if name == PhaseName.PENDING else watch.off_delay
            self.until = min(self.until, phase.since + delay)
        bound, clear_at = watch.bound.value, watch.clear_at
        low, high = {
            PhaseName.CLEAR: (bound, inf),
            PhaseName.PENDING: (-inf, nextafter(bound, inf)),
            PhaseName.PRESENT: (-inf, clear_at),
            PhaseName.CLEARING: (nextafter(clear_at, -inf), inf),
        }[PhaseName(name)]
        if watch.below:
            return low, high
        return {
            PhaseName.CLEAR: (-inf, bound),
            PhaseName.PENDING: (nextafter(bound, -inf), inf),
            PhaseName.PRESENT: (clear_at, inf),
            PhaseName.CLEARING: (-inf, nextafter(clear_at, inf)),
        }[PhaseName(name)]

    def _inside(self, greatest: float, least: float) -> bool:
        return self.greatest[0] < greatest < self.greatest[1] and self.least[0] < least < self.least[1]

    def _each(self, held: _Held, at: Millis, judged: float) -> bool:
        """`_value` where each zone has one probe."""
        newest = self.newest
        now = at if at > newest else newest
        if now - newest > SHORTEST_SILENCE or now - at > SHORTEST_SILENCE or now >= self.until:
            return False
        greatest = least = judged
        for one in self.held:
            if one is held or one.at is None:
                continue
            value = one.value
            if value is None or now - one.at > SHORTEST_SILENCE:
                return False
            if value > greatest:
                greatest = value
            elif value < least:
                least = value
        return self._inside(greatest, least)

    def _value(self, held: _Held, at: Millis, judged: float) -> bool:
        now = max(at, self.newest)
        if now - self.newest > SHORTEST_SILENCE or now - at > SHORTEST_SILENCE or now >= self.until:
            return False
        values = []
        for zone in self.zones:
            of_zone = []
            for one in zone:
                if one is held:
                    of_zone.append(judged)
                elif one.at is not None:
                    if one.value is None or now - one.at > SHORTEST_SILENCE:
                        return False
                    of_zone.append(one.value)
            if of_zone:
                values.append(of_zone[0] if len(of_zone) == 1 else middle(of_zone))
        return self._inside(max(values), min(values))

    def _median(self, held: _Held, _: Millis, judged: float) -> bool:
        """Wherever in its day's values a probe's median lies, and whether or not there is one."""
        if self.delayed:
            return False
        for one in self.held:
            if one.at is None:
                continue
            wet = one.wet
            if wet is None:
                return False
            low, high = wet.day_low, wet.day_high
            if one is held:
                low, high = min(low, judged), max(high, judged)
            if not (self._inside(low, low) and self._inside(high, high)):
                return False
        return True

    def _rise(self, held: _Held, _: Millis, judged: float) -> bool:
        """Whether no zone's rise can reach the limit; a flood that is there is none of this."""
        if self.delayed or self.least[0] != -inf:
            return False
        for one in self.held:
            if one.at is None:
                continue
            if one.wet is None:
                return False
            rise = judged - min(one.wet.hour_low, judged) if one is held else one.wet.rise
            if rise >= self.least[1]:
                return False
        return True
