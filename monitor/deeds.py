"""What a keeper writes into the diary, in words: whom it is about, what was done, and how much of what.

    fig fed 1.5 kg kitchen scraps        long-mat on        fig-east lifted

A bare number is read in the site's own units.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from monitor.checks.findings import Kind, Subject
from monitor.diary import Deed
from monitor.errors import RequestError
from monitor.rules import Rules, Units
from monitor.science.units import GALLON, POUND, canonical
from monitor.words import joined

MOST = 10_000.0
"""kg, L or W beyond which an amount is a slip of the pen."""


@dataclass(frozen=True, slots=True)
class Way:
    """One word for a deed: what it can be about, and in what (kg, L, W) it is told how much."""

    deed: Deed
    about: frozenset[Kind]
    units: tuple[str, ...] = ()
    needed: bool = False
    """Whether it says nothing without an amount."""


_BED = frozenset({Kind.BIN, Kind.ZONE})
_MAT, _PROBE = frozenset({Kind.MAT}), frozenset({Kind.PROBE})
_ANYTHING = frozenset({Kind.BIN, Kind.ZONE, Kind.MAT, Kind.PROBE, Kind.DAEMON})

WAYS: Mapping[str, Way] = {
    "fed": Way(Deed.FED, _BED, ("kg", "L")),
    "watered": Way(Deed.WATERED, _BED, ("L",)),
    "bedding": Way(Deed.BEDDING, _BED, ("kg", "L")),
    "harvested": Way(Deed.HARVESTED, _BED, ("kg", "L")),
    "drained": Way(Deed.DRAINED, _BED, ("L", "kg")),
    "weighed": Way(Deed.WEIGHED, frozenset({Kind.BIN}), ("kg",), needed=True),
    "worms": Way(Deed.WORMS_ADDED, _BED, ("kg",)),
    "split": Way(Deed.WORMS_TAKEN, _BED, ("kg",)),
    "on": Way(Deed.MAT_ON, _MAT, ("W",)),
    "off": Way(Deed.MAT_OFF, _MAT),
    "cover": Way(Deed.COVER, _BED),
    "insulated": Way(Deed.INSULATED, _BED),
    "moved": Way(Deed.MOVED, _BED | _MAT | _PROBE),
    "lifted": Way(Deed.PROBE_LIFTED, _PROBE),
    "looked": Way(Deed.LOOKED, _ANYTHING),
    "note": Way(Deed.NOTE, _ANYTHING),
}
"""Every word for a deed, as it is typed."""

MEANT: Mapping[str, str] = {
    "feed": "fed", "food": "fed", "water": "watered", "bedded": "bedding", "drain": "drained",
    "leachate": "drained", "emptied": "drained", "harvest": "harvested",
    "weigh": "weighed", "look": "looked", "lift": "lifted", "move": "moved", "covered": "cover",
    "uncovered": "cover", "opened": "cover", "closed": "cover", "switched": "on", "wrote": "note",
    "wrapped": "insulated", "unwrapped": "insulated", "insulation": "insulated",
}  # fmt: skip
"""What is probably meant; never taken for it."""

UNITS: Mapping[str, tuple[str, float]] = {
    "kg": ("kg", 1), "g": ("kg", 0.001), "lb": ("kg", POUND), "lbs": ("kg", POUND), "oz": ("kg", POUND / 16),
    "L": ("L", 1), "l": ("L", 1), "litre": ("L", 1), "litres": ("L", 1), "mL": ("L", 0.001), "ml": ("L", 0.001),
    "gal": ("L", GALLON), "gallon": ("L", GALLON), "gallons": ("L", GALLON), "qt": ("L", GALLON / 4),
    "cup": ("L", GALLON / 16), "cups": ("L", GALLON / 16), "W": ("W", 1),
}  # fmt: skip
"""Unit as it is typed → canonical unit and how much of it. US customary measures: 16 ounces a pound; 4 quarts and
16 cups a gallon (memory)."""

BARE = {
    Units.METRIC: {"kg": "kg", "L": "L", "W": "W"},
    Units.US: {"kg": "lb", "L": "gal", "W": "W"},
}
"""The unit of a bare number."""
_PARTS = {"": 0.0, "¼": 0.25, "½": 0.5, "¾": 0.75}
_NUMBER = re.compile(r"(?P<number>\d{1,7}(?:\.\d{1,4})?)?(?P<part>[¼½¾]?)(?P<unit>[A-Za-z]*)")
SITE = "site"


@dataclass(frozen=True, slots=True)
class Said:
    """What was read out of the words: `amount` in `unit`, which is canonical."""

    subject: str
    deed: Deed
    amount: float | None
    unit: str
    text: str


def said(rules: Rules, words: Sequence[str]) -> Said:
    """Subject, deed, amount and the rest. Raises RequestError with what is wrong and what would be understood."""
    flat = " ".join(words).split()
    if len(flat) < 2:
        raise RequestError(f"say whom it is about and what was done, as in {_example(rules)}")
    name, word, *rest = flat
    way = WAYS.get(word)
    if way is None:
        raise RequestError(_no_deed(rules, name, word))
    subject = _subject(rules, name, word, way)
    amount, unit, rest = told_amount(rules, word, way, rest)
    return Said(subject, way.deed, amount, unit, " ".join(rest))


def subject_of(rules: Rules, about: str, word: str) -> str:
    """`kind:id` of what somebody means, empty for the site. Raises RequestError where nothing has that name, or
    the deed of this word is not done to such a thing.
    """
    way = WAYS.get(word)
    if way is None:
        raise RequestError(_no_deed(rules, about, word))
    return _subject(rules, about, word, way)


def _example(rules: Rules) -> str:
    amount = "1.5 kg" if rules.site.units is Units.METRIC else "3 lb"
    return f"`vermistat diary {next(iter(rules.bins), 'fig')} fed {amount}`"


def _no_deed(rules: Rules, name: str, word: str) -> str:
    if name in WAYS:
        return f"say whom it is about first, as in {_example(rules)}"
    if _named(rules, word):
        return f"begin with {word}, as in {_example(rules)}"
    near = MEANT.get(word.lower()) or next(iter(get_close_matches(word.lower(), WAYS, n=1)), None)
    hint = f"did you mean {near}?" if near else f"known are {', '.join(WAYS)}"
    return f"the diary knows no {word}; {hint}"


def _subject(rules: Rules, name: str, word: str, way: Way) -> str:
    """`kind:id` of what a name means for this deed; empty for the site."""
    named = _named(rules, name)
    fitting = [subject for kind, subject in _subjects(named) if kind in way.about]
    if fitting:
        return fitting[0]
    if named:
        able = _able(rules, way.about)
        raise RequestError(f"{name} cannot be {_participle(word)}; that is for {able}")
    known = [id_ for _, id_ in _ids(rules) if id_ != SITE]
    near = get_close_matches(name, known, n=1)
    hint = f"did you mean {near[0]}?" if near else f"known are {_able(rules, way.about)}"
    raise RequestError(f"the settings know nothing called {name}; {hint}")


def _participle(word: str) -> str:
    return {"on": "switched on", "off": "switched off", "worms": "given worms", "bedding": "given bedding",
            "cover": "covered", "note": "noted"}.get(word, word)  # fmt: skip


def _subjects(named: Sequence[tuple[Kind, str]]) -> Iterator[tuple[Kind, str]]:
    for kind, id_ in named:
        yield kind, "" if kind is Kind.DAEMON else str(Subject(kind, id_, ""))


def _named(rules: Rules, name: str) -> list[tuple[Kind, str]]:
    """Whatever has this id; a bin also by its name."""
    exact = [(kind, id_) for kind, id_ in _ids(rules) if id_ == name]
    return exact or [(Kind.BIN, bed.id) for bed in rules.bins.values() if bed.name.lower() == name.lower()]


def _ids(rules: Rules) -> Iterator[tuple[Kind, str]]:
    yield from ((Kind.BIN, bed) for bed in rules.bins)
    yield from ((Kind.ZONE, f"{bed.id}.{zone.id}") for bed in rules.bins.values() for zone in bed.zones)
    yield from ((Kind.MAT, mat) for mat in rules.mats)
    yield from ((Kind.PROBE, probe) for probe in rules.probes())
    yield Kind.DAEMON, SITE


def _able(rules: Rules, kinds: frozenset[Kind]) -> str:
    """What there is of these kinds, without zones; else what it would have to be."""
    known = [id_ for kind, id_ in _ids(rules) if kind in kinds and kind is not Kind.ZONE]
    return _some(known) if known else " or ".join(sorted(f"a {kind}" for kind in kinds))


def _some(names: Sequence[str]) -> str:
    return joined(names) if len(names) <= 6 else f"{', '.join(names[:5])} and {len(names) - 5} more"


def told_amount(rules: Rules, word: str, way: Way, rest: list[str]) -> tuple[float | None, str, list[str]]:
    """How much, in a canonical unit, and the words behind it."""
    found = _NUMBER.fullmatch(rest[0]) if rest else None
    if found is None or not (found["number"] or found["part"]) or not way.units:
        if way.needed or (rest and way.units and re.match(r"[-−+.,]?\d", rest[0])):
            raise RequestError(_how_much(rules, word, way, rest))
        return None, "", rest
    number = float(found["number"] or 0) + _PARTS[found["part"]]
    unit, behind = found["unit"], rest[1:]
    if not unit and behind:
        unit, behind = behind[0], behind[1:]
    unit = unit or BARE[rules.site.units][way.units[0]]
    if unit not in UNITS or UNITS[unit][0] not in way.units:
        raise RequestError(_how_much(rules, word, way, rest))
    symbol, factor = UNITS[unit]
    amount = round(canonical(number * factor, symbol), 9)
    if not 0 < amount <= MOST:
        raise RequestError(f"{rest[0]} {unit} cannot be: write an amount above 0 and up to {MOST:.0f} {symbol}")
    return amount, symbol, behind


def _how_much(rules: Rules, word: str, way: Way, rest: Sequence[str]) -> str:
    bare = BARE[rules.site.units]
    units = [f"{some_of(bare[symbol])} {bare[symbol]}" for symbol in way.units]
    said = f"“{' '.join(rest[:2])}” is no amount here" if rest else f"{word} says nothing without an amount"
    return f"{said}: write it as in {word} {' or '.join(units)}, further words behind it"


def some_of(unit: str) -> str:
    """An amount in this unit as an example."""
    return {"kg": "1.5", "lb": "3", "L": "2", "gal": "½", "W": "40"}[unit]
