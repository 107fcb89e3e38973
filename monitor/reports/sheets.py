"""The diary as a sheet shows it: by day, newest first, each entry with what can still be done about it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby

from monitor import words
from monitor.checks.findings import Kind
from monitor.readings import Millis
from monitor.reports.diary import LATER
from monitor.reports.entering import SQUEEZED, About, Offer
from monitor.reports.saying import Saying, millis
from monitor.reports.shapes import JottingShape

FIRST = ("fed", "watered", SQUEEZED, "looked", "bedding", "note")
"""What is written most often, offered first of a bin (proposal)."""


@dataclass(frozen=True, slots=True)
class Line:
    """One entry. `clock` is when it happened, `beside` what else is to be known of it, `struck` whether it no longer counts;
    `number` is 0 for what cannot be corrected.
    """

    number: int
    clock: str
    sentence: str
    who: str
    beside: tuple[str, ...]
    struck: bool
    corrected_by: int | None


@dataclass(frozen=True, slots=True)
class Day:
    """A local day and what happened on it, newest first."""

    name: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Choosing:
    """One thing to write about, with the deeds that come first and the others."""

    name: str
    shown: str
    first: tuple[Offer, ...]
    more: tuple[Offer, ...]


def days(entries: Iterable[JottingShape], saying: Saying) -> tuple[Day, ...]:
    """Entries as `diary_facts` has them, by the local day of what they tell of."""
    tz = saying.rules.site.timezone
    newest = sorted(entries, key=lambda e: (millis(e["at"]), e["number"] or 0), reverse=True)
    found = groupby(newest, key=lambda e: words.local(millis(e["at"]), tz).date())
    return tuple(_day(list(mine), saying) for _, mine in found)


def _day(mine: list[JottingShape], saying: Saying) -> Day:
    tz, at = saying.rules.site.timezone, millis(mine[0]["at"])
    name = words.day_of(at, tz)
    if name == words.day_of(saying.at, tz):
        name = f"Today, {name}"
    return Day(name, tuple(_line(one, saying) for one in mine))


def _line(one: JottingShape, saying: Saying) -> Line:
    at = millis(one["at"])
    return Line(
        number=one["number"] or 0,
        clock=hour(at, saying),
        sentence=one["sentence"],
        who=one["who"],
        beside=tuple(_beside(one, saying)),
        struck=one["corrected_by"] is not None,
        corrected_by=one["corrected_by"],
    )


def hour(at: Millis, saying: Saying) -> str:
    """A moment by the clock alone, as `words` writes it of today."""
    return words.clock_time(at, saying.rules.site.timezone, at)


def _beside(one: JottingShape, saying: Saying) -> Iterator[str]:
    at, written = millis(one["at"]), millis(one["written_at"])
    if one["corrects"]:
        yield f"stands for entry {one['corrects']}"
    if written - at > LATER:
        yield f"written {saying.clock(written)}"
    if one["corrected_by"]:
        yield f"not so: corrected by entry {one['corrected_by']}"
    if one["waits"]:
        yield "waits for the next round"


def choosing(abouts: Iterable[About]) -> tuple[tuple[Choosing, ...], tuple[Choosing, ...]]:
    """What an entry can be about: the bins, and whatever else there is. Zones are chosen in the form of their bin."""
    every = [one for one in abouts if one.kind is not Kind.ZONE]
    return (
        tuple(_choosing(one) for one in every if one.kind is Kind.BIN),
        tuple(_choosing(one) for one in every if one.kind is not Kind.BIN),
    )


def _choosing(one: About) -> Choosing:
    first = tuple(offer for word in FIRST for offer in one.offers if offer.word == word)
    rest = tuple(offer for offer in one.offers if offer not in first)
    bed = one.kind is Kind.BIN
    return Choosing(one.name, one.shown, first if bed else one.offers, rest if bed else ())
