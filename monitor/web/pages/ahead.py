"""What is told of the hours ahead, reckoned once for each whole hour however many look."""

from __future__ import annotations

from dataclasses import replace

from starlette.requests import Request

from monitor.readings import MINUTE, Millis
from monitor.reports import expecting
from monitor.reports.foreseen import forecast_facts
from monitor.rules import Bin
from monitor.web.showing import desk_of

ANEW: Millis = 5 * MINUTE
"""How long what was told is shown: a bed is told of once an hour, some minutes after the hour."""


def told(request: Request, bed: Bin) -> expecting.Zones:
    """What is told of each zone of a bin; nothing where nothing is known."""
    desk, kept = desk_of(request), request.app.state.expected
    rules, at = desk.rules(), desk.now()

    def reckoned() -> expecting.Zones:
        alone = replace(rules, bins={b: one for b, one in rules.bins.items() if b in _beside(bed)})
        return expecting.told_of(bed, forecast_facts(desk.store, alone, at, bed=bed.id)["zones"])

    def _beside(one: Bin) -> set[str]:
        warmed = [{b for b, _ in mat.warms} for mat in rules.mats_of(one.id)]
        return {one.id}.union(*warmed)

    of = rules.version, at // ANEW
    found: expecting.Zones = kept.get(bed.id, of, reckoned)
    return found
