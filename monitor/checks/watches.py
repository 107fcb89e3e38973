"""What is watched of a bin: one `Watch` for every limit of every subject, made from the rules.

Under `refuge` the living zones are one subject, the bin, and the best of them decides: a worm that can
walk to a zone it can live in is not in danger. Under `every-zone` each living zone stands for itself. A zone at
the mat always does. Edge and finished zones are not judged: nobody needs to live there.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from hashlib import sha256

from monitor.checks.findings import AlarmKey, Condition, Kind, Subject
from monitor.readings import HOUR, Measures, Millis
from monitor.rules import Bin, Bound, Climate, Harm, JudgeBy, Level, Limits, Probe, Role, Zone

WET_DELAY: Millis = 6 * HOUR
"""On-delay of wet bedding: free water drains within hours of a watering (proposal)."""

FLOOD = Bound(10.0, "10 points of moisture within an hour", "proposal")
"""A rise that no sprinkling makes in every living zone at once."""


class Statistic(StrEnum):
    """What is made of a probe's readings before they meet a limit."""

    VALUE = "value"
    MEDIAN_DAY = "median of a day"
    """Wet-basis moisture swings with the day and is told by single wet lumps; its day's median is not. A day begins
    anew where water came (`values.RISE`).
    """
    RISE = "rise in an hour"


@dataclass(frozen=True, slots=True)
class Watch:
    """One limit of one subject. `clear_at` is the bound moved in by the deadband.

    `name` is its id: another bound, delay, deadband, level or statistic is another name, and so is another way to
    read its probes, so that a changed limit is a new watch with no past.
    """

    key: AlarmKey
    name: str
    measures: Measures
    below: bool
    level: Level
    bound: Bound
    clear_at: float
    on_delay: Millis
    off_delay: Millis
    statistic: Statistic
    zones: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class View:
    """One statistic of one subject, with every watch that looks at it. Zones hold only the probes that count."""

    subject: Subject
    measures: Measures
    statistic: Statistic
    zones: tuple[tuple[str, tuple[Probe, ...]], ...]
    keys: tuple[tuple[AlarmKey, tuple[Watch, ...]], ...]
    probes: tuple[Probe, ...]


@dataclass(frozen=True, slots=True)
class Watched:
    """A bin made ready to be looked at, once for each version of the settings."""

    bed: Bin
    watches: tuple[Watch, ...]
    views: tuple[View, ...]
    by_probe: Mapping[str, tuple[View, ...]]
    probes: Mapping[str, Probe]
    """Every probe of the bin, also those whose zone is not judged."""
    keys: frozenset[AlarmKey]
    moved: frozenset[str] = frozenset()
    """Ids of probes that stand here, or in one zone of it, for a while only."""

    def stood(self, probe: str, at: Millis) -> bool:
        """Whether a probe stood anywhere in the bin then."""
        return probe not in self.moved or any(
            p.id == probe and p.stands(at) for zone in self.bed.zones for p in zone.probes
        )


def watches(bed: Bin) -> tuple[Watch, ...]:
    """Every watch of a bin, each name once."""
    found = [
        w for subject, zones, climate in subjects(bed) for w in _of_subject(subject, zones=zones, climate=climate)
    ]
    return tuple({w.name: w for w in found}.values())


def watch_over(bed: Bin) -> Watched:
    """A bin with its watches in the order in which they are looked at."""
    every = watches(bed)
    views = tuple(_views(bed, every))
    ours = {p.id: p for zone in bed.zones for p in zone.probes}
    return Watched(
        bed=bed,
        watches=every,
        views=views,
        by_probe={probe: tuple(v for v in views if any(p.id == probe for p in v.probes)) for probe in ours},
        probes=ours,
        keys=frozenset(w.key for w in every),
        moved=frozenset(p.id for zone in bed.zones for p in zone.probes if p.moved),
    )


def subject_of(bed: Bin, zone: Zone) -> Subject | None:
    """Under whose name a zone is judged, None when it is not."""
    if zone.role is Role.AT_THE_MAT or (zone.role is Role.LIVING and bed.judge is JudgeBy.EVERY_ZONE):
        return Subject(Kind.ZONE, f"{bed.id}.{zone.id}", bed.place)
    return Subject(Kind.BIN, bed.id, bed.place) if zone.role is Role.LIVING else None


def subjects(bed: Bin) -> Iterator[tuple[Subject, tuple[Zone, ...], Climate]]:
    """Who is judged under one name: the subject, its zones and its limits."""
    together: dict[Subject, list[Zone]] = {}
    for zone in bed.zones:
        subject = subject_of(bed, zone)
        if subject is not None:
            together.setdefault(subject, []).append(zone)
    for subject, zones in together.items():
        yield subject, tuple(zones), bed.limits if subject.kind is Kind.BIN else zones[0].limits


def _of_subject(subject: Subject, *, zones: tuple[Zone, ...], climate: Climate) -> Iterator[Watch]:
    for measures, make in ((Measures.TEMPERATURE, _heat), (Measures.MOISTURE, _water)):
        names = tuple(z.id for z in zones if _counting(z, measures))
        if names:
            by = read_by(p for z in zones for p in _counting(z, measures))
            made = make(subject, limits=climate.get(measures) or Limits(None, None), zones=names)
            yield from (replace(watch, name=watch.name + by) for watch in made)


def read_by(probes: Iterable[Probe]) -> str:
    """What a watch's name says of how its probes are read: empty where all are taken as they speak, and ever were here.

    Points, offset, scale or a placement that changes makes another watch, which judges the stored past anew.
    """
    every = list(probes)
    if not any(p.offset or p.scale != 1.0 or p.calibration or p.moved for p in every):
        return ""
    read = [(p.id, p.offset, p.scale, p.calibration, p.since, p.until) for p in every]
    return f"/read by {sha256(repr(read).encode()).hexdigest()[:12]}"


def _counting(zone: Zone, measures: Measures) -> tuple[Probe, ...]:
    return tuple(p for p in zone.probes if p.measures is measures and p.judged)


def _heat(subject: Subject, *, limits: Limits, zones: tuple[str, ...]) -> Iterator[Watch]:
    yield from _both_sides(
        subject,
        limits=limits,
        zones=zones,
        below=(Condition.COLD, Statistic.VALUE, limits.comfort_delay),
        above=(Condition.HOT, Statistic.VALUE, limits.comfort_delay),
    )


def _water(subject: Subject, *, limits: Limits, zones: tuple[str, ...]) -> Iterator[Watch]:
    yield from _both_sides(
        subject,
        limits=limits,
        zones=zones,
        below=(Condition.DRY, Statistic.MEDIAN_DAY, limits.comfort_delay),
        above=(Condition.WET, Statistic.VALUE, max(limits.comfort_delay, WET_DELAY)),
    )
    flood = Harm(below=False, bound=FLOOD, lasting=0)
    yield _watch(
        AlarmKey(subject, Condition.FLOODED),
        flood,
        limits=limits,
        zones=zones,
        level=Level.COMFORT,
        statistic=Statistic.RISE,
    )


_Side = tuple[Condition, Statistic, Millis]


def _both_sides(
    subject: Subject, *, limits: Limits, zones: tuple[str, ...], below: _Side, above: _Side
) -> Iterator[Watch]:
    for under, bound, (condition, statistic, delay) in ((True, limits.low, below), (False, limits.high, above)):
        comfort = [(Level.COMFORT, Harm(below=under, bound=bound, lasting=delay))] if bound else []
        harms = [(Level.HARM, harm) for harm in limits.harm if harm.below is under]
        for level, rule in comfort + harms:
            key = AlarmKey(subject, condition)
            yield _watch(key, rule, limits=limits, zones=zones, level=level, statistic=statistic)


def _watch(
    key: AlarmKey, rule: Harm, *, limits: Limits, zones: tuple[str, ...], level: Level, statistic: Statistic
) -> Watch:
    clear_at = rule.bound.value + (limits.deadband if rule.below else -limits.deadband)
    side = "<=" if rule.below else ">="
    name = (
        f"{key.subject}/{key.condition}/{level}/{statistic}{side}{rule.bound.value!r}"
        f"/clear {clear_at!r}/on {rule.lasting}/off {limits.off_delay}"
    )
    return Watch(
        key=key,
        name=name,
        measures=Measures.TEMPERATURE if key.condition in (Condition.COLD, Condition.HOT) else Measures.MOISTURE,
        below=rule.below,
        level=level,
        bound=rule.bound,
        clear_at=clear_at,
        on_delay=rule.lasting,
        off_delay=limits.off_delay,
        statistic=statistic,
        zones=zones,
    )


def _views(bed: Bin, every: tuple[Watch, ...]) -> Iterator[View]:
    together: dict[tuple[Subject, Measures, Statistic], list[Watch]] = {}
    for watch in every:
        together.setdefault((watch.key.subject, watch.measures, watch.statistic), []).append(watch)
    for (subject, measures, statistic), group in together.items():
        zones = tuple((z.id, _counting(z, measures)) for z in bed.zones if z.id in group[0].zones)
        keys = dict.fromkeys(w.key for w in group)
        yield View(
            subject=subject,
            measures=measures,
            statistic=statistic,
            zones=zones,
            keys=tuple((key, tuple(w for w in group if w.key == key)) for key in keys),
            probes=tuple(p for _, probes in zones for p in probes),
        )
