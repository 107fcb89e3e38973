"""Heat that is not as usual in a bed: it heats by itself after a feed, its mat is warm unasked, it loses faster than it did.

Told softly and to whoever asks; each says which input it lacks instead of guessing.
"""

from __future__ import annotations

import statistics
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from monitor import words
from monitor.bed.mats import Watch
from monitor.bed.shifted import Shifted
from monitor.diary import Deed, Entry
from monitor.readings import DAY, Millis
from monitor.rules import Bin, Units

AFTER_FEED: Millis = 5 * DAY
"""So long after a feed heat is put down to it: an indoor heap of more than 40 L is at its hottest after 2 to 3 days (Cornell
Composting, Compost Physics; seen)."""
BEFORE_FEED: Millis = 3 * DAY
"""Over so long before it what is usual is taken (proposal)."""
ENOUGH = 2
"""Days of those that must be known: of one alone nobody can say whether it was as usual (proposal)."""
SMALL, MIDDLING, LARGE = 3.0, 5.0, 12.0
"""K above what was usual over its air: small vessels shed their heat, large ones are meant to be warm (proposal)."""
RISES: Mapping[str, float] = {
    "tub": SMALL, "crate": SMALL, "trays": SMALL, "bag": SMALL,
    "barrel": MIDDLING, "trough": MIDDLING, "flow-through": MIDDLING,
    "windrow": LARGE, "pit": LARGE,
}  # fmt: skip
"""By the kind of vessel."""


@dataclass(frozen=True, slots=True)
class Felt:
    """All that is looked at. `above` is (when a day began, mean K of the warmest living zone above its air), oldest first, empty
    where no thermometer stands in the air; `watches` by zone, None where it has learned nothing yet; `mat` whether one may be on,
    None where nobody knows.
    """

    bed: Bin
    entries: Sequence[Entry]
    above: Sequence[tuple[Millis, float]]
    watches: Mapping[str, Watch | None]
    at: Millis
    tz: str
    units: Units = Units.METRIC
    mat: bool | None = False
    lone: Mapping[str, Shifted | None] = field(default_factory=dict)
    """Thermometers of living zones that are compared with no other, with how each stands to its air; None while nobody knows."""

    @property
    def left(self) -> dict[str, Shifted]:
        """Those that have left what their bed made of its air: they are to be held into ice water."""
        return {probe: one for probe, one in self.lone.items() if one is not None and one.told}


@dataclass(frozen=True, slots=True)
class Unusual:
    """What is not as usual, in sentences, and what could not be looked at."""

    lines: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()


def unusual(felt: Felt) -> Unusual:
    """What is not as usual in a bed's heat."""
    lines, lacks = [*_watched(felt), *_shifted(felt)], [*_unwatched(felt)]
    fed = next((e for e in reversed(felt.entries) if e.deed is Deed.FED and e.bed == felt.bed.id), None)
    if fed is None or felt.at - fed.at > AFTER_FEED:
        return Unusual(tuple(lines), tuple(lacks))
    why_not = _cannot_tell(felt, fed)
    if why_not is not None:
        return Unusual(tuple(lines), (*lacks, why_not))
    return Unusual((*lines, *_self_heating(felt, fed)), tuple(lacks))


def rise(felt: Felt, fed: Entry) -> float | None:
    """K by which the bed stands further above its air than in the days before it was fed."""
    before = [k for day, k in felt.above if fed.at - BEFORE_FEED - DAY <= day <= fed.at - DAY]
    since = [k for day, k in felt.above if day >= fed.at - DAY / 2]
    if len(before) < ENOUGH or not since:
        return None
    return max(since) - statistics.median(before)


def _self_heating(felt: Felt, fed: Entry) -> Iterator[str]:
    kelvins, most = rise(felt, fed), RISES.get(felt.bed.vessel.kind, SMALL)
    if kelvins is None or kelvins <= most:
        return
    when = words.clock_time(fed.at, felt.tz, felt.at)
    more = words.difference(kelvins, felt.units)
    yield (
        f"Since it was fed {when} it stands {more} further above its air than before; in this kind of vessel "
        f"{words.difference(most, felt.units)} is much (proposal). Its food seems to heat: spread it thinner, and leave them a"
        " cool end."
    )


def _cannot_tell(felt: Felt, fed: Entry) -> str | None:
    if felt.mat is not False:
        maybe = "is on" if felt.mat else "may be on, nobody says"
        return f"its mat {maybe}, so warmth is not put down to food"
    if not felt.above:
        return "without its air's warmth nothing is put down to food"
    if rise(felt, fed) is None:
        return "too little is known of the days before it was fed, so warmth is not put down to food"
    return None


def _watched(felt: Felt) -> Iterator[str]:
    for zone, watch in felt.watches.items():
        if watch is not None and watch.mat_stuck_on:
            said = "feel it, its switch may be stuck, or the sun shines on it"
            yield f"{zone} warms as if its mat were on, and it is said to be off: {said}."
        if watch is not None and watch.mat_weak:
            yield f"{zone} seems to feel only about half of its mat: look at all of it, whether it was moved, and at its plug."
        if watch is not None and watch.losing_heat:
            yield f"{zone} seems to lose heat faster than usual: is its cover open, is there a draught, is it wet outside?"


def _shifted(felt: Felt) -> Iterator[str]:
    for probe, one in felt.left.items():
        by = words.difference(abs(one.kelvins), felt.units)
        more, warms = ("more", "warms") if one.kelvins > 0 else ("less", "cools")
        yield (
            f"{probe} reads {by} {more} than its bed made of its air in the two months before, on days without a mat: it"
            f" drifts, or the thermometer in the air does, or something new {warms} the bed. Hold it into ice water."
        )


def _unwatched(felt: Felt) -> Iterator[str]:
    unknown = [zone for zone, watch in felt.watches.items() if watch is None]
    if unknown:
        has = "has" if len(unknown) == 1 else "have"
        yield f"{words.joined(unknown)} {has} learned nothing of its heat yet, so what is usual is not known"
    if not felt.above:
        yield "no thermometer stands in its air, so neither a loss of heat nor a mat that is dead, weak or on unasked is seen"
    if felt.mat is None:
        yield "nobody says whether its mat is on, so one that is dead, weak or on unasked is not seen"
    unseen = [probe for probe, one in felt.lone.items() if one is None]
    if unseen:
        has = "has" if len(unseen) == 1 else "have"
        days = "and too few days of three months are known on which no mat was on"
        beside = days if felt.above else "nor one in its air"
        yield f"{words.joined(unseen)} {has} none to be compared with, {beside}, so a drift is not seen"
