"""What is told of the hours ahead, reckoned once for each whole hour however many look."""

from __future__ import annotations

from dataclasses import replace

from starlette.requests import Request

from monitor.readings import MINUTE, Millis
from monitor.reports import expecting
from monitor.reports.foreseen import forecast_facts
from monitor.rules import Bin, Rules
from monitor.web.showing import desk_of

FEW = 12
"""So many bins are drawn, and told of at once: what beds have learned is read as a whole, and most of the time goes into that."""
ANEW: Millis = 5 * MINUTE
"""How long what was told is shown: a bed is told of once an hour, some minutes after the hour."""


def told(request: Request, bed: Bin) -> expecting.Zones:
    """What is told of each zone of a bin; nothing where nothing is known."""
    desk, kept = desk_of(request), request.app.state.expected
    rules, at = desk.rules(), desk.now()
    together = len(rules.bins) <= FEW

    def reckoned() -> expecting.Beds:
        shown = rules.bins if together else {b: rules.bins[b] for b in rules.bins if b in _beside(bed, rules)}
        zones = forecast_facts(desk.store, replace(rules, bins=shown), at)["zones"]
        return {b: expecting.told_of(one, zones) for b, one in shown.items()}

    found: expecting.Beds = kept.get("" if together else bed.id, (rules.version, at // ANEW), reckoned)
    return found[bed.id]


def _beside(bed: Bin, rules: Rules) -> set[str]:
    """A bin and those on a plug with it."""
    return {bed.id}.union(*({b for b, _ in mat.warms} for mat in rules.mats_of(bed.id)))
