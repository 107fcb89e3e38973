"""Does a thermometer leave its neighbours? Day means against the other thermometers of the same bin, or of the same air.

Compared is a probe with itself: how far it lies from its neighbours now, and how far it used to. Zones that a mat warms are
left out, since a mat that is switched on moves them and nothing else. Slow by intent: a cold night, a watering or a moved
cover must never look like drift.

On a year of three stations 15 to 35 km apart (New York 2013), as if they were the zones of one bin, plain and damped like a bed,
none of the pairs or the three ever drifted by these numbers; a step of 1.5 °C was told within ten days.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from monitor.checks.arithmetic import number
from monitor.checks.findings import AlarmKey, Condition, Evidence, Finding, Kind, Subject
from monitor.checks.memory import middle
from monitor.checks.trend import spread
from monitor.readings import DAY, Measures, Millis
from monitor.rules import Level, Probe, Role, Rules
from monitor.science.correction import corrected

LEARNT = 14
"""Days of which a probe's usual distance is learnt before anything is held against it (proposal)."""
USUAL = 60
"""Days back over which it is remembered; those in which it is away do not count (proposal)."""
RECENT = 5
"""Days whose median is its distance now (proposal)."""
LASTING = 7
"""Days in a row on which that must be unusual (proposal)."""
LEAST = 1.0
"""K below which nobody is bothered: twice the ±0.5 of a DS18B20 (data sheet; that it is twice, our proposal)."""
SIGMAS = 4.0
"""How many of its usual standard deviations away are unusual (proposal)."""
BACK = 0.5
"""It is back when it is within this part of what was unusual (proposal)."""
LOOKS_BACK: Millis = 200 * DAY
"""How much of the past is looked at: what has been odd for that long has become usual."""
FRESH = 2
"""Days by which a probe's newest day may lag behind before it is left out of the comparison."""

Days = Mapping[int, float]
"""Mean of what a probe sent, by day since 1970 (UTC)."""


@dataclass(frozen=True, slots=True)
class Group:
    """Thermometers that stand in one climate: those of a bin without the zones that are heated, or of a place's air."""

    id: str
    place: str
    probes: tuple[Probe, ...]


@dataclass(frozen=True, slots=True)
class Away:
    """How a probe stands to its neighbours. `away` in K, now; `usual` before; `limit` is what would be unusual."""

    probe: str
    among: tuple[str, ...]
    away: float
    usual: float
    limit: float
    days: int
    """For how many days it has been unusual, 0 when it is not."""
    since: int
    """The first of them, as a day since 1970."""


def groups(rules: Rules) -> tuple[Group, ...]:
    """Every group of at least two thermometers."""
    warmed = {zone for mat in rules.mats.values() for zone in mat.warms}
    found = [Group(p.id, p.id, _thermometers(p.probes)) for p in rules.places.values()]
    for bed in rules.bins.values():
        plain = [z for z in bed.zones if z.role is not Role.AT_THE_MAT and (bed.id, z.id) not in warmed]
        found.append(Group(bed.id, bed.place, _thermometers(p for z in plain for p in z.probes)))
    return tuple(group for group in found if len(group.probes) > 1)


def _thermometers(probes: Iterable[Probe]) -> tuple[Probe, ...]:
    return tuple(p for p in probes if p.measures is Measures.TEMPERATURE)


def look_at_neighbours(
    group: Group,
    days: Mapping[str, Days],
    *,
    since: Mapping[str, Millis],
    standing: Collection[AlarmKey],
    now: Millis,
) -> list[Finding]:
    """What is there and what is over of the probes of one group. `days` holds what each sent, `since` from when on it is to
    be compared (it was moved, or is read another way since). `standing` are the keys of the alarms that are there.
    """
    here = [p for p in group.probes if p.stands(now)]
    begin = max((max(since.get(p.id, 0), p.since or 0) for p in here), default=0)
    first = -(-begin // DAY)  # the first whole day
    read = fresh(_read(here, days, first=first), today=now // DAY)
    if len(read) < 2:
        return []  # nobody to compare with: what stands, stands
    told = {key.subject.id for key in standing if key.condition is Condition.DRIFTING}
    found = {one.probe: one for one in leavers(read, told)}
    findings = []
    for probe in group.probes:
        key = AlarmKey(Subject(Kind.PROBE, probe.id, group.place), Condition.DRIFTING)
        one = found.get(probe.id)
        if one is not None:
            began = one.since * DAY
            findings.append(
                Finding(key, Level.COMFORT, min((one.since + LASTING) * DAY, now), began, _why(one, now))
            )
        elif key in standing and probe.id in read:
            text = "it lies as far from its neighbours as it used to, or is compared anew"
            findings.append(Finding(key, None, now, now, Evidence(text, probe=probe.id)))
    return findings


def _read(probes: Iterable[Probe], days: Mapping[str, Days], *, first: int) -> dict[str, Days]:
    return {
        p.id: {
            day: corrected(value, offset=p.offset, scale=p.scale)
            for day, value in days.get(p.id, {}).items()
            if day >= first
        }
        for p in probes
    }


def fresh(days: Mapping[str, Days], *, today: int) -> dict[str, Days]:
    """Those that have spoken in the last days."""
    return {p: of for p, of in days.items() if of and max(of) >= today - FRESH}


def leavers(days: Mapping[str, Days], told: Collection[str] = ()) -> list[Away]:
    """Who has left the others by the last of these days; `told` are those who had before."""

    def stands(probe: str, among: tuple[str, ...]) -> Away | None:
        return next(reversed(history(probe, {p: days[p] for p in among}).values()), None)

    return picked(tuple(days), stands, told)


Stands = Callable[[str, tuple[str, ...]], Away | None]
"""How a probe stands among these (itself included); None while that is not known."""


def picked(probes: tuple[str, ...], stands: Stands, told: Collection[str] = ()) -> list[Away]:
    """Who was told before and is still away; then the one that has moved furthest, if that is unusual for it; then whoever
    still has, compared without those: who stays moves against the middle as well, but less. Of two that part nobody can say
    which it is: the last by name stands for both.
    """
    found, left = [], probes
    for probe in sorted(set(told) & set(probes)):
        still = stands(probe, left) if len(left) > 1 else None
        if still is not None and still.days:
            found.append(still)
            left = tuple(p for p in left if p != probe)
    while len(left) > 1:
        every = [one for p in left if (one := stands(p, left)) is not None]
        if len(left) == 2:
            every = [one for one in every if one.probe == max(left)]
        furthest = max(every, key=lambda one: abs(one.away - one.usual), default=None)
        if furthest is None or not furthest.days:
            break
        found.append(furthest)
        left = tuple(p for p in left if p != furthest.probe)
    return found


def history(probe: str, days: Mapping[str, Days]) -> dict[int, Away]:
    """How one probe stood among all of these at the end of each day of which every one of them is known, as soon as enough is
    known to say so.
    """
    others = [of for p, of in days.items() if p != probe]
    known = sorted(set(days[probe]).intersection(*others))
    apart = [days[probe][day] - middle([of[day] for of in others]) for day in known]
    return dict(_folded(probe, tuple(p for p in days if p != probe), known, apart))


def _folded(
    probe: str, among: tuple[str, ...], known: Sequence[int], apart: Sequence[float]
) -> Iterator[tuple[int, Away]]:
    usual = list(apart[:LEARNT])
    run, there, since = 0, False, 0
    for at in range(LEARNT, len(apart)):
        base, limit = middle(usual[-USUAL:]), max(LEAST, SIGMAS * spread(usual[-USUAL:]))
        away = middle(apart[max(at + 1 - RECENT, 0) : at + 1])
        if abs(away - base) > (BACK * limit if there else limit):
            run, since = run + 1, since if run else known[at]
            there = there or run >= LASTING
        else:
            run, there = 0, False
            usual.append(apart[at])
        yield known[at], Away(probe, among, away, base, limit, days=run if there else 0, since=since)


def _why(one: Away, now: Millis) -> Evidence:
    """The comparison in numbers."""
    others = " and ".join(one.among) if len(one.among) < 3 else f"the other {len(one.among)}"
    whose = f"from {others}" if len(one.among) == 1 else f"from the middle of {others}"
    both = f"; {one.probe} or {one.among[0]}, one of the two drifts" if len(one.among) == 1 else ""
    text = (
        f"{one.probe} lies {_signed(one.away)} °C {whose}, its neighbours, for {one.days} days; it used to lie "
        f"{_signed(one.usual)} °C, and up to {number(one.limit)} °C from that is usual{both}"
    )
    return Evidence(text, lasting=LASTING * DAY, held=max(now - one.since * DAY, 0), probe=one.probe)


def _signed(value: float) -> str:
    return f"{'+' if value >= 0 else '−'}{number(abs(value))}"


def not_compared(standing: Iterable[AlarmKey], compared: Collection[str], now: Millis) -> Iterator[Finding]:
    """The end of drift of probes that have no neighbours any more."""
    for key in standing:
        if key.condition is Condition.DRIFTING and key.subject.id not in compared:
            evidence = Evidence("it has no neighbour to be compared with any more", probe=key.subject.id)
            yield Finding(key, None, now, now, evidence)
