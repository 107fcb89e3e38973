"""One round as a function: what stood, what arrived and what was asked → what stands, and what is told.

Pure: no clock, no store, no settings file. `rounds` calls it with the present, `replay` will with the past; equal
arguments give equal outcomes for ever. One bin that cannot be judged never stops the others: its failure
is an alarm of its own.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from hashlib import sha256
from typing import TypeVar

from monitor import asked
from monitor.advice.acts import Advice
from monitor.advice.decide import decide
from monitor.advice.foreseen import roughly
from monitor.advice.present import Present, drawn_by, present
from monitor.alarms import causes, cycle, quiet
from monitor.alarms.cycle import Alarm, Transition
from monitor.alarms.holds import LAST_WORD, SHELF, WORK, Shelf, Work, shelf_text, work_key, work_text
from monitor.alarms.priority import CLIMATE
from monitor.alarms.quiet import Ended, Quiet
from monitor.bed.room import Room
from monitor.checks.ahead import (
    KIND as AHEAD,
)
from monitor.checks.ahead import (
    Nights,
    Outlook,
    harm_ahead,
    look_ahead,
    not_told_any_more,
    outlook_text,
)
from monitor.checks.bins import backfill, look
from monitor.checks.delays import Phase, PhaseName, phase_text
from monitor.checks.drift import Days, Group, groups, look_at_neighbours, not_compared
from monitor.checks.findings import AlarmKey, Condition, Finding, Kind, PastEpisode
from monitor.checks.late import past_episodes
from monitor.checks.mat_years import KIND as MAT_YEAR
from monitor.checks.mat_years import MatYear, look_at_mat_years, year_text
from monitor.checks.mats import look_at_mats
from monitor.checks.memory import ProbeMemory, remember, speaks_for
from monitor.checks.power import Outage, look_at_power
from monitor.checks.probes import Roll, look_at_probes, roll
from monitor.checks.squeezes import (
    SQUEEZE,
    Squeeze,
    Squeezes,
    can_be_squeezed,
    keys_of,
    look_at_squeezes,
    squeeze_text,
)
from monitor.checks.system import System, look_at_system
from monitor.checks.watches import Watched, watch_over
from monitor.diary import Deed, Entry, needed
from monitor.notify.alive import sign_of_life
from monitor.notify.ledger import EMPTY, Ledger, changes
from monitor.notify.notices import Decision, Notice, Untold
from monitor.notify.plan import plan
from monitor.notify.text import Life, Text
from monitor.readings import HOUR, MINUTE, Millis, Reading
from monitor.rules import Level, Person, Probe, Role, Rules
from monitor.store.promises import Request, Standing

ReadSince = tuple[str, Millis]
"""How a probe is read and placed, and since when its readings are compared with its neighbours'."""
READ_SINCE = "read since"
"""The kind of their documents among those that stand between rounds."""

Queue = tuple[str, str]
"""A person and a place: one queue of what is still to be told."""

Hold = TypeVar("Hold", Shelf, Work, Squeeze, ReadSince, Millis, Outlook, MatYear)

CLIMATE_CONDITIONS = frozenset(condition for condition, _ in CLIMATE)
"""What a bed's limits raise."""


@dataclass(frozen=True, slots=True)
class Book:
    """What one version of the rules says, made ready once: who feeds whom, and every watch by bin."""

    rules: Rules
    probes: Mapping[str, Probe]
    bin_of: Mapping[str, str]
    """Probe id → bin id; the probes of places are not in here."""
    moved: Mapping[str, tuple[tuple[Probe, str | None], ...]]
    """Probe id → where it stands when (the bin, None in a place's air), of those that are moved."""
    watched: Mapping[str, Watched]
    names: frozenset[str]
    """The name of every watch."""
    keys: frozenset[AlarmKey]
    """What a limit can raise."""
    roll: Roll
    places: Mapping[str, str]
    """Bin id → place id."""
    groups: tuple[Group, ...]
    """Thermometers that are compared with each other."""
    compared: Mapping[str, str]
    """Probe id → a print of how it is read and where it stands, of all of those."""
    prints: Mapping[str, str]
    """Bin id → a print of its watches: another limit, another print."""

    def home(self, reading: Reading) -> str | None:
        """The bin in which its probe stood when a reading was taken; None in a place's air, and where it stood nowhere."""
        placements = self.moved.get(reading.probe)
        if placements is None:
            return self.bin_of.get(reading.probe)
        return next((bed for probe, bed in placements if probe.stands(speaks_for(reading))), None)

    @classmethod
    def of(cls, rules: Rules) -> Book:
        """The book of these rules."""
        watched = {bed.id: watch_over(bed) for bed in rules.bins.values()}
        together = groups(rules)
        return cls(
            rules=rules,
            probes=rules.sources(),
            bin_of=_bins_of(rules),
            moved=_moved(rules),
            watched=watched,
            names=frozenset(watch.name for over in watched.values() for watch in over.watches),
            keys=frozenset(key for over in watched.values() for key in (*over.keys, *keys_of(over.bed))),
            roll=roll(rules, watched.values()),
            places={bed.id: bed.place for bed in rules.bins.values()},
            groups=together,
            compared=_compared(rules, together),
            prints={bed: _print_of(over) for bed, over in watched.items()},
        )


def _bins_of(rules: Rules) -> dict[str, str]:
    """The bin of each probe; of one that is moved the last."""
    found = [(p, bed.id) for bed in rules.bins.values() for zone in bed.zones for p in zone.probes]
    return {p.id: bed for p, bed in sorted(found, key=lambda pair: pair[0].since or 0)}


def _moved(rules: Rules) -> dict[str, tuple[tuple[Probe, str | None], ...]]:
    found: dict[str, list[tuple[Probe, str | None]]] = defaultdict(list)
    for place in rules.places.values():
        for p in place.probes:
            found[p.id].append((p, None))
    for bed in rules.bins.values():
        for p in (p for zone in bed.zones for p in zone.probes):
            found[p.id].append((p, bed.id))
    return {id_: tuple(all_) for id_, all_ in found.items() if any(p.moved for p, _ in all_)}


def _compared(rules: Rules, together: Sequence[Group]) -> dict[str, str]:
    where = {p.id: f"{bed.id}.{zone.id}" for bed in rules.bins.values() for zone in bed.zones for p in zone.probes}
    return {
        p.id: f"{where.get(p.id, group.id)}, times {p.scale!r} plus {p.offset!r}"
        for group in together
        for p in group.probes
    }


def _print_of(watched: Watched) -> str:
    return sha256("\n".join(w.name for w in watched.watches).encode()).hexdigest()[:16]


@dataclass(frozen=True, slots=True)
class Stood:
    """Everything that stands between two rounds. `memory` is derived from readings and never stored."""

    memory: Mapping[str, ProbeMemory] = field(default_factory=dict)
    phases: Mapping[str, Phase] = field(default_factory=dict)
    alarms: Mapping[AlarmKey, Alarm] = field(default_factory=dict)
    advice: Mapping[str, Advice] = field(default_factory=dict)
    untold: Mapping[Queue, tuple[Untold, ...]] = field(default_factory=dict)
    known_since: Mapping[str, Millis] = field(default_factory=dict)
    prints: Mapping[str, str] = field(default_factory=dict)
    """Bin id → the print of the watches it was last judged by."""
    shelves: Mapping[str, Shelf] = field(default_factory=dict)
    """By `holds.shelf_key`."""
    works: Mapping[str, Work] = field(default_factory=dict)
    """Bin id → who works in it."""
    squeezes: Squeezes = field(default_factory=dict)
    read_since: Mapping[str, ReadSince] = field(default_factory=dict)
    """Probe id → how it is read and since when that counts, of probes that are compared with others."""
    compared: Mapping[str, str] | None = None
    """The book's `compared` that `read_since` was last held against."""
    last_word: Mapping[str, Millis] = field(default_factory=dict)
    """Bin id → when it was last said that somebody works in it, or no longer does."""
    diary: tuple[Entry, ...] = ()
    """What of the diary is needed to advise (`diary.NEEDED`)."""
    ledger: Ledger = EMPTY
    """What telling remembers."""
    nights: Nights = field(default_factory=dict)
    """What is told ahead of every bin, as of its newest hour; made again after a restart, never stored."""
    outlooks: Mapping[str, Outlook] = field(default_factory=dict)
    """By `ahead.key_of`."""
    mat_years: Mapping[str, MatYear] = field(default_factory=dict)
    """By mat."""
    expected: Mapping[str, Millis] = field(default_factory=dict)
    """Bin → when harm is expected in it. Follows from `nights`."""
    next_alarm: int = 1
    next_notice: int = 1


@dataclass(frozen=True, slots=True)
class Late:
    """What is needed to tell of episodes that only late readings show: a bin's readings over the span, in
    order of time, and what is known to have been told of that span.
    """

    history: Mapping[str, Sequence[Reading]]
    known: Sequence[tuple[AlarmKey, Millis, Millis]] = ()


@dataclass(frozen=True, slots=True)
class Arrived:
    """What one round has to judge. `readings` in order of arrival; `backfill` holds the stored readings of
    bins whose watches are new, so that a changed limit is judged at once and not after its delay anew.
    """

    now: Millis
    readings: Sequence[Reading] = ()
    requests: Sequence[Request] = ()
    system: System = field(default_factory=System)
    outage: Outage | None = None
    late: Mapping[str, Late] = field(default_factory=dict)
    backfill: Mapping[str, Mapping[str, Sequence[Reading]]] = field(default_factory=dict)
    days: Mapping[str, Mapping[str, Days]] = field(default_factory=dict)
    """Group of thermometers → what each sent by day, of those that are compared in this round."""
    rooms: Mapping[str, Room] = field(default_factory=dict)
    """The air of every place, as far as it is known."""
    hours: Nights = field(default_factory=dict)
    """Bin → zone → what is told of it at the end of its newest hour, of bins whose hour is taken up in this round."""
    weeks: Mapping[date, bool] = field(default_factory=dict)
    """Of each week that is to be told in this round, by its Monday, whether there is any reading."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What stands after the round, and everything that is to be kept of it."""

    stood: Stood
    """What stood before."""
    stands: Stood
    transitions: tuple[Transition, ...] = ()
    past: tuple[PastEpisode, ...] = ()
    advice: tuple[Advice, ...] = ()
    notices: tuple[Notice, ...] = ()
    decisions: tuple[Decision, ...] = ()
    told: tuple[Queue, ...] = ()
    untold: tuple[Untold, ...] = ()
    diary: tuple[Entry, ...] = ()
    requests: tuple[int, ...] = ()
    alarms: tuple[Alarm, ...] = ()
    ended: tuple[int, ...] = ()
    failed: Mapping[str, str] = field(default_factory=dict)
    """Bins whose step failed, with what went wrong."""
    looked_at: int = 0

    @property
    def standing(self) -> tuple[Standing, ...]:
        """The documents that changed."""
        return tuple(_standing(self.stood, self.stands))


class _Desk:
    """One round at work: the mutable copies it changes, and what it has decided so far."""

    def __init__(self, stood: Stood, arrived: Arrived, book: Book) -> None:
        self.stood, self.arrived, self.book = stood, arrived, book
        self.now = arrived.now
        self.memory = dict(stood.memory)
        self.phases = dict(stood.phases)
        self.alarms = dict(stood.alarms)
        self.advice = dict(stood.advice)
        self.known_since = dict(stood.known_since)
        self.shelves, self.works = dict(stood.shelves), dict(stood.works)
        self.squeezes = dict(stood.squeezes)
        self.read_since = stood.read_since
        self.last_word = dict(stood.last_word)
        self.nights, self.outlooks = stood.nights, stood.outlooks
        self.expected, self.mat_years = stood.expected, stood.mat_years
        self.unshelved: dict[str, Ended] = {}
        self.returned: dict[str, Ended] = {}
        self.next_alarm = stood.next_alarm
        self.transitions: list[Transition] = []
        self.past: list[PastEpisode] = []
        self.diary: list[Entry] = []
        self.failed: dict[str, str] = {}
        self.looked_at = 0

    @property
    def bins(self) -> Collection[str]:
        """The bins that the settings know."""
        return self.book.rules.bins

    def standing_by_bin(self) -> dict[str, dict[AlarmKey, Level | None]]:
        """The keys of alarms whose condition is there with their levels, by bin."""
        found: dict[str, dict[AlarmKey, Level | None]] = defaultdict(dict)
        for key, alarm in self.alarms.items():
            if alarm.active and key.subject.kind in (Kind.BIN, Kind.ZONE):
                found[key.subject.bed][key] = alarm.level
        return found

    def put(self, key: AlarmKey, after: Alarm | None, moves: Iterable[Transition]) -> None:
        """Keep what an alarm became."""
        if after is None:
            self.alarms.pop(key, None)
        else:
            self.alarms[key] = after
        self.transitions.extend(moves)

    def step(self, findings: Iterable[Finding], unfounded: Collection[AlarmKey] = ()) -> None:
        """Move the alarms that the findings are about. Of `unfounded` ones the limit has changed: where nothing is the
        matter by the new one, no reading has ended them.
        """
        for finding in findings:
            before = self.alarms.get(finding.key)
            if before is not None and finding.level is None and finding.key in unfounded:
                self.put(finding.key, None, cycle.remove(before, "limits changed", round_at=self.now))
                continue
            after, moves = cycle.step(before, finding, round_at=self.now, next_number=self.next_alarm)
            if after is not None and after.number == self.next_alarm:
                self.next_alarm += 1
            self.put(finding.key, after, moves)


def judge(stood: Stood, arrived: Arrived, book: Book) -> Outcome:
    """One round. `book` is of the rules in force; the same for the whole round."""
    desk = _Desk(stood, arrived, book)
    _settle(desk)
    # What people asked for comes before what is new, so that nobody acknowledges what they never saw.
    asked.apply(desk, arrived.requests)
    _compare_anew(desk)
    _look_at_bins(desk)
    _look_at_the_rest(desk)
    _look_ahead(desk)
    _suppress(desk)
    _hush(desk)
    fresh_advice = _advise(desk)
    return _told(desk, fresh_advice)


def _settle(desk: _Desk) -> None:
    """Let go of what the rules no longer know: its alarms end with a cause, its phases with nothing."""
    for name in [name for name in desk.phases if name not in desk.book.names]:
        del desk.phases[name]
    for key, alarm in list(desk.alarms.items()):
        cause = _gone(key, desk.book)
        if cause:
            desk.put(key, None, cycle.remove(alarm, cause, round_at=desk.now))
    for kept in (desk.works, desk.last_word):
        for bed in [bed for bed in kept if bed not in desk.book.rules.bins]:
            del kept[bed]
    for name in [name for name in desk.squeezes if not can_be_squeezed(desk.book.rules, name)]:
        del desk.squeezes[name]
    for probe in desk.book.probes:
        desk.known_since.setdefault(probe, desk.now)


def _gone(key: AlarmKey, book: Book) -> str | None:
    """Why an alarm of this key can no longer be, or None while it can."""
    kind, id_, place = key.subject
    bed, _, zone = id_.partition(".")
    known = {
        Kind.BIN: id_ in book.watched,
        Kind.ZONE: bed in book.watched and any(z.id == zone for z in book.rules.bins[bed].zones),
        Kind.PROBE: id_ in book.probes,
        Kind.MAT: id_ in book.rules.mats,
        Kind.DAEMON: True,
    }[kind]
    if not known or (kind in (Kind.BIN, Kind.ZONE) and place != book.places[bed]):
        return "settings changed"
    return "limits changed" if key.condition in CLIMATE_CONDITIONS and key not in book.keys else None


def _look_at_bins(desk: _Desk) -> None:
    news: dict[str, list[Reading]] = defaultdict(list)
    for reading in desk.arrived.readings:
        bed = desk.book.home(reading)
        if bed is not None:
            news[bed].append(reading)
        elif reading.probe in desk.book.probes:
            desk.memory[reading.probe] = remember(desk.memory.get(reading.probe), reading)
    standing = desk.standing_by_bin()
    for bed in sorted(news.keys() | desk.arrived.backfill.keys() & desk.book.watched.keys()):
        try:
            _look_at_bin(desk, desk.book.watched[bed], news=news.get(bed, []), standing=standing.get(bed, {}))
        except Exception as broken:  # one bad bin never stops the round for the others
            desk.failed[bed] = f"{type(broken).__name__}: {broken}"


def _look_at_bin(
    desk: _Desk, watched: Watched, *, news: Sequence[Reading], standing: Mapping[AlarmKey, Level | None]
) -> None:
    bed, filled = watched.bed.id, _filled(desk, watched)
    unfounded = set(standing) - {w.key for w in watched.watches if _present(desk, w.name)} if standing else ()
    looked = look(
        watched,
        fresh=news,
        memory=desk.memory,
        phases={**desk.phases, **filled} if filled else desk.phases,
        standing=standing,
        now=desk.now,
    )
    late = desk.arrived.late.get(bed)
    past = [*looked.past]
    if late is not None and looked.late:
        past += past_episodes(watched, history=late.history, late=looked.late, known=late.known)
    # Only now: a step that failed halfway must have changed nothing.
    desk.memory |= looked.memory
    desk.phases |= filled
    for name, phase in looked.phases.items():
        if phase is None:
            desk.phases.pop(name, None)
        else:
            desk.phases[name] = phase
    desk.past.extend(past)
    desk.step(looked.findings, unfounded)
    desk.looked_at += 1


def _present(desk: _Desk, watch: str) -> bool:
    phase = desk.phases.get(watch)
    return phase is not None and phase.present


def _filled(desk: _Desk, watched: Watched) -> dict[str, Phase]:
    """The phases of watches that are new to this bin, from its stored readings."""
    history = desk.arrived.backfill.get(watched.bed.id)
    if history is None:
        return {}
    # A watch that stands keeps its phase; one of which nothing is kept is new, or clear and found clear again.
    names = [w.name for w in watched.watches if w.name not in desk.phases]
    return backfill(watched, names, history=history, memory=desk.memory)


def _look_at_the_rest(desk: _Desk) -> None:
    system = replace(desk.arrived.system, steps_failed=dict(desk.failed))
    standing = [key for key, alarm in desk.alarms.items() if alarm.active]
    outage = desk.arrived.outage
    desk.step(
        look_at_probes(
            desk.book.roll,
            memory=desk.memory,
            now=desk.now,
            listening_since=system.listening_since,
            known_since=desk.known_since,
            standing=standing,
            powered_since=outage.back if outage else None,
        )
    )
    beds = desk.book.rules.bins.values()
    _look_at_neighbours(desk, standing)
    desk.step(look_at_squeezes(beds, desk.squeezes, memory=desk.memory, standing=standing, now=desk.now))
    desk.step(
        look_at_power(
            outage,
            probes=desk.book.roll.probes,
            memory=desk.memory,
            now=desk.now,
            standing=standing,
            plugs=desk.book.rules.plugs() if outage else (),
        )
    )
    desk.step(look_at_system(system, rules=desk.book.rules, now=desk.now, standing=standing))


def _look_ahead(desk: _Desk) -> None:
    """What is told ahead of bins whose hour is over, and what of it holds no longer."""
    standing = [key for key, alarm in desk.alarms.items() if alarm.active]
    hours, beds = desk.arrived.hours, desk.book.rules.bins
    outlooks: dict[str, Outlook | None] = {}
    expected = dict(desk.expected)
    for bed in sorted(hours.keys() & beds.keys()):
        units = desk.book.rules.site.units
        found, findings = look_ahead(beds[bed], hours[bed], desk.outlooks, standing=standing, units=units)
        outlooks |= found
        desk.step(findings)
        at = harm_ahead(beds[bed], hours[bed])
        expected.pop(bed, None)
        if at is not None:
            expected[bed] = at
    desk.step(look_at_mats(desk.book.rules, hours, standing=standing))
    years, findings = look_at_mat_years(desk.book.rules, hours, desk.mat_years, standing=standing)
    desk.step(findings)
    if years:
        desk.mat_years = {
            mat: one for mat, one in {**desk.mat_years, **years}.items() if mat in desk.book.rules.mats
        }
    over, findings = not_told_any_more({**desk.outlooks, **_kept(outlooks)}, standing, now=desk.now)
    desk.step(findings)
    outlooks |= over
    if hours:
        desk.nights = {bed: told for bed, told in {**desk.nights, **hours}.items() if bed in beds}
    if expected or desk.expected:
        desk.expected = {bed: at for bed, at in expected.items() if at > desk.now - HOUR and bed in beds}
    if outlooks:
        gone = {key for key, one in outlooks.items() if one is None}
        desk.outlooks = {k: one for k, one in {**desk.outlooks, **_kept(outlooks)}.items() if k not in gone}


def _kept(outlooks: Mapping[str, Outlook | None]) -> dict[str, Outlook]:
    return {key: one for key, one in outlooks.items() if one is not None}


def _look_at_neighbours(desk: _Desk, standing: Collection[AlarmKey]) -> None:
    for group in desk.book.groups if desk.arrived.days else ():
        days = desk.arrived.days.get(group.id)
        if days is not None:
            since = {p.id: desk.read_since[p.id][1] for p in group.probes}
            desk.step(look_at_neighbours(group, days, since=since, standing=standing, now=desk.now))
    desk.step(not_compared(standing, desk.book.compared, desk.now))


def _compare_anew(desk: _Desk) -> None:
    """Since when each thermometer counts in the comparison: since it is read, or stands, as it does now, and since somebody
    has seen to it.
    """
    drifting = {a.number: a.key.subject.id for a in desk.alarms.values() if a.key.condition is Condition.DRIFTING}
    seen_to = {drifting[e.alarm] for e in desk.diary if e.deed is Deed.DONE and e.alarm in drifting}
    seen_to |= {e.id for e in desk.diary if e.deed is Deed.MOVED and e.subject.startswith("probe:")}
    if not seen_to and desk.stood.compared is desk.book.compared:
        return  # the common case, cheaply
    since = {}
    for probe, print_ in desk.book.compared.items():
        known = desk.read_since.get(probe, (print_, 0))
        since[probe] = (print_, desk.now) if known[0] != print_ or probe in seen_to else known
    desk.read_since = since


def _suppress(desk: _Desk) -> None:
    after, moves = causes.suppress(desk.alarms, only_probes=desk.book.roll.only_probes, round_at=desk.now)
    desk.alarms |= after
    desk.transitions.extend(moves)


def _hush(desk: _Desk) -> None:
    """What people have laid over alarms: what of it ends now, and what that makes of each alarm."""
    for key, ended in quiet.over(desk.shelves, desk.transitions, now=desk.now).items():
        del desk.shelves[key]
        desk.unshelved[key] = ended
    for bed, work in list(desk.works.items()):
        if work.until <= desk.now:
            del desk.works[bed]
            desk.returned[bed] = Ended(f"The time of the work in {bed} is over.", work.until)
            text = f"the time that {work.who} gave is over"
            desk.diary.append(Entry(work.until, desk.now, work.who, Deed.WORKED, f"bin:{bed}", text))
    laid = Quiet(desk.shelves, desk.works, desk.unshelved, desk.returned)
    alarms = list(desk.alarms.values())
    for after, moves in quiet.over_all(
        alarms,
        laid,
        rules=desk.book.rules,
        bin_of=desk.book.bin_of,
        coming_back=lambda alarm: _coming_back(alarm, desk),
        round_at=desk.now,
    ):
        desk.put(after.key, after, moves)


LATEST: Millis = HOUR
"""So long after its off-delay should have been full, an alarm that nothing more is heard of counts as coming back."""


def _coming_back(alarm: Alarm, desk: _Desk) -> bool:
    """Whether what raised an alarm at its level is past its deadband by now, and only its off-delay is not full."""
    watched = desk.book.watched.get(alarm.key.subject.bed)
    mine = [w for w in watched.watches if w.key == alarm.key and w.level is alarm.level] if watched else []
    there = [(w, phase) for w in mine if (phase := desk.phases.get(w.name)) and phase.present]
    return bool(there) and all(
        phase.name == PhaseName.CLEARING and desk.now <= phase.since + w.off_delay + LATEST for w, phase in there
    )


REFRESH = 5 * MINUTE
"""Advice that still stands is made anew this long before it would expire."""


def _advise(desk: _Desk) -> list[Advice]:
    """One decision for each place in which something moved, or whose advice is about to expire."""
    moved = {t.key.subject.place for t in desk.transitions}
    standing = defaultdict(list)
    for alarm in desk.alarms.values():
        if alarm.advised:
            standing[alarm.key.subject.place].append(alarm)
    moved |= {place for entry in desk.diary for place in _places_of(entry, desk.book)} & standing.keys()
    expiring = {p for p in standing if p not in desk.advice or desk.advice[p].valid_until - REFRESH <= desk.now}
    made = []
    for place in sorted(moved | expiring):
        advice = decide(
            place,
            rules=desk.book.rules,
            alarms=standing[place],
            zones=_zones(desk, standing[place]),
            at=desk.now,
            diary=[*desk.stood.diary, *desk.diary],
            plugs=drawn_by(desk.book.rules, desk.memory, desk.now),
            nights=desk.nights,
            rooms=desk.arrived.rooms,
        )
        desk.advice[place] = advice
        made.append(advice)
    return made


def _places_of(entry: Entry, book: Book) -> set[str]:
    """Where an entry may change what is advised: the place of its bin, or of the bins on its mat."""
    mat = book.rules.mats.get(entry.id) if entry.subject.startswith("mat:") else None
    beds = {bed for bed, _ in mat.warms} if mat else {entry.bed}
    return {book.places[bed] for bed in beds if bed in book.places}


def _zones(desk: _Desk, alarms: Sequence[Alarm]) -> dict[str, Present]:
    """What is known now of every zone that advice may touch: of the bins in alarm and those on their plugs."""
    rules = desk.book.rules
    beds = {a.key.subject.bed for a in alarms if a.key.subject.kind in (Kind.BIN, Kind.ZONE)}
    beds |= {desk.book.bin_of[a.key.subject.id] for a in alarms if a.key.subject.id in desk.book.bin_of}
    if any(a.key.condition is Condition.POWER_BACK for a in alarms):
        beds |= rules.bins.keys()
    beds |= {other for bed in tuple(beds) for mat in rules.mats_of(bed) for other, _ in mat.warms}
    return {
        f"{bed}.{zone.id}": present(zone, desk.memory, desk.now, place=rules.places.get(rules.bins[bed].place))
        for bed in beds
        if bed in rules.bins
        for zone in rules.bins[bed].zones
    }


def _told(desk: _Desk, fresh_advice: Sequence[Advice]) -> Outcome:
    stood = desk.stood
    planned = plan(
        rules=desk.book.rules,
        untold=stood.untold,
        transitions=desk.transitions,
        past=[one for one in desk.past if not _in_work(one, desk.works)],
        alarms={a.number: a for a in desk.alarms.values()},
        advice=desk.advice,
        before=stood.advice,
        now=desk.now,
        next_notice=stood.next_notice,
        stood={a.number: a for a in stood.alarms.values()},
        ledger=stood.ledger,
        values=_deciding(desk),
        life=_life(desk),
        heard=desk.arrived.weeks,
        outlook=desk.expected,
        roughly=lambda place: roughly(place, desk.book.rules, desk.nights, desk.now),
    )
    untold = {queue: waiting for queue, waiting in stood.untold.items() if queue not in planned.told}
    for one in planned.untold:
        untold[one.person, one.place] = (*untold.get((one.person, one.place), ()), one)
    return Outcome(
        stood=stood,
        stands=Stood(
            memory=desk.memory,
            phases=desk.phases,
            alarms=desk.alarms,
            advice=desk.advice,
            untold=untold,
            known_since=desk.known_since,
            prints=_judged_by(desk),
            shelves=desk.shelves,
            works=desk.works,
            squeezes=desk.squeezes,
            read_since=desk.read_since,
            compared=desk.book.compared,
            last_word=desk.last_word,
            diary=(*stood.diary, *needed(desk.diary)),
            ledger=planned.ledger,
            nights=desk.nights,
            outlooks=desk.outlooks,
            expected=desk.expected,
            mat_years=desk.mat_years,
            next_alarm=desk.next_alarm,
            next_notice=planned.next_notice,
        ),
        transitions=tuple(desk.transitions),
        past=tuple(desk.past),
        advice=tuple(fresh_advice),
        notices=tuple(planned.notices),
        decisions=tuple(planned.decisions),
        told=tuple(planned.told),
        untold=tuple(planned.untold),
        diary=tuple(desk.diary),
        requests=tuple(r.id for r in desk.arrived.requests),
        alarms=tuple(a for key, a in desk.alarms.items() if stood.alarms.get(key) != a),
        ended=tuple(_ended(stood, desk)),
        failed=desk.failed,
        looked_at=desk.looked_at,
    )


def _deciding(desk: _Desk) -> dict[int, float]:
    """By number, the value that decides each alarm of a bed now: of its best zone; nothing where nobody knows."""
    found = {}
    for alarm in desk.alarms.values():
        bed, best = desk.book.rules.bins.get(alarm.key.subject.bed), _BEST.get(alarm.key.condition)
        if bed is None or best is None or not alarm.active:
            continue
        warmth = alarm.key.condition in (Condition.COLD, Condition.HOT)
        zones = [z for z in bed.zones if alarm.key.subject.id in (f"{bed.id}.{z.id}", bed.id)]
        zones = [z for z in zones if z.role is Role.LIVING] or zones
        here = [present(z, desk.memory, desk.now) for z in zones]
        known = [v for p in here if (v := p.temperature if warmth else p.moisture) is not None]
        if known:
            found[alarm.number] = best(known)
    return found


_BEST: Mapping[Condition, Callable[[Iterable[float]], float]] = {
    Condition.COLD: max, Condition.HOT: min, Condition.DRY: max, Condition.WET: min,
}  # fmt: skip
"""Which value of several zones a worm would choose."""


def _life(desk: _Desk) -> Life:
    rules = desk.book.rules

    def write(person: Person) -> Text:
        zones = {
            f"{bed.id}.{z.id}": present(z, desk.memory, desk.now) for bed in rules.bins.values() for z in bed.zones
        }
        return sign_of_life(person, rules, alarms=desk.alarms.values(), zones=zones)

    return write


def _in_work(past: PastEpisode, works: Mapping[str, Work]) -> bool:
    """Whether an episode lies within work that still goes on in its bin: kept, and told to nobody."""
    work = works.get(past.key.subject.bed)
    return work is not None and past.began >= work.since


def _ended(stood: Stood, desk: _Desk) -> set[int]:
    """Numbers that stood and stand no longer, and those raised and over within this very round."""
    alive = {a.number for a in desk.alarms.values()}
    seen = {a.number for a in stood.alarms.values()} | {t.number for t in desk.transitions}
    return seen - alive


def _standing(stood: Stood, stands: Stood) -> Iterable[Standing]:
    """Phases of conditions, since when each probe is known, and whatever else stands between rounds."""
    for name, phase in stands.phases.items():
        if stood.phases.get(name) != phase:
            yield Standing("condition", name, phase_text(phase))
    yield from (Standing("condition", name, None) for name in stood.phases if name not in stands.phases)
    for probe, since in stands.known_since.items():
        if probe not in stood.known_since:
            yield Standing("probe", probe, json.dumps(since))
    yield from _changed(SHELF, stood.shelves, stands.shelves, text=shelf_text)
    yield from _changed(WORK, _keyed(stood.works), _keyed(stands.works), text=work_text)
    if stands.read_since is not stood.read_since:
        yield from _changed(READ_SINCE, _probed(stood.read_since), _probed(stands.read_since), text=json.dumps)
    yield from _changed(SQUEEZE, stood.squeezes, stands.squeezes, text=squeeze_text)
    if stands.mat_years is not stood.mat_years:
        before, after = (
            {f"{Kind.MAT}:{mat}": y for mat, y in years.items()} for years in (stood.mat_years, stands.mat_years)
        )
        yield from _changed(MAT_YEAR, before, after, text=year_text)
    if stands.outlooks is not stood.outlooks:
        yield from _changed(
            AHEAD, _standing_ahead(stood.outlooks), _standing_ahead(stands.outlooks), text=outlook_text
        )
    yield from _changed(LAST_WORD, _keyed(stood.last_word), _keyed(stands.last_word), text=json.dumps)
    if stood.prints is not stands.prints:
        for bed, print_ in stands.prints.items():
            if stood.prints.get(bed) != print_:
                yield Standing("bin", bed, json.dumps(print_))
        # one that comes back has then to be judged by what was kept meanwhile
        yield from (Standing("bin", bed, None) for bed in stood.prints if bed not in stands.prints)
    yield from (Standing(*one) for one in changes(stood.ledger, stands.ledger))


def _standing_ahead(outlooks: Mapping[str, Outlook]) -> dict[str, Outlook]:
    """Those that are worth a document: what does not stand begins anew without one."""
    return {key: one for key, one in outlooks.items() if one.ahead.stands}


def _probed(by_probe: Mapping[str, ReadSince]) -> dict[str, ReadSince]:
    return {f"{Kind.PROBE}:{probe}": read for probe, read in by_probe.items()}


def _keyed(by_bin: Mapping[str, Hold]) -> dict[str, Hold]:
    return {work_key(bed): one for bed, one in by_bin.items()}


def _changed(
    kind: str, before: Mapping[str, Hold], after: Mapping[str, Hold], *, text: Callable[[Hold], str]
) -> Iterable[Standing]:
    yield from (Standing(kind, key, text(one)) for key, one in after.items() if before.get(key) != one)
    yield from (Standing(kind, key, None) for key in before if key not in after)


def _judged_by(desk: _Desk) -> Mapping[str, str]:
    """The prints of the bins that were judged: as long as no step fails, the book's own."""
    prints = desk.book.prints
    return {bed: p for bed, p in prints.items() if bed not in desk.failed} if desk.failed else prints
