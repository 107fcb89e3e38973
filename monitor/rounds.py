"""What time does: flush, ask the clock once, judge, commit in one transaction, send.

The round is the only writer of what is decided. When the store fails, what is in hand is judged all the same,
harm goes straight out marked unrecorded, and nothing is acknowledged to the broker until it is durable.
"""

from __future__ import annotations

import json
import logging
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from monitor.alarms.holds import last_words_in, shelves_in, works_in
from monitor.checks.ahead import outlooks_in
from monitor.checks.delays import phase_of
from monitor.checks.findings import AlarmKey
from monitor.checks.mat_years import years_in
from monitor.checks.memory import GAPS, HISTORY, ProbeMemory, from_history
from monitor.checks.power import Outage
from monitor.checks.squeezes import squeezes_in
from monitor.checks.system import System
from monitor.diary import EVERY, needed
from monitor.due import next_deadline
from monitor.errors import BadValue, StoreError
from monitor.gathering import EVER, ROUNDS_OF_A_DAY, Known, backfilled, lately, new_bins, told_of, weeks_heard
from monitor.hourly import Hourly, Hours
from monitor.judge import READ_SINCE, Arrived, Book, Late, Outcome, ReadSince, Stood, judge
from monitor.neighbours import Neighbours
from monitor.notify.ledger import ledger_of
from monitor.notify.notices import Post
from monitor.readings import DAY, Measures, Millis, Reading
from monitor.rules import Level, Probe, Rules
from monitor.store.promises import Past, Round, RoundRow, Store

log = logging.getLogger(__name__)

KNOWN = 500
"""How many steps and past episodes back an episode of late readings is looked for among what was told."""
AT_ONCE, AT_ONCE_A_PROBE = 2_000, 4
"""Readings that one round takes up at most, so that a backlog of a week does not fill the memory of a small board; and
for each probe, so that what comes within a minute is one round however many probes there are. A round costs by its
probes as well as by its readings, so many small ones would cost a large site more than a few large ones.
"""


class Flushed(Protocol):
    """What the pump answers: `in_hand` is what it could not make durable."""

    @property
    def ok(self) -> bool:
        """Whether everything received before the flush is durable."""

    @property
    def in_hand(self) -> Sequence[Reading]:
        """Readings that are not."""

    @property
    def error(self) -> str | None:
        """Why not."""

    @property
    def blind(self) -> bool:
        """Whether newer readings wait at the broker unseen."""


@dataclass(frozen=True, slots=True)
class Report:
    """What one round did, for the log line and for whoever waits for it."""

    number: int
    at: Millis
    readings: int
    looked_at: int
    transitions: int
    notices: int
    failed: Mapping[str, str]
    stored: bool

    def __str__(self) -> str:
        said = (
            f"round {self.number}: {self.readings} readings, {self.looked_at} bins looked at, "
            f"{self.transitions} steps, {self.notices} notices"
        )
        if self.failed:
            said += f"; failed: {', '.join(f'{bed} ({why})' for bed, why in self.failed.items())}"
        return said if self.stored else said + "; NOT STORED"


class Rounds:
    """One round after the other. Not safe to run from two threads at once: the schedule never does."""

    def __init__(
        self,
        *,
        store: Store,
        rules: Rules,
        now: Callable[[], Millis],
        flush: Callable[[], Flushed],
        system: Callable[[], System],
        nudge: Callable[[], None],
        straight: Callable[[Post], None],
        set_right: Callable[[], bool] = lambda: False,
        outage: Callable[[], Outage | None] = lambda: None,
    ) -> None:
        """`set_right` looks at the clock, and says whether it has moved kept times; `outage` tells when the machine was
        last off.
        """
        self._store = store
        self._book = Book.of(rules)
        self._now = now
        self._flush = flush
        self._system = system
        self._nudge = nudge
        self._straight = straight
        self._set_right = set_right
        self._times_moved = False
        self._outage = outage
        self._store_error: str | None = None
        self._missed = 0.0
        self._said_straight: set[tuple[AlarmKey, Level | None]] = set()
        past = store.load()
        self._number = past.last_round.number if past.last_round else 0
        self._upto = past.last_round.upto_arrival if past.last_round else 0
        self._stood = restored(past, store, self._book, upto=self._upto)
        self._recover = new_bins(self._stood, self._book)
        self._failed: set[str] = set()
        self._neighbours = Neighbours(store, rules)
        self._hourly = Hourly(store, rules)
        self._hours = Hours()

    def use(self, rules: Rules, *, anew: bool = False) -> None:
        """Judge by these rules from the next round on. With `anew` ids have changed in the store, and everything that
        stands is read again. Raises StoreError, having changed nothing.
        """
        book = Book.of(rules)
        if anew:
            self._stood = restored(self._store.load(), self._store, book, upto=self._upto)
            self._failed = set()
        else:
            self._stood = replace(self._stood, memory=self._memory_by(book))
        self._book = book
        self._neighbours.use(rules)
        self._hourly.use(rules, anew=anew)
        self._recover = new_bins(self._stood, self._book)

    def _memory_by(self, book: Book) -> dict[str, ProbeMemory]:
        """What is remembered of the probes of these rules: of one that is new or another than before it is derived
        from its readings, as after a restart.
        """
        before, memory = self._book.probes, self._stood.memory
        same = {p for p, probe in book.probes.items() if before.get(p) == probe}
        others = [probe for p, probe in book.probes.items() if p not in same]
        seen = [row.upto_arrival for row in self._store.rounds(ROUNDS_OF_A_DAY)] if others else []
        derived = {p.id: m for p in others if (m := _memory_of(p, self._store, self._upto, seen)) is not None}
        return {p: m for p, m in memory.items() if p in same} | derived

    @property
    def stands(self) -> Stood:
        """What stands after the last round."""
        return self._stood

    def next_deadline(self, after: Millis, before: Millis) -> Millis | None:
        """The next time between the two at which a round is due although nothing is heard: somebody's evening or
        morning comes, an answer to harm has been waited for in vain, a shelf or a work ends, or a probe has been silent
        for too long. For clocks that are moved by hand.
        """
        return next_deadline(self._stood, self._book, after=after, before=before)

    @property
    def _at_once(self) -> int:
        return max(AT_ONCE, AT_ONCE_A_PROBE * len(self._book.probes))

    def run(self) -> Report:
        """One whole round; while a backlog is worked off, as many as it takes, one after the other."""
        report = self._one()
        while report.stored and report.readings >= self._at_once:
            report = self._one()
        return report

    def _one(self) -> Report:
        flushed = self._flush()
        self._times_moved = self._set_right() or self._times_moved
        if self._times_moved:
            self._load_anew()
        now = self._now()
        arrived, upto, failing = self._gather(flushed, now)
        outcome = judge(self._stood, arrived, self._book)
        stored = failing is None and self._commit(outcome, now, upto)
        if stored:
            self._advance(outcome, upto)
        else:
            self._tell_unrecorded(outcome)
        self._nudge()
        report = Report(
            number=self._number,
            at=now,
            readings=len(arrived.readings),
            looked_at=outcome.looked_at,
            transitions=len(outcome.transitions),
            notices=len(outcome.notices),
            failed=outcome.failed,
            stored=stored,
        )
        log.log(_level(report), "%s", report)
        return report

    def _load_anew(self) -> None:
        """Times have moved: all that is remembered of them is old, and delays are found anew in the readings. Raises
        StoreError; then nothing is judged by old times, and the next round tries again.
        """
        self._stood = restored(self._store.load(), self._store, self._book, upto=self._upto)
        self._hourly.load()
        self._recover = set(self._book.watched)
        self._times_moved = False

    def _unjudged(self) -> list[Reading]:
        """What came while a bin's step failed: it was seen by its rounds, and judged by none."""
        probes = [p for bed in self._failed if bed in self._book.watched for p in self._book.watched[bed].probes]
        return [
            r
            for probe in probes
            for r in self._store.window(probe, self._known_to(probe), EVER)
            if r.arrival <= self._upto
        ]

    def _known_to(self, probe: str) -> Millis:
        memory = self._stood.memory.get(probe)
        return memory.last_at + 1 if memory and memory.last_at is not None else 0

    def missed(self, seconds: float) -> None:
        """The schedule tells by how many real seconds a round came late; the next round makes a finding of it."""
        log.warning("a round came %.0f s late", seconds)
        self._missed = max(self._missed, seconds)

    def _take_missed(self) -> float:
        late, self._missed = self._missed, 0.0
        return late

    def _gather(self, flushed: Flushed, now: Millis) -> tuple[Arrived, int, str | None]:
        failing = None if flushed.ok else flushed.error or "the store does not answer"
        kept, upto, self._hours = Arrived(now), self._upto, Hours()
        try:
            kept, upto = self._kept(now)
        except StoreError as error:
            failing = failing or str(error)
        known = {(r.probe, r.at) for r in kept.readings} if flushed.in_hand else set()
        in_hand = [r for r in flushed.in_hand if (r.probe, r.at) not in known]
        self._store_error = failing or self._store_error
        system = replace(
            self._system(),
            store_error=self._store_error,
            blind=flushed.blind,
            round_missed=self._take_missed(),
        )
        return (
            replace(kept, readings=[*kept.readings, *in_hand], system=system, outage=self._outage()),
            upto,
            failing,
        )

    def _kept(self, now: Millis) -> tuple[Arrived, int]:
        """What the store has for this round, and up to which arrival. Raises StoreError."""
        fresh = self._store.after(self._upto, self._at_once)
        upto = fresh[-1].arrival if fresh else self._upto
        readings = [*self._unjudged(), *fresh]
        # while a backlog is worked off, the end of no hour is there yet
        self._hours = self._hourly.due(now, upto, self._stood.diary) if len(fresh) < self._at_once else Hours()
        arrived = Arrived(
            now=now,
            readings=readings,
            requests=self._store.asked(),
            late=self._late(readings),
            backfill=self._backfill(now),
            days=self._neighbours.due(now),
            hours=self._hours.told,
            rooms=self._hourly.rooms(self._hours),
            weeks=weeks_heard(self._book, self._stood.ledger.weeks, now, self._store.window)
            if len(fresh) < self._at_once
            else {},
        )
        return arrived, upto

    def _late(self, readings: Sequence[Reading]) -> dict[str, Late]:
        return lately(
            readings, self._book, memory=self._stood.memory, window=self._store.window, told=self._told_since
        )

    def _told_since(self, start: Millis) -> Iterator[Known]:
        steps = self._store.transitions(start - DAY, limit=KNOWN)
        return told_of(steps, self._stood.alarms.values(), self._store.past_episodes(KNOWN))

    def _backfill(self, now: Millis) -> dict[str, dict[str, Sequence[Reading]]]:
        """The stored readings of bins whose watches are new or whose last step failed."""

        def seen(probe: str, start: Millis, end: Millis) -> list[Reading]:
            return [r for r in self._store.window(probe, start, end) if r.arrival <= self._upto]

        return backfilled(self._recover, self._book, now, seen)

    def _commit(self, outcome: Outcome, now: Millis, upto: int) -> bool:
        row = RoundRow(self._number + 1, now, self._book.rules.version, upto)
        try:
            self._store.commit(
                Round(
                    row=row,
                    standing=(*outcome.standing, *self._hours.documents),
                    alarms=outcome.alarms,
                    ended=outcome.ended,
                    transitions=outcome.transitions,
                    past=outcome.past,
                    advice=outcome.advice,
                    notices=outcome.notices,
                    decisions=outcome.decisions,
                    untold=outcome.untold,
                    told=outcome.told,
                    diary=outcome.diary,
                    requests=outcome.requests,
                )
            )
        except (StoreError, BadValue) as error:
            # BadValue: a document that could not be read back; nothing of the round was written
            self._store_error = str(error)
            log.error("the round could not be stored: %s", error)
            return False
        return True

    def _advance(self, outcome: Outcome, upto: int) -> None:
        self._number += 1
        self._upto = upto
        self._hourly.keep(self._hours)
        self._stood = outcome.stands
        self._store_error = None
        self._recover = new_bins(self._stood, self._book)
        self._failed = set(outcome.failed)
        self._said_straight.clear()

    def _tell_unrecorded(self, outcome: Outcome) -> None:
        """Harm and the failing store itself go out although nothing can be written; each once."""
        for notice in outcome.notices:
            fresh = {
                (a.key, a.level) for a in outcome.stands.alarms.values() if a.number in notice.alarms
            } - self._said_straight
            if not fresh:
                continue
            self._said_straight |= fresh
            for channel in notice.channels:
                self._straight(Post(notice, channel))


def _level(report: Report) -> int:
    """How loud a round is said: one in which nothing moved is not, because a line in a log costs a card as much as it."""
    if report.failed or not report.stored:
        return logging.WARNING
    return logging.INFO if report.transitions or report.notices else logging.DEBUG


def restored(past: Past, store: Store, book: Book, *, upto: int) -> Stood:
    """What stood when the last round was committed. The memory of each probe is derived anew from its readings."""
    kept: defaultdict[str, dict[str, str]] = defaultdict(dict)
    for (kind, key), body in past.standing.items():
        kept[kind][key] = body
    seen = [row.upto_arrival for row in store.rounds(ROUNDS_OF_A_DAY)]
    memory = {p.id: m for p in book.probes.values() if (m := _memory_of(p, store, upto, seen)) is not None}
    untold: dict[tuple[str, str], tuple] = defaultdict(tuple)  # type: ignore[type-arg]
    for one in past.untold:
        untold[one.person, one.place] = (*untold[one.person, one.place], one)
    return Stood(
        memory=memory,
        phases={name: phase_of(body) for name, body in kept["condition"].items()},
        alarms={a.key: a for a in past.alarms},
        advice={a.place: a for a in past.advice},
        untold=dict(untold),
        known_since={probe: json.loads(body) for probe, body in kept["probe"].items()},
        prints={bed: json.loads(body) for bed, body in kept["bin"].items()},
        shelves=shelves_in(past.standing),
        works=works_in(past.standing),
        squeezes=squeezes_in(past.standing),
        read_since=read_since_in(past.standing),
        last_word=last_words_in(past.standing),
        diary=tuple(needed(store.diary(EVERY))),
        ledger=ledger_of(kept),
        outlooks=outlooks_in(past.standing),
        mat_years=years_in(past.standing),
        next_alarm=past.next_alarm,
        next_notice=past.next_notice,
    )


def read_since_in(standing: Mapping[tuple[str, str], str]) -> dict[str, ReadSince]:
    """Since when each probe is read, and stands, as it does: those among what stands between rounds."""
    found = {
        key.partition(":")[2]: json.loads(body) for (kind, key), body in standing.items() if kind == READ_SINCE
    }
    return {probe: (print_, since) for probe, (print_, since) in found.items()}


def _memory_of(probe: Probe, store: Store, upto: int, seen: Sequence[int]) -> ProbeMemory | None:
    readings = store.latest(probe.id, GAPS + 1, upto)
    if not readings:
        return None
    if probe.measures is Measures.MOISTURE:
        newest = readings[-1].at
        day = [r for r in store.window(probe.id, newest - HISTORY, newest + 1) if r.arrival <= upto]
        readings = max(readings, day, key=len)
    return from_history(probe, readings, rounds=seen)
