"""What is expected of a bin, for whoever looks at its picture: a fan for each zone, the same as a table, and one sentence."""

from __future__ import annotations

from collections.abc import Mapping

from monitor import words
from monitor.charts.chart import Fan, Likely
from monitor.checks.ahead import OWN_PAST, ByOutdoors, chance_words
from monitor.readings import HOUR
from monitor.reports.bed_shapes import ForecastZoneShape
from monitor.reports.foreseen import UNLIKELY
from monitor.reports.saying import Saying, millis, zone_words
from monitor.rules import Bin, JudgeBy, Role

Zones = Mapping[str, ForecastZoneShape]
"""What is told of each zone of a bin that anything is told of, by zone."""
Beds = Mapping[str, Zones]
"""The same by bin."""


def told_of(bed: Bin, zones: list[ForecastZoneShape]) -> Zones:
    """Those zones of a bin of which something is told, in the order of the settings."""
    known = {zone["id"]: zone for zone in zones if zone["fan"] and zone["now_c"] is not None}
    return {z.id: known[f"{bed.id}.{z.id}"] for z in bed.zones if f"{bed.id}.{z.id}" in known}


def fans(bed: Bin, zones: Zones) -> dict[str, Fan]:
    """From each zone's last whole hour on, 10, 50 and 90 % after each hour, in the style of its line."""
    styles = {zone.id: style for style, zone in enumerate(bed.zones)}
    found = {}
    for name, zone in zones.items():
        at, now = millis(zone["told_at"] or ""), zone["now_c"] or 0.0
        hours = [Likely(at + (n + 1) * HOUR, *sorted(three)) for n, three in enumerate(zone["fan"])]
        said = f"{zone_words(bed, name)}, expected".strip(", ")
        found[name] = Fan(said, styles[name], (Likely(at, now, now, now), *hours))
    return found


def rows(zones: Zones, saying: Saying) -> list[tuple[str, tuple[str, ...]]]:
    """Each hour in words, and for each zone "14.2, 13.1 to 15.0"."""
    columns = {
        name: {
            millis(zone["told_at"] or "") + (n + 1) * HOUR: _three(three, saying)
            for n, three in enumerate(zone["fan"])
        }
        for name, zone in zones.items()
    }
    hours = sorted({at for column in columns.values() for at in column})
    return [(saying.clock(at), tuple(column.get(at, "–") for column in columns.values())) for at in hours]


def _three(three: list[float], saying: Saying) -> str:
    low, middle, high = (words.temperature(t, saying.units).rsplit(" ", 1)[0] for t in sorted(three))
    return f"{middle}, {low} to {high}"


def sentence(bed: Bin, zones: Zones, saying: Saying) -> str:
    """How cold it gets where a worm would go (in its coldest zone where every zone is judged), how likely that is below its
    harm limit, and whether its mat is enough; "" where nothing is told.
    """
    if not zones:
        return ""
    choose = max if bed.judge is JudgeBy.REFUGE else min
    living = [zone.id for zone in bed.zones if zone.role is Role.LIVING and zone.id in zones] or list(zones)
    name = choose(living, key=lambda one: zones[one]["horizons"][0]["least_c"]["likely"])
    zone = zones[name]
    first = zone["horizons"][0]
    low, likely, high = (
        words.temperature(first["least_c"][key], saying.units) for key in ("low", "likely", "high")
    )
    where = f" in the {zone_words(bed, name)}" if len(living) > 1 and zone_words(bed, name) else ""
    said = f"In the next {first['hours']} h down to {likely}{where} ({low.rsplit(' ', 1)[0]} to {high})"
    chance, limit = first["chance_below"], zone["low_c"]
    if chance is not None and limit is not None:
        edge = words.limit(limit, saying.units)
        said += f", hardly below {edge}" if chance < UNLIKELY else f", {chance_words(chance)} likely below {edge}"
        if chance >= UNLIKELY and zone["mat_answer"]:
            said += f"; its mat on all night: {zone['mat_answer']}"
    lost = f" The outdoor forecast is lost, {OWN_PAST}." if zone["outdoors"] == ByOutdoors.LOST else ""
    return f"{said}." + ("" if zone["may_alarm"] else " It still learns, so this is wide.") + lost
