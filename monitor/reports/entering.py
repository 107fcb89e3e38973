"""What a form for the diary offers: whom an entry can be about, what can be done there, and when it can have been.

A form has a whom, a deed, an amount, a note and a when. Whatever it comes to goes the way of typed words: `jotting.leave`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from monitor import words
from monitor.checks.findings import Kind
from monitor.deeds import BARE, SITE, WAYS
from monitor.errors import RequestError
from monitor.moments import senses
from monitor.readings import HOUR, SECOND, Millis
from monitor.reports.saying import zone_words
from monitor.rules import Rules, Units

MORNING, EVENING = time(8), time(18)
"""What "this morning" and "yesterday evening" stand for; each is shown with its hour (proposal)."""

SQUEEZED = "squeezed"
"""A deed that no typed word stands for: `squeezing.squeeze` takes it."""

NOW = "now"
OWN = "own"
"""The choice of a time of one's own."""

LABELS: Mapping[str, str] = {
    "fed": "Fed", "watered": "Watered", "bedding": "Bedding added", "harvested": "Harvested",
    "drained": "Tray emptied", "weighed": "Weighed",
    "worms": "Worms added", "split": "Worms split off", "on": "Mat switched on", "off": "Mat switched off",
    "cover": "Cover changed", "insulated": "Insulation changed", "moved": "Moved", "lifted": "Probe lifted",
    "looked": "Looked", "note": "Note", "squeezed": "Squeezed a handful",
}  # fmt: skip
"""Every word for a deed as a button says it."""


@dataclass(frozen=True, slots=True)
class Offer:
    """One deed as a form offers it: its `word`, its label, the units its amount is told in (the usual one first; none where it
    has no amount), and whether it says nothing without one.
    """

    word: str
    label: str
    units: tuple[str, ...] = ()
    needed: bool = False


@dataclass(frozen=True, slots=True)
class About:
    """Whom or what an entry can be about: the name as it is typed, as it is shown, and what can be done there. `bed` is the
    bin that a zone is part of.
    """

    kind: Kind
    name: str
    shown: str
    offers: tuple[Offer, ...]
    bed: str = ""


@dataclass(frozen=True, slots=True)
class Choice:
    """A time to choose: `when` is what `jot` is told (None: now), `label` what the keeper reads."""

    key: str
    label: str
    when: str | None


def abouts(rules: Rules) -> tuple[About, ...]:
    """Everything an entry can be about: each bin with its zones, then mats, probes, and the site."""
    return tuple(
        About(
            kind,
            name,
            shown,
            tuple(_offers(kind, rules.site.units)),
            name.split(".")[0] if kind is Kind.ZONE else "",
        )
        for kind, name, shown in _things(rules)
    )


def _things(rules: Rules) -> Iterator[tuple[Kind, str, str]]:
    for bed in rules.bins.values():
        yield Kind.BIN, bed.id, bed.name
        for zone in bed.zones:
            yield Kind.ZONE, f"{bed.id}.{zone.id}", f"{bed.name} {zone_words(bed, zone.id)}"
    yield from ((Kind.MAT, mat, mat) for mat in rules.mats)
    yield from ((Kind.PROBE, probe, probe) for probe in rules.probes())
    yield Kind.DAEMON, SITE, rules.site.name


def _offers(kind: Kind, units: Units) -> Iterator[Offer]:
    for word, way in WAYS.items():
        if kind in way.about:
            yield Offer(word, LABELS[word], tuple(BARE[units][unit] for unit in way.units), way.needed)
    if kind in (Kind.BIN, Kind.ZONE):
        yield Offer(SQUEEZED, LABELS[SQUEEZED])


def times(now: Millis, tz: str) -> tuple[Choice, ...]:
    """When it was, the likeliest first: now, an hour ago, this morning and yesterday evening as far as they lie behind, or a
    time of one's own. What has an hour is told by its moment, so that a page that lies open overnight still means it.
    """
    today = words.local(now, tz).date()
    fixed = (
        ("morning", "this morning", _moment(datetime.combine(today, MORNING), tz)),
        ("evening", "yesterday evening", _moment(datetime.combine(today - timedelta(days=1), EVENING), tz)),
    )
    return (
        Choice(NOW, "now", None),
        Choice("hour", "an hour ago", "1 h ago"),
        *(
            Choice(key, f"{said}, {words.hours(words.local(at, tz), tz)}", _iso(at))
            for key, said, at in fixed
            if at <= now - HOUR
        ),
        Choice(OWN, "at a time of its own", ""),
    )


def own_time(text: str, tz: str, now: Millis) -> tuple[Choice, ...]:
    """The choices that a time of one's own leaves, as a form's field writes it (`2026-10-25T01:30`): one, or both of an hour
    that was twice because clocks went back, the earlier first.

    Raises RequestError for a field that was left empty; anything else that is wrong `moment` says.
    """
    if not text.strip():
        raise RequestError("choose the day and the time, or one of the times above")
    meant = senses(text, tz)
    if len(meant) < 2:
        return (Choice(OWN, text.strip(), text),)
    order = ("the first time, before clocks went back", "the second time, after clocks went back")
    return tuple(
        Choice(_iso(at), f"{words.clock_time(at, tz, now)}, {which}", _iso(at))
        for at, which in zip(meant, order, strict=True)
    )


def _moment(wall: datetime, tz: str) -> Millis:
    return round(wall.replace(tzinfo=ZoneInfo(tz)).timestamp()) * SECOND


def _iso(at: Millis) -> str:
    return f"{datetime.fromtimestamp(at // SECOND, UTC):%Y-%m-%dT%H:%M:%SZ}"
