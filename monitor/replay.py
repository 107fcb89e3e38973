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
from functools import cached_property
from operator import attrgetter

from monitor.alarms.cycle import Transition
from monitor.checks.delays import Phase
from monitor.checks.findings import AlarmKey, Condition, Kind, PastEpisode
from monitor.checks.fold import Bench, bench, fold
from monitor.checks.memory import (
    GAPS,
    HISTORY,
    SHORTEST_SILENCE,
    ProbeMemory,
    from_history,
    nothing_of,
    remember,
    silence,
)
from monitor.checks.probes import deadline
from monitor.checks.still import Still
from monitor.checks.system import System
from monitor.checks.watches import Watched
from monitor.due import given, hours, refreshed_at, silences
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
from monitor.readings import DAY, Measures, Millis, Quality, Reading
from monitor.rules import Probe, Rules
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
        self._hour: Millis = 0
        """The next hour of somebody."""
        self._benches: dict[str, tuple[Bench, Still | None]] = {}
        self._slow: set[str] = set()
        self._transitions: list[Transition] = []
        self._past: list[PastEpisode] = []
        self._notices: list[Notice] = []
        self._judged = 0

    def run(self) -> Replayed:
        """Round after round."""
        readings, arrivals, asked = self._lived.readings, self._arrivals, self._lived.asked
        every, total = self._every_round, len(arrivals)
        for index, row in enumerate(self._lived.rounds):
            anew = row.settings != self._version
            comes = self._next < total and arrivals[self._next] <= row.upto_arrival
            if not (comes or anew or row.at >= self._due or row.number in asked or every):
                continue
            end = bisect_right(arrivals, row.upto_arrival, lo=self._next)
            news = readings[self._next : end]
            if anew:
                self._use(row, index)
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
        self._catch_up()
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
        self._hour = 0
        self._forget()

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
        if self._every_round or anew or row.number in self._lived.asked or self._new_bins:
            return True
        if row.at >= self._due:
            self._due = self._deadline()
            if row.at >= self._due:
                return True
        return bool(news) and not self._moves_nothing(news, row.at)

    @cached_property
    def _new_bins(self) -> bool:
        return bool(new_bins(self._stood, self._in_force))

    def _deadline(self) -> Millis:
        self._catch_up()
        self._slow = {id_ for id_, m in self._memory.items() if self._misses_late(id_, m)}
        silent = (at for at in silences(self._memory, self._stood.known_since, self._in_force) if at > self._last)
        return min(self._slot, min(silent, default=EVER))

    @cached_property
    def _slot(self) -> Millis:
        """When something is due that no probe has to do with."""
        rules, stood, last = self._in_force.rules, self._stood, self._last
        if self._hour <= last:
            self._hour = min((at for at in hours(rules, last) if at > last), default=EVER)
        there = (self._hour, *refreshed_at(stood), *given(stood, rules))
        return min(at for at in there if at > last)

    def _misses_late(self, id_: str, memory: ProbeMemory) -> bool:
        probe = self._in_force.probes.get(id_)
        return probe is not None and probe.every is None and silence(probe, memory) > SHORTEST_SILENCE

    def _moves_nothing(self, news: Sequence[Reading], now: Millis) -> bool:
        """Whether these readings change nothing but what is remembered of their probes; then they are remembered."""
        if len(news) == 1 and self._passes_alone(news[0]):
            return True
        book = self._in_force
        probes, beds = self._troubled
        together: dict[str, list[Reading]] = {}
        air: list[Reading] = []
        for reading in news:
            bed = book.home(reading) if book.moved else book.bin_of.get(reading.probe)
            if reading.probe in probes or bed in beds or reading.quality is not Quality.GOOD:
                return False
            if reading.probe in self._slow and reading.at + SHORTEST_SILENCE <= now:
                return False  # it may be missed as soon as it has spoken
            if bed is not None:
                together.setdefault(bed, []).append(reading)
            elif reading.probe in book.probes:
                air.append(reading)
        return self._goes_on(air) and self._beds_move_nothing(together, air)

    def _passes_alone(self, reading: Reading) -> bool:
        """The quick way for what most rounds are: one good reading of a bin at which nothing else is looked for."""
        probes, beds = self._troubled
        book, probe = self._in_force, reading.probe
        bed = None if book.moved else book.bin_of.get(probe)
        if bed is None or bed in beds or probe in probes or self._slow or reading.quality is not Quality.GOOD:
            return False
        known = self._benches.get(bed)
        still = known[1] if known is not None else self._still(bed)
        return still is not None and still.passes_alone(reading)

    def _goes_on(self, air: Sequence[Reading]) -> bool:
        """Whether readings of a place's air go on from probes at which nothing is the matter."""
        return all(_plain(self._memory.get(r.probe), r) for r in air)

    def _beds_move_nothing(self, together: Mapping[str, Sequence[Reading]], air: Sequence[Reading]) -> bool:
        passed: list[Still] = []
        folded: list[str] = []
        for bed, readings in together.items():
            still = self._still(bed)
            if still is not None and still.passes(readings):
                passed.append(still)
            elif still is not None and self._fold_moves_nothing(bed, readings):
                folded.append(bed)
            else:
                for one in passed:
                    one.undo()
                for one_folded in (*folded, bed):
                    self._benches.pop(one_folded, None)
                return False
        for bed in folded:
            self._memory |= self._benches[bed][0].memory
        for reading in air:
            self._memory[reading.probe] = remember(self._memory.get(reading.probe), reading)
        self._hurry(news for readings in (*together.values(), air) for news in readings)
        return True

    @cached_property
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

    def _still(self, bed: str) -> Still | None:
        """What a bin's readings are held against until the next round that is judged; None while an alarm and its condition do
        not say the same.
        """
        if bed not in self._benches:
            watched = self._in_force.watched[bed]
            on = bench(watched, memory=self._remembered(watched), phases=self._phases(watched))
            self._benches[bed] = (on, Still(watched, on) if self._agree(bed, on) else None)
        return self._benches[bed][1]

    def _remembered(self, watched: Watched) -> dict[str, ProbeMemory]:
        return {p: self._memory.get(p) or nothing_of(probe) for p, probe in watched.probes.items()}

    def _phases(self, watched: Watched) -> dict[str, Phase]:
        phases = self._stood.phases
        return {w.name: phases[w.name] for w in watched.watches if w.name in phases} if phases else {}

    def _agree(self, bed: str, on: Bench) -> bool:
        """Whether a bin's alarms and their conditions say the same."""
        active = {
            a.key: a.level
            for a in self._stood.alarms.values()
            if a.active and a.key.subject.bed == bed and _climate(a.key)
        }
        return active == {key: course.level for key, course in on.courses.items()}

    def _go_on(self) -> None:
        """Keep what no phase has moved at in a round that was judged; let go of the rest."""
        for bed, (on, still) in list(self._benches.items()):
            watched = self._in_force.watched[bed]
            if still is not None and on.phases == self._phases(watched) and self._agree(bed, on):
                on.memory |= self._remembered(watched)
                still.go_on(on.memory)
            else:
                del self._benches[bed]
        self._let_go()

    def _fold_moves_nothing(self, bed: str, readings: Sequence[Reading]) -> bool:
        """Whether phases, courses and levels stay as they are. When they do not, the bench is of no more use."""
        watched, (on, still) = self._in_force.watched[bed], self._benches[bed]
        if still is not None:
            self._memory |= still.settle()
        if not all(_plain(self._memory.get(r.probe), r) for r in readings):
            return False
        phases, courses = dict(on.phases), dict(on.courses)
        over = fold(watched, readings, on)
        self._benches[bed] = (on, Still(watched, on))
        return not over and phases == on.phases and courses == on.courses

    def _hurry(self, news: Iterable[Reading]) -> None:
        """A probe that spoke seldom and now speaks more often is missed sooner."""
        for reading in news if self._slow else ():
            if reading.probe in self._slow:
                self._catch_up()
                probe, memory = self._in_force.probes[reading.probe], self._memory[reading.probe]
                self._due = min(self._due, deadline(probe, memory, None) or EVER)

    def _catch_up(self) -> None:
        """Remember everything that was passed over."""
        for _, still in self._benches.values():
            if still is not None:
                self._memory |= still.settle()

    # A whole round

    def _forget(self) -> None:
        """Let go of what was derived from what stood."""
        self._benches.clear()
        self._let_go()

    def _let_go(self) -> None:
        for derived in ("_troubled", "_new_bins", "_slot"):
            self.__dict__.pop(derived, None)

    def _judge(self, row: RoundRow, news: Sequence[Reading]) -> None:
        self._catch_up()
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
        if row.at < self._last:
            self._hour = 0
        self._last = row.at
        self._go_on()
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


def _climate(key: AlarmKey) -> bool:
    return key.condition in CLIMATE_CONDITIONS


def _plain(known: ProbeMemory | None, reading: Reading) -> bool:
    """Whether a reading goes on from a probe at which nothing is the matter."""
    return (
        known is not None
        and known.untrusted_since is None
        and reading.quality is Quality.GOOD
        and (known.last_at is None or reading.at > known.last_at)
    )
