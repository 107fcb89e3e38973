"""What holds for each bin and zone, where each number comes from, and where in the settings it would be changed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from monitor import words
from monitor.checks.findings import Kind, Subject
from monitor.checks.watches import WET_DELAY, subjects
from monitor.readings import Measures, Millis
from monitor.reports.saying import Saying, limit_words
from monitor.rules import Bin, Bound, Level, Limits, Rules, Zone

OWN = "settings: "
"""How the source of a limit begins that the keeper wrote; the dotted path follows."""


class Scope(StrEnum):
    """Who says a number."""

    SPECIES = "the species"
    SITE = "the site"
    PROFILE = "its profile"
    BIN = "the bin"
    ZONE = "the zone"


@dataclass(frozen=True, slots=True)
class Number:
    """One limit: entered `below` or above `value` (°C, or % wet basis), after `lasting`.

    `source` and `mark` are the citation, `said_by` whose number it is. `change_at` is the dotted path to write to change it
    for this subject, or the profile's own where that says it;
    `written` is `file:line` where the keeper's own stands, empty for a number of the species.
    """

    level: Level
    below: bool
    value: float
    unit: str
    lasting: Millis
    source: str
    mark: str
    said_by: Scope
    change_at: str
    written: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Holding:
    """What holds of one quantity under one name. `judged` is whether a probe stands there that can be held against it."""

    subject: Subject
    name: str
    zones: tuple[str, ...]
    measures: Measures
    judged: bool
    numbers: tuple[Number, ...]
    over: str
    """When it is over again, as a sentence."""


def holdings(rules: Rules, written: Mapping[str, str], at: Millis) -> tuple[Holding, ...]:
    """Everything that is judged, bin by bin in the order of the settings. `written` is the settings' own: source → file:line."""
    saying = Saying(rules, at)
    return tuple(one for bed in rules.bins.values() for one in _of_bin(bed, saying, written))


def _of_bin(bed: Bin, saying: Saying, written: Mapping[str, str]) -> Iterator[Holding]:
    for subject, zones, climate in subjects(bed):
        for measures, limits in climate.items():
            base = _path(bed, subject, zones) + f".limits.{measures}"
            yield Holding(
                subject=subject,
                name=saying.name(subject),
                zones=tuple(zone.id for zone in zones),
                measures=measures,
                judged=any(p.measures is measures and p.judged for zone in zones for p in zone.probes),
                numbers=tuple(_numbers(limits, measures, base, written, saying)),
                over=_over(limits, measures, saying),
            )


def _path(bed: Bin, subject: Subject, zones: tuple[Zone, ...]) -> str:
    return f"bins.{bed.id}.zones.{zones[0].id}" if subject.kind is Kind.ZONE else f"bins.{bed.id}"


def _numbers(
    limits: Limits, measures: Measures, base: str, written: Mapping[str, str], saying: Saying
) -> Iterator[Number]:
    for level, below, bound, lasting in _edges(limits, measures):
        own = bound.source.removeprefix(OWN) if bound.source.startswith(OWN) else ""
        yield Number(
            level=level,
            below=below,
            value=bound.value,
            unit=_unit(measures),
            lasting=lasting,
            source=bound.source,
            mark=bound.mark,
            said_by=_scope(own),
            change_at=own if _scope(own) is Scope.PROFILE else f"{base}.{level}",
            written=written.get(bound.source, ""),
            sentence=_sentence(level, below, bound, lasting=lasting, unit=_unit(measures), saying=saying),
        )


def _edges(limits: Limits, measures: Measures) -> Iterator[tuple[Level, bool, Bound, Millis]]:
    """Level, side, bound and how long it must last; wet bedding is told later than dry."""
    wet = max(limits.comfort_delay, WET_DELAY) if measures is Measures.MOISTURE else limits.comfort_delay
    if limits.low is not None:
        yield Level.COMFORT, True, limits.low, limits.comfort_delay
    if limits.high is not None:
        yield Level.COMFORT, False, limits.high, wet
    for harm in limits.harm:
        yield Level.HARM, harm.below, harm.bound, harm.lasting


def _scope(own: str) -> Scope:
    head, _, rest = own.partition(".")
    if head == "profiles":
        return Scope.PROFILE
    if head == "bins":
        return Scope.ZONE if rest.split(".")[1:2] == ["zones"] else Scope.BIN
    return Scope.SITE if head == "site" else Scope.SPECIES


def _unit(measures: Measures) -> str:
    return "°C" if measures is Measures.TEMPERATURE else "%"


def _sentence(level: Level, below: bool, bound: Bound, *, lasting: Millis, unit: str, saying: Saying) -> str:
    value = limit_words(bound.value, unit, saying.units)
    after = "at once" if lasting == 0 else f"after {words.duration(lasting)}"
    if level is Level.HARM:
        return f"Harm at {value} and {'below' if below else 'above'}, told {after}."
    if below:
        median = ", by the median of a day," if unit == "%" else ""
        return f"Comfort begins at {value}; below{median} it is told {after}."
    return f"Comfort ends at {value}; above it is told {after}."


def _over(limits: Limits, measures: Measures, saying: Saying) -> str:
    heat = measures is Measures.TEMPERATURE
    inside = words.difference(limits.deadband, saying.units) if heat else f"{limits.deadband:g} points"
    return f"Over when it is {inside} inside again for {words.duration(limits.off_delay)}."
