"""How long each mat was on in a span, what it drew and what that cost; and who says so."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from monitor import words
from monitor.advice.present import on_from
from monitor.diary import Entry, switches
from monitor.readings import HOUR, MINUTE, Millis
from monitor.reports.week_shapes import WeekMatShape
from monitor.rules import Control, Mat, Probe, Rules, Unit, plug_id
from monitor.science.exposure import SILENT_AFTER, energy
from monitor.store.promises import Store

BEFORE: Millis = HOUR
"""How far before a span a plug's word is looked for, so that the span need not begin unknown."""
USUAL: Millis = 5 * MINUTE

Held = tuple[float, float]
"""For so many hours, so many watts (or 1 and 0 of a plug that tells no watts)."""


def mat_weeks(
    store: Store, rules: Rules, start: Millis, end: Millis, *, diary: Sequence[Entry]
) -> list[WeekMatShape]:
    """Every mat between two moments."""
    plugs = rules.plugs()
    return [
        _mat(mat, plugs.get(plug_id(mat.id)), store, (start, end), diary=diary, rules=rules)
        for mat in rules.mats.values()
    ]


def _mat(
    mat: Mat,
    plug: Probe | None,
    store: Store,
    span: tuple[Millis, Millis],
    *,
    diary: Sequence[Entry],
    rules: Rules,
) -> WeekMatShape:
    hours, known, kwh, by = _told(mat, plug, store, span, diary=diary)
    cost = None if kwh is None or rules.energy is None else kwh * rules.energy.price
    at_most = by == "diary" and mat.control not in (Control.HAND, Control.ALWAYS)
    facts: WeekMatShape = {
        "id": mat.id,
        "warms": [f"{bed}.{zone}" for bed, zone in mat.warms],
        "hours": None if hours is None else round(hours, 3),
        "known": round(known, 3),
        "kwh": None if kwh is None else round(kwh, 4),
        "cost": None if cost is None else round(cost, 4),
        "told_by": by,
        "at_most": at_most,
        "sentence": "",
    }
    length = (span[1] - span[0]) / HOUR
    facts["sentence"] = f"{mat.id}: {'; '.join(_words(facts, mat, length, rules))}."
    return facts


def _told(
    mat: Mat, plug: Probe | None, store: Store, span: tuple[Millis, Millis], *, diary: Sequence[Entry]
) -> tuple[float | None, float, float | None, str | None]:
    """Hours on, hours about which that is known, kWh, and who says so."""
    length = (span[1] - span[0]) / HOUR
    if plug is not None and (held := _held(plug, store, *span)):
        known = math.fsum(hours for hours, _ in held)
        least = on_from(mat, plug)
        on = math.fsum(hours for hours, said in held if said >= least)
        if plug.source.sends is Unit.SWITCH:
            return on, known, energy(on, mat.power) if mat.power else None, "plug"
        return on, known, math.fsum(energy(hours, max(watts, 0.0)) for hours, watts in held), "plug"
    if mat.control is Control.ALWAYS:
        return length, length, energy(length, mat.power) if mat.power else None, "control"
    wrote = switches(diary, mat.id)
    if not wrote:
        return None, 0.0, None, None
    spans = list(_spans(wrote, *span))
    on = math.fsum(hours for hours, is_on in spans if is_on)
    return on, math.fsum(h for h, _ in spans), energy(on, mat.power) if mat.power else None, "diary"


def _held(plug: Probe, store: Store, start: Millis, end: Millis) -> Iterator[Held] | list[Held]:
    """What a plug said, each word until the next one; nothing is held across a silence."""
    told = [r for r in store.window(plug.id, start - BEFORE, end) if r.quality.trusted]
    gaps = sorted(b.at - a.at for a, b in pairwise(told))
    every = plug.every or (gaps[len(gaps) // 2] if gaps else USUAL)
    found = []
    for number, one in enumerate(told):
        until = told[number + 1].at if number + 1 < len(told) else end
        until = min(until, end) if until - one.at <= SILENT_AFTER * every else one.at
        begin = max(one.at, start)
        if until > begin:
            found.append(((until - begin) / HOUR, one.value))
    return found


def _spans(wrote: Sequence[tuple[Millis, bool]], start: Millis, end: Millis) -> Iterator[tuple[float, bool]]:
    for number, (at, on) in enumerate(wrote):
        until = wrote[number + 1][0] if number + 1 < len(wrote) else end
        begin = max(at, start)
        if until > begin:
            yield (until - begin) / HOUR, on


def _words(facts: WeekMatShape, mat: Mat, length: float, rules: Rules) -> Iterator[str]:
    hours, kwh, cost = facts["hours"], facts["kwh"], facts["cost"]
    if hours is None:
        yield "nobody says how long it was on; write mat on and mat off into the diary, or give it a plug that tells"
        return
    by = {"plug": "by its plug", "diary": "by the diary", "control": "it is always on"}[
        facts["told_by"] or "diary"
    ]
    most = "at most " if facts["at_most"] else ""
    yield f"on for {most}{round(hours, 1):g} of {round(length, 1):g} h, {by}"
    if length - facts["known"] >= 0.1:
        yield f"of {round(length - facts['known'], 1):g} h nothing is known"
    if kwh is None:
        yield "its watts are not in the settings" if mat.power is None else "what it drew is not known"
        return
    price = "" if cost is None or rules.energy is None else f", {cost:.2f} {rules.energy.currency}"
    yield f"{most}{words.energy(kwh)}{price}"
