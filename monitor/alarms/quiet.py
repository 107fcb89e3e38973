"""Shelved and out of service: the two ways in which a person keeps an alarm from being told for a while.

ISA-18.2 / IEC 62682 know three suppressions, all of them evaluated, recorded and counted: by design is logic (`alarms.causes`),
*shelved* is a person's choice with a limit of time and a reason, *out of service* is for work until it is returned
[seen-2nd]. Each is a machine of two states beside the alarm's own; they may lie over one alarm together, and it is
told when none does.

What the standard leaves to the philosophy of a site, and what ours says:

- *A shelf lies over the alarm, not over one occurrence.* It is for what comes and goes; what comes back under it is recorded
  and not told (the timed shelving of OPC 10000-9 §5.8.2 [seen]).
- *How long at most* follows the priority (`LONGEST`): a limit is demanded, its length is the site's.
- *A rise of level ends a shelf* at once: what was put aside was less than what is there now.
- *After a shelf* what still stands is unacknowledged again and told again, as the standard's own diagram has it [memory].
  What is over and was harm stays to be seen: putting aside is not seeing.
- *Work in a bin* is this house's out of service: hands in the bed make lies of its probes. It always ends by itself.
  Harm that stood before it stays told. After it, what somebody had seen stays seen; the rest is told as it then stands,
  but for what is on its way back: a probe that lies in the bed again is past its deadband, and its alarm only waits for
  its off-delay. That one stays untold until it is over, or beyond its limit again.
- Advice still counts what is shelved, for the bed is as it is and two orders must not undo each other; what is read
  from a bin that is worked in makes no advice.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from monitor import words
from monitor.alarms import cycle
from monitor.alarms.cycle import Alarm, Event, Priority, Transition
from monitor.alarms.holds import Shelf, Work, shelf_key
from monitor.alarms.priority import priority_of
from monitor.checks.findings import AlarmKey, Condition, Kind
from monitor.readings import DAY, HOUR, Millis
from monitor.rules import Level, Rules

LONGEST: Mapping[Priority, Millis] = {Priority.LOW: 7 * DAY, Priority.MEDIUM: DAY, Priority.HIGH: 8 * HOUR}
"""The longest shelf by priority. Proposals: the standard demands a limit and prints none [seen-2nd]; plants often take
one shift of 8 or 12 h [common practice], which here is one night's sleep for what is urgent. What matters little may
wait for the week's end."""

LONGEST_WORK: Millis = 12 * HOUR
USUAL_WORK: Millis = 2 * HOUR
"""How long work in a bin may last, and how long it does when nobody says (proposals)."""


class OnShelf(StrEnum):
    """Whether a person has put an alarm aside."""

    NO = "not shelved"
    YES = "shelved"


SHELF_MOVES: Mapping[tuple[OnShelf, Event], OnShelf] = {
    (OnShelf.NO, Event.SHELVED): OnShelf.YES,
    (OnShelf.YES, Event.SHELVED): OnShelf.YES,
    (OnShelf.YES, Event.UNSHELVED): OnShelf.NO,
    (OnShelf.YES, Event.ROSE): OnShelf.NO,
    (OnShelf.YES, Event.REMOVED): OnShelf.NO,
}
"""The whole machine of it. A pair that is absent is not possible or moves nothing: back to normal and there again, seen,
explained by another, worked in, it stays where it is."""


class InService(StrEnum):
    """Whether the bin of an alarm is worked in."""

    IN = "in service"
    OUT = "out of service"


SERVICE_MOVES: Mapping[tuple[InService, Event], InService] = {
    (InService.IN, Event.OUT_OF_SERVICE): InService.OUT,
    (InService.OUT, Event.OUT_OF_SERVICE): InService.OUT,
    (InService.OUT, Event.IN_SERVICE): InService.IN,
    (InService.OUT, Event.REMOVED): InService.IN,
}
"""The whole machine of it."""

TIME_OVER = "time over"
"""What ends both by itself."""
SHELF_ENDS: Mapping[OnShelf, OnShelf] = {OnShelf.YES: OnShelf.NO}
SERVICE_ENDS: Mapping[InService, InService] = {InService.OUT: InService.IN}


@dataclass(frozen=True, slots=True)
class Ended:
    """Why a shelf or a work has ended, and who ended it, None when nobody did."""

    cause: str
    at: Millis
    who: str | None = None
    note: str = ""


# ── shelves ───────────────────────────────────────────────────────────────────────────────────────────────────


def longest_shelf(alarm: Alarm) -> Millis:
    """How long an alarm may be shelved at most, as it stands."""
    return LONGEST[priority_of(alarm.key, alarm.level or alarm.worst)]


def put_aside(alarm: Alarm, who: str, *, at: Millis, until: Millis, note: str = "") -> Shelf:
    """The shelf for an alarm, no longer than it may be."""
    level = alarm.level or alarm.worst or Level.COMFORT
    return Shelf(at, min(until, at + longest_shelf(alarm)), who, level, alarm.number, note)


def over(shelves: Mapping[str, Shelf], steps: Iterable[Transition], *, now: Millis) -> dict[str, Ended]:
    """The shelves that end now, by their time, by a rise of level among this round's steps, or with an alarm that is
    removed; and why. Keys are those of `shelf_key`.
    """
    ended = {
        key: Ended("The time of the shelf is over.", shelf.until)
        for key, shelf in shelves.items()
        if shelf.until <= now
    }
    for step in steps if shelves else ():
        key = shelf_key(step.key)
        shelf = shelves.get(key)
        if shelf is not None and _is_rise(step, shelf):
            ended[key] = Ended(f"It is {step.level} now, which ends the shelf.", step.at)
        elif shelf is not None and step.event is Event.REMOVED:
            ended[key] = Ended("The alarm is no longer.", step.at)
    return ended


def _is_rise(step: Transition, shelf: Shelf) -> bool:
    """A rise itself, or a coming back that is worse than what was put aside."""
    if step.event is Event.ROSE:
        return True
    return step.event is Event.RAISED and step.level is Level.HARM and shelf.level is not Level.HARM


# ── work ──────────────────────────────────────────────────────────────────────────────────────────────────────


def begin_work(
    alarms: Iterable[Alarm],
    bed: str,
    who: str,
    *,
    at: Millis,
    until: Millis,
    note: str = "",
    before: Work | None = None,
) -> Work:
    """Work in a bin, no longer than it may last. `alarms` are those that stand when it is begun, `before` is the work that it
    goes on from.
    """
    until = min(until, at + LONGEST_WORK)
    if before is not None:
        return replace(before, until=until, who=who, note=note or before.note)
    return Work(
        bed, at, until, who, note, tuple(sorted(a.number for a in alarms if a.active and a.level is Level.HARM))
    )


def beds_of(key: AlarmKey, rules: Rules, bin_of: Mapping[str, str]) -> Collection[str]:
    """The bins in which work makes an alarm doubtful: its own, its probe's, those on its mat. None for what the
    daemon says of itself. `bin_of` names the bin of each probe.
    """
    kind, id_, _ = key.subject
    if kind in (Kind.BIN, Kind.ZONE):
        return () if key.condition is Condition.STEP_FAILED else (key.subject.bed,)
    if kind is Kind.PROBE:
        return (bin_of[id_],) if id_ in bin_of else ()
    if kind is Kind.MAT and id_ in rules.mats:
        return tuple(dict.fromkeys(bed for bed, _ in rules.mats[id_].warms))
    return ()


def work_on(
    alarm: Alarm, beds: Iterable[str], works: Mapping[str, Work], *, coming_back: bool = False
) -> Work | None:
    """The work that keeps an alarm from being told, the longest of several; None when none does. `coming_back`: its condition
    is past the deadband, so that the work it was under still holds although it is over.
    """
    if not alarm.active:
        return None  # what is over is not made doubtful by hands that came after it
    found = [works[bed] for bed in beds if bed in works and alarm.number not in works[bed].spared]
    return max(found, key=lambda work: work.until, default=alarm.work if coming_back else None)


# ── over the alarms ───────────────────────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, slots=True)
class Laid:
    """What lies over one alarm after the round, and why what lay there before has ended."""

    shelf: Shelf | None
    work: Work | None
    unshelved: Ended | None = None
    returned: Ended | None = None


def lay(alarm: Alarm, laid: Laid, *, round_at: Millis) -> tuple[Alarm, tuple[Transition, ...]]:
    """An alarm with what lies over it now, and a row for each change. The very same alarm when nothing changes."""
    rows: list[Transition] = []
    if alarm.shelf != laid.shelf:
        alarm, row = _shelve(alarm, laid, round_at)
        rows.append(row)
    if alarm.work != laid.work:
        alarm, row = _work(alarm, laid, round_at)
        rows.append(row)
    return alarm, tuple(rows)


def _shelve(alarm: Alarm, laid: Laid, round_at: Millis) -> tuple[Alarm, Transition]:
    shelf = laid.shelf
    if shelf is None:
        ended = laid.unshelved or Ended("It is shelved no longer.", round_at)
        return cycle.unshelve(
            alarm, ended.cause, who=ended.who, at=_not_before(alarm, ended.at), round_at=round_at, note=ended.note
        )
    long = words.duration(max(shelf.until - shelf.since, 0))
    why = Ended(f"Shelved by {shelf.who} for {long}.", shelf.since, shelf.who, shelf.note)
    after = replace(alarm, shelf=shelf)
    return after, _row(after, Event.SHELVED, why, until=shelf.until, round_at=round_at)


def _work(alarm: Alarm, laid: Laid, round_at: Millis) -> tuple[Alarm, Transition]:
    work, after = laid.work, replace(alarm, work=laid.work)
    if work is None:
        ended = laid.returned or Ended("The work is over, and it is beyond its limit.", round_at)
        return after, _row(after, Event.IN_SERVICE, ended, until=None, round_at=round_at)
    why = Ended(f"{work.who} works in {work.bed}.", work.since, work.who, work.note)
    return after, _row(after, Event.OUT_OF_SERVICE, why, until=work.until, round_at=round_at)


def _not_before(alarm: Alarm, at: Millis) -> Millis:
    """Nothing happens to an alarm before it was raised, also under a shelf that is older than it."""
    return max(at, alarm.raised_at)


def _row(alarm: Alarm, event: Event, why: Ended, *, until: Millis | None, round_at: Millis) -> Transition:
    return Transition(
        key=alarm.key,
        number=alarm.number,
        event=event,
        before=alarm.state,
        after=alarm.state,
        level=alarm.level or alarm.worst,
        at=_not_before(alarm, why.at),
        round_at=round_at,
        cause=why.cause,
        who=why.who,
        note=why.note,
        until=until,
    )


def shelf_state(alarm: Alarm) -> OnShelf:
    """Whether an alarm is shelved."""
    return OnShelf.YES if alarm.shelf else OnShelf.NO


def service_state(alarm: Alarm) -> InService:
    """Whether an alarm is out of service."""
    return InService.OUT if alarm.work else InService.IN


@dataclass(frozen=True, slots=True)
class Quiet:
    """All that lies over alarms after a round, and why what ended in it has ended."""

    shelves: Mapping[str, Shelf]
    """By `shelf_key`, like `unshelved`."""
    works: Mapping[str, Work]
    """By bin, like `returned`."""
    unshelved: Mapping[str, Ended]
    returned: Mapping[str, Ended]


def over_all(
    alarms: Iterable[Alarm],
    quiet: Quiet,
    *,
    rules: Rules,
    bin_of: Mapping[str, str],
    coming_back: Callable[[Alarm], bool],
    round_at: Millis,
) -> Iterator[tuple[Alarm, tuple[Transition, ...]]]:
    """Every alarm on which something changes, as it becomes, with its rows. `coming_back` as for `work_on`."""
    calm = not quiet.shelves and not quiet.works
    for alarm in alarms:
        if calm and alarm.shelf is None and alarm.work is None:
            continue
        key = shelf_key(alarm.key)
        back = alarm.work is not None and coming_back(alarm)
        beds = beds_of(alarm.key, rules, bin_of) if quiet.works or back else ()
        laid = Laid(
            shelf=quiet.shelves.get(key),
            work=work_on(alarm, beds, quiet.works, coming_back=back),
            unshelved=quiet.unshelved.get(key),
            returned=quiet.returned.get(alarm.work.bed) if alarm.work else None,
        )
        after, rows = lay(alarm, laid, round_at=round_at)
        if after is not alarm:
            yield after, rows
