"""The limits as a sheet shows them: bin by bin, each number with whose it is, and the lines of settings that would change it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from monitor.readings import Measures
from monitor.reports.holding import Holding, Number, Scope
from monitor.reports.saying import limit_words
from monitor.rules import Level, Rules, Units

MARKS = {
    "seen": "read in the source itself",
    "seen-2nd": "read where the source is quoted",
    "memory": "from memory, not looked up",
    "common practice": "what the trade does, without a source of its own",
    "proposal": "our own proposal",
    "settings": "your own number",
}
"""What stands in brackets behind a source, in words."""


@dataclass(frozen=True, slots=True)
class Row:
    """One limit: its sentence, and where it comes from."""

    sentence: str
    source: str


@dataclass(frozen=True, slots=True)
class Quantity:
    """What holds of one quantity: its rows, when it is over, whether a probe can be held against it, and what to write."""

    id: str
    title: str
    rows: tuple[Row, ...]
    over: str
    unjudged: str
    lines: str


@dataclass(frozen=True, slots=True)
class BedLimits:
    """One bin with everything that holds in it."""

    id: str
    name: str
    worms: str
    quantities: tuple[Quantity, ...]


def bed_limits(rules: Rules, holdings: Iterable[Holding]) -> tuple[BedLimits, ...]:
    """What `holdings` found, by bin in the order of the settings."""
    found = list(holdings)
    return tuple(
        BedLimits(
            bed.id,
            bed.name,
            " and ".join(bed.species),
            tuple(_quantity(one, bed.name, rules.site.units) for one in found if one.subject.bed == bed.id),
        )
        for bed in rules.bins.values()
    )


def marks(holdings: Iterable[Holding]) -> list[tuple[str, str]]:
    """The marks that stand behind any source, with what they mean."""
    used = {number.mark for one in holdings for number in one.numbers}
    return [(mark, said) for mark, said in MARKS.items() if mark in used and mark != "settings"]


def _quantity(one: Holding, bed: str, units: Units) -> Quantity:
    where = one.name.removeprefix(bed).strip()
    return Quantity(
        id=f"{one.subject.id}-{one.measures}".replace(".", "-"),
        title=f"{one.measures.capitalize()}{f', {where}' if where else ''}",
        rows=tuple(Row(number.sentence, _source(number)) for number in one.numbers),
        over=one.over,
        unjudged="" if one.judged else _unjudged(one.measures),
        lines="\n".join(setting_lines(one, units)),
    )


def _source(number: Number) -> str:
    said_by = f"{number.said_by[:1].upper()}{number.said_by[1:]}"
    if number.said_by is Scope.SPECIES:
        return f"{said_by}: {number.source} [{number.mark}]."
    return f"{said_by}: your own number{f', in {number.written}' if number.written else ''}."


def _unjudged(measures: Measures) -> str:
    if measures is Measures.MOISTURE:
        return "No calibrated probe stands here, so only a squeezed handful is held against it."
    return "No probe stands here that could be held against it."


def setting_lines(one: Holding, units: Units) -> Iterator[str]:
    """The lines of settings that say what holds now, where they would be written for this subject alone."""
    comfort = [number for number in one.numbers if number.level is Level.COMFORT]
    harm = [number for number in one.numbers if number.level is Level.HARM]
    if not one.numbers:
        return
    path = one.numbers[0].change_at.split(".")[:-1]
    yield from (f"{'  ' * depth}{name}:" for depth, name in enumerate(path))
    deep = "  " * len(path)
    low = next((n for n in comfort if n.below), None)
    high = next((n for n in comfort if not n.below), None)
    if low is not None and high is not None:
        yield f"{deep}comfort: {_bare(low, units)}..{limit_words(high.value, high.unit, units)}"
    if harm:
        yield f"{deep}harm:"
        yield from (f"{deep}  - {_harm(number, units)}" for number in harm)


def _bare(number: Number, units: Units) -> str:
    return limit_words(number.value, number.unit, units).partition(" ")[0]


def _harm(number: Number, units: Units) -> str:
    side = "below" if number.below else "above"
    lasts = f", lasting: {number.lasting // 60_000} min" if number.lasting else ", lasting: 0 min"
    return f"{{{side}: {limit_words(number.value, number.unit, units)}{lasts}}}"
