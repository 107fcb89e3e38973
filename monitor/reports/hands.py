"""Moisture where no calibrated probe speaks: which way it goes, what a hand has felt, and whether to ask for one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from monitor.checks.squeezes import SPEAKS, Squeezes, of_zone, squeezes_in
from monitor.readings import DAY, Measures, Millis
from monitor.reports.saying import Saying
from monitor.rules import Bin, Probe, Role, Rules
from monitor.science.squeeze import band
from monitor.store.promises import Store

ASKED_AGAIN: Millis = 7 * DAY
"""A hand is asked for when the last one is older than this (proposal): once a week, and never in a notice."""
SHARED = 50
"""Of so many probes at most it is said which way they go: that reads eight days of each."""


def by_hand(
    store: Store, rules: Rules, standing: Mapping[tuple[str, str], str], saying: Saying
) -> dict[str, list[str]]:
    """By bin, what is said of its moisture behind "no calibration"; empty where a calibrated probe is there."""
    squeezes = squeezes_in(standing)
    bare = {bed.id: _without_points(bed) for bed in rules.bins.values() if not _calibrated(bed)}
    few = sum(len(probes) for probes in bare.values()) <= SHARED
    found = {}
    for bed, probes in bare.items():
        trends = _trends(probes, store, saying) if few else []
        said = [*trends, *_felt(rules.bins[bed], squeezes, saying, asked=bool(probes))]
        if said:
            found[bed] = said
    return found


def _trends(probes: Sequence[Probe], store: Store, saying: Saying) -> list[str]:
    if not probes:
        return []
    from monitor.reports.roster import trend_words

    return [f"{p.id}: {trend_words(p, store, saying.at)}" for p in probes]


def _living(bed: Bin) -> list[Probe]:
    return [p for z in bed.zones if z.role is Role.LIVING for p in z.probes if p.measures is Measures.MOISTURE]


def _calibrated(bed: Bin) -> bool:
    return any(p.judged for p in _living(bed))


def _without_points(bed: Bin) -> list[Probe]:
    return [p for p in _living(bed) if not p.judged]


def _felt(bed: Bin, squeezes: Squeezes, saying: Saying, *, asked: bool) -> Iterator[str]:
    """What a hand felt last, else that it should feel; bins without any moisture probe are not asked for it."""
    known = [one for z in bed.zones if z.role is Role.LIVING and (one := of_zone(bed, z, squeezes)) is not None]
    last = max(known, key=lambda one: one.at, default=None)
    if last is not None and saying.at - last.at <= ASKED_AGAIN:
        feel = band(last.feel, bed.made_of)
        old = "" if saying.at - last.at <= SPEAKS else ", too long ago to be judged by"
        yield f"a hand felt {feel.low:g} to {feel.high:g} % at {saying.clock(last.at)}{old}"
    elif asked:
        yield f"squeeze a handful and say what it did: `vermistat squeeze {bed.id}`"
