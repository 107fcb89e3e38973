"""The past judged once more: `judge` folded over the rounds that a daemon lived, by the limits it had or by others.

What the daemon saw is what its rounds' rows say: which settings, which arrivals, what people asked. Nothing else of the machine
is in it: its links, its disk and its neighbours' days are taken to have been well, so of its steps the fold gives those of beds,
and of probes what follows from the readings.

A year has half a million rounds, and in most of them nothing can move: no reading came, or one that lies inside every limit of
a bed at which nothing is the matter. Those are passed over; a test holds that nothing is different without.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from operator import attrgetter
from typing import NamedTuple

from monitor.alarms.cycle import Transition
from monitor.checks.findings import AlarmKey, Condition, Kind, PastEpisode
from monitor.checks.fold import Bench, bench, fold
from monitor.checks.memory import GAPS, HISTORY, ProbeMemory, from_history, in_order, nothing_of, remember
from monitor.checks.system import System
from monitor.checks.watches import FLOOD, Statistic, View, Watched
from monitor.due import next_deadline, refreshed_at
from monitor.gathering import (
    EVER,
    ROUNDS_OF_A_DAY,
    Known,
    Window,
    backfilled,
    lately,
    new_bins,
    told_of,
)
from monitor.judge import CLIMATE_CONDITIONS, Arrived, Book, Stood, judge
from monitor.notify.notices import Notice
from monitor.readings import DAY, HOUR, Measures, Millis, Quality, Reading
from monitor.rules import Probe, Rules
from monitor.science.moisture import moisture_percent
from monitor.store.promises import Request, RoundRow


@dataclass(frozen=True, slots=True)
class Lived:
    """What is kept of a span. `rounds` and `readings` in the order in which they came (arrival); what was `asked` by the
    number of the round that did it; `named` says which alarm had which number.
    """

    rounds: Sequence[RoundRow]
    readings: Sequence[Reading]
    asked: Mapping[int, Sequence[Request]] = field(default_factory=dict)
    named: Mapping[int, AlarmKey] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Replayed:
    """What would have been recorded and told. `judged` counts the rounds that were not passed over."""

    transitions: tuple[Transition, ...]
    past: tuple[PastEpisode, ...]
    notices: tuple[Notice, ...]
    judged: int


def replay(lived: Lived, rules: Callable[[str], Rules], *, every_round: bool = False) -> Replayed:
    """Judge a span once more, from nothing. `rules` gives the rules for the settings version of a round; the same for all
    of them tries other limits. With `every_round` none is passed over.
    """
    return _Fold(lived, rules, every_round=every_round).run()


def only(rules: Rules, beds: Iterable[str]) -> Rules:
    """The rules with no other bins than these: what a replay of a few bins needs to look at."""
    kept = frozenset(beds)
    return replace(rules, bins={id_: bed for id_, bed in rules.bins.items() if id_ in kept})


class _Fold:
    """One replay at work. `memory` runs ahead of `stood.memory` over the rounds that are passed over."""

    def __init__(self, lived: Lived, rules: Callable[[str], Rules], *, every_round: bool) -> None:
        self._lived, self._rules, self._every_round = lived, rules, every_round
        self._arrivals = [r.arrival for r in lived.readings]
        by_probe: dict[str, list[Reading]] = defaultdict(list)
        for reading in lived.readings:
            by_probe[reading.probe].append(reading)
        self._by_probe = {p: sorted(rs, key=attrgetter("at")) for p, rs in by_probe.items()}
        self._uptos = [row.upto_arrival for row in lived.rounds]
        self._stood = Stood()
        self._memory: dict[str, ProbeMemory] = {}
        self._version: str | None = None
        self._book = Book.of(rules(lived.rounds[0].settings)) if lived.rounds else None
        self._upto = 0
        self._next = 0
        self._due: Millis = 0
        self._last: Millis = 0
        self._quiet: dict[str, _Quiet] = {}
        self._inside_since: dict[str, Millis] = {}
        self._benches: dict[str, Bench] = {}
        self._transitions: list[Transition] = []
        self._past: list[PastEpisode] = []
        self._notices: list[Notice] = []
        self._judged = 0

    def run(self) -> Replayed:
        """Round after round."""
        readings, arrivals = self._lived.readings, self._arrivals
        for index, row in enumerate(self._lived.rounds):
            anew = row.settings != self._version
            comes = self._next < len(arrivals) and arrivals[self._next] <= row.upto_arrival
            if not (comes or anew or row.at >= self._due or row.number in self._lived.asked or self._every_round):
                continue
            end = bisect_right(arrivals, row.upto_arrival, lo=self._next)
            news = readings[self._next : end]
            if anew:
                self._use(row, index)
            self._note(news)
            if self._must_judge(row, news, anew=anew):
                self._judge(row, news)
            self._next, self._upto = end, row.upto_arrival
        return Replayed(tuple(self._transitions), tuple(self._past), tuple(self._notices), self._judged)

    @property
    def _in_force(self) -> Book:
        assert self._book is not None  # noqa: S101 - a round is there
        return self._book

    def _use(self, row: RoundRow, index: int) -> None:
        """The settings of this round: probes that are read otherwise than before are remembered anew."""
        before, self._version = self._in_force.probes, row.settings
        book = Book.of(self._rules(row.settings))
        if index:
            seen = self._uptos[max(0, index - ROUNDS_OF_A_DAY) : index]
            others = [probe for id_, probe in book.probes.items() if before.get(id_) != probe]
            same = {
                id_: m
                for id_, m in self._memory.items()
                if id_ in book.probes and before.get(id_) == book.probes[id_]
            }
            self._memory = same | {p.id: m for p in others if (m := self._derived(p, seen)) is not None}
        self._book = book
        self._quiet = dict(_quiet_of(book))
        self._inside_since.clear()
        self._benches.clear()

    def _derived(self, probe: Probe, seen: Sequence[int]) -> ProbeMemory | None:
        known = [r for r in self._by_probe.get(probe.id, ()) if r.arrival <= self._upto]
        if not known:
            return None
        kept = known[-GAPS - 1 :]
        if probe.measures is Measures.MOISTURE:
            kept = max(kept, [r for r in known if r.at >= known[-1].at - HISTORY], key=len)
        return from_history(probe, kept, rounds=seen)

    # What can be passed over

    def _must_judge(self, row: RoundRow, news: Sequence[Reading], *, anew: bool) -> bool:
        if self._every_round or anew or row.number in self._lived.asked or new_bins(self._stood, self._in_force):
            return True
        if row.at >= self._due:
            self._due = self._deadline()
            if row.at >= self._due:
                return True
        return bool(news) and not self._moves_nothing(news)

    def _deadline(self) -> Millis:
        stood = replace(self._stood, memory=self._memory)
        times = [at for at in refreshed_at(stood) if at > self._last]
        next_one = next_deadline(stood, self._in_force, after=self._last, before=EVER)
        return min((*times, *([next_one] if next_one is not None else [])), default=EVER)

    def _moves_nothing(self, news: Sequence[Reading]) -> bool:
        """Whether these readings change nothing but what is remembered of their probes; then they are remembered."""
        book = self._in_force
        probes, beds = self._troubled()
        together: dict[str, list[Reading]] = {}
        found: dict[str, ProbeMemory] = {}
        for reading in news:
            bed, known = book.home(reading), found.get(reading.probe) or self._memory.get(reading.probe)
            if reading.probe in probes or bed in beds or not _goes_on(known, reading):
                return False
            if bed is not None:
                together.setdefault(bed, []).append(reading)
            elif reading.probe in book.probes:
                found[reading.probe] = remember(known, reading)
        for bed, readings in together.items():
            on = self._bench(bed)
            if on is None or not self._bed_moves_nothing(book.watched[bed], readings, on=on):
                return False
            found |= {r.probe: on.memory[r.probe] for r in readings}
        self._memory |= found
        return True

    def _troubled(self) -> tuple[set[str], set[str | None]]:
        """Probes and bins of which something is the matter that any reading may end."""
        probes: set[str] = set()
        beds: set[str | None] = set()
        for key in self._stood.alarms:
            if key.condition in _OF_PROBES:
                if key.subject.kind is Kind.PROBE:
                    probes.add(key.subject.id)
                else:
                    beds |= {key.subject.bed} if key.subject.bed else {None, *self._in_force.watched}
        return probes, beds

    def _bench(self, bed: str) -> Bench | None:
        """What a bin's readings are folded on until the next round that is judged; None while an alarm and its condition
        do not say the same.
        """
        on = self._benches.get(bed)
        if on is None:
            watched = self._in_force.watched[bed]
            memory = {p: self._memory.get(p) or nothing_of(probe) for p, probe in watched.probes.items()}
            phases = self._stood.phases
            on = bench(
                watched,
                memory=memory,
                phases={w.name: phases[w.name] for w in watched.watches if w.name in phases},
            )
            self._benches[bed] = on
        active = {
            a.key: a.level
            for a in self._stood.alarms.values()
            if a.active and a.key.subject.bed == bed and _climate(a.key)
        }
        return on if active == {key: course.level for key, course in on.courses.items()} else None

    def _bed_moves_nothing(self, watched: Watched, readings: Sequence[Reading], *, on: Bench) -> bool:
        """Whether phases, courses and levels stay as they are. When they do not, the bench is of no more use."""
        if not on.phases and all(self._lies_inside(r, on) for r in readings):
            for reading in readings if len(readings) == 1 else in_order(readings):
                on.memory[reading.probe] = remember(on.memory[reading.probe], reading)
            return True
        phases, courses = dict(on.phases), dict(on.courses)
        over = fold(watched, readings, on)
        return not over and phases == on.phases and courses == on.courses

    def _lies_inside(self, reading: Reading, on: Bench) -> bool:
        quiet = self._quiet.get(reading.probe)
        if quiet is None:
            return False
        if quiet.slope is None:
            return quiet.low < reading.value < quiet.high
        since = self._inside_since.get(reading.probe, reading.at)
        memory = on.memory[reading.probe]
        apart = max((abs(reading.value - side[0][1]) for side in (memory.lows, memory.highs) if side), default=0.0)
        return reading.at - since > _WINDOW and apart * quiet.slope < FLOOD.value

    def _note(self, news: Sequence[Reading]) -> None:
        """Since when every value of a moisture probe lay inside its limits: then the median of its day does too."""
        for reading in news:
            quiet = self._quiet.get(reading.probe)
            if quiet is not None and quiet.slope is not None:
                told = moisture_percent(quiet.probe, reading.value)
                if told is not None and told[1] and quiet.low < told[0] < quiet.high:
                    self._inside_since.setdefault(reading.probe, reading.at)
                else:
                    self._inside_since.pop(reading.probe, None)

    # A whole round

    def _judge(self, row: RoundRow, news: Sequence[Reading]) -> None:
        stood = replace(self._stood, memory=self._memory)
        arrived = Arrived(
            now=row.at,
            readings=news,
            requests=[r for asked in self._lived.asked.get(row.number, ()) if (r := self._now_named(asked))],
            system=System(link_since=self._lived.rounds[0].at),
            late=lately(
                news,
                self._in_force,
                memory=self._memory,
                window=self._seen(row.upto_arrival),
                told=self._told_since,
            ),
            backfill=backfilled(
                new_bins(self._stood, self._in_force), self._in_force, row.at, self._seen(self._upto)
            ),
        )
        outcome = judge(stood, arrived, self._in_force)
        self._stood, self._memory = outcome.stands, dict(outcome.stands.memory)
        self._transitions += outcome.transitions
        self._past += outcome.past
        self._notices += outcome.notices
        self._judged += 1
        self._benches.clear()
        self._last = row.at
        self._due = self._deadline()

    def _now_named(self, request: Request) -> Request | None:
        """A request about an alarm is about the one of that name here; of one that does not stand here it is about nothing."""
        if not request.alarm:
            return request
        key = self._lived.named.get(request.alarm)
        alarm = self._stood.alarms.get(key) if key else None
        return replace(request, alarm=alarm.number) if alarm else None

    def _seen(self, upto: int) -> Window:
        """A probe's readings as far as they had arrived."""

        def window(probe: str, start: Millis, end: Millis) -> list[Reading]:
            kept = self._by_probe.get(probe, [])
            first, last = (bisect_left(kept, t, key=attrgetter("at")) for t in (start, end))
            return [r for r in kept[first:last] if r.arrival <= upto]

        return window

    def _told_since(self, start: Millis) -> Iterator[Known]:
        steps = (step for step in self._transitions if step.at >= start - DAY)
        return told_of(steps, self._stood.alarms.values(), self._past)


_OF_PROBES = frozenset(
    {Condition.SILENT, Condition.FAULTY, Condition.STUCK, Condition.UNWATCHED, Condition.POWER_BACK}
)
"""What a reading of any quality may end."""


_WINDOW: Millis = DAY + HOUR
"""Longer than the day that a median looks back on."""


class _Quiet(NamedTuple):
    """Between which values of a probe no watch can be broken that is not already, whatever its neighbours say. For moisture they
    are per cent, and `slope` is the most that one step of what the probe sends can be.
    """

    probe: Probe
    low: float
    high: float
    slope: float | None


def _climate(key: AlarmKey) -> bool:
    return key.condition in CLIMATE_CONDITIONS


def _goes_on(known: ProbeMemory | None, reading: Reading) -> bool:
    """Whether a reading goes on from a probe at which nothing is the matter."""
    return (
        known is not None
        and known.untrusted_since is None
        and reading.quality is Quality.GOOD
        and (known.last_at is None or reading.at > known.last_at)
    )


def _quiet_of(book: Book) -> Iterator[tuple[str, _Quiet]]:
    """Of probes that are their zone's only one, stay where they are and are taken as they speak."""
    for watched in book.watched.values():
        for probe in watched.probes.values():
            views = watched.by_probe.get(probe.id, ())
            moved = probe.id in watched.moved or probe.id in book.moved
            if (
                not moved
                and probe.offset == 0.0
                and probe.scale == 1.0
                and all(_is_alone(probe.id, v) for v in views)
            ):
                low, high = _inside(v for v in views if v.statistic is not Statistic.RISE)
                slope = _steepest(probe) if probe.measures is Measures.MOISTURE else None
                if probe.measures is Measures.TEMPERATURE or slope is not None:
                    yield probe.id, _Quiet(probe, low, high, slope)


def _steepest(probe: Probe) -> float | None:
    points = sorted((p.counts, p.moisture) for p in probe.calibration)
    steps = [abs((y1 - y0) / (x1 - x0)) for (x0, y0), (x1, y1) in pairwise(points) if x1 > x0]
    return max(steps, default=None)


def _is_alone(probe: str, view: View) -> bool:
    return any(len(probes) == 1 and probes[0].id == probe for _, probes in view.zones)


def _inside(views: Iterable[View]) -> tuple[float, float]:
    watches = [w for v in views for _, ws in v.keys for w in ws]
    low = max((w.bound.value for w in watches if w.below), default=float("-inf"))
    return low, min((w.bound.value for w in watches if not w.below), default=float("inf"))
