"""The line of arithmetic of a limit: what was measured, what it met, for how long."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from monitor.checks.arithmetic import number, quantity, span
from monitor.checks.delays import Phase
from monitor.checks.findings import Evidence
from monitor.checks.values import Memories, ZoneValues, best, sides, zone_values
from monitor.checks.watches import Statistic, View, Watch
from monitor.readings import Measures, Millis

_BEST: Mapping[tuple[Measures, bool], str] = {
    (Measures.TEMPERATURE, True): "warmest",
    (Measures.TEMPERATURE, False): "coolest",
    (Measures.MOISTURE, True): "wettest",
    (Measures.MOISTURE, False): "driest",
}


AT: Mapping[int, str] = {0: "", 1: "at least ", -1: "at most "}
"""How a value is called that is only known from one side."""


@dataclass(frozen=True, slots=True)
class Glance:
    """One view at one moment: what its zones say. `now` holds the newest values themselves."""

    view: View
    at: Millis
    values: ZoneValues
    now: ZoneValues
    sides: Mapping[str, int]


def glance(view: View, memory: Memories, *, at: Millis) -> Glance:
    """What the zones of a view say at a moment."""
    values = zone_values(view, memory, at=at)
    plain = view.statistic is Statistic.VALUE
    now = values if plain else zone_values(replace(view, statistic=Statistic.VALUE), memory, at=at)
    return Glance(view, at, values, now, sides(view, memory, at=at))


def of_presence(watch: Watch, phase: Phase, seen: Glance) -> Evidence:
    """Why a condition is there: the newest value against the limit, and since how long."""
    held = seen.at - phase.began
    asked = f", longer than {span(watch.on_delay)}" if watch.on_delay else ""
    return _evidence(watch, seen, tail=f", {_limit(watch)}{_for(held)}{asked}", held=held)


def of_end(watch: Watch, ended: Millis, seen: Glance) -> Evidence:
    """Why a condition is over: the newest value against the end of the deadband, and since how long."""
    held = seen.at - ended
    word = "at or above" if watch.below else "at or below"
    return _evidence(watch, seen, tail=f", {word} {quantity(watch.clear_at, unit(watch))}{_for(held)}", held=held)


def of_absence(watch: Watch, seen: Glance) -> Evidence:
    """What is measured while the condition is not there."""
    return _evidence(watch, seen, tail=f"; not, or not for long enough, {_limit(watch)}", held=0)


def of_past(watch: Watch, furthest: tuple[str, float] | None, *, view: View, length: Millis) -> Evidence:
    """What an episode was that is over: its furthest value, where it was seen whole, and its length."""
    bare = replace(_bare(watch, f"{_limit(watch)}{_for(length)} in all"), held=length)
    if furthest is None:
        return bare
    zone, value = furthest
    text = f"{'lowest' if watch.below else 'highest'} {quantity(value, unit(watch))}; {bare.arithmetic}"
    return replace(bare, arithmetic=text, value=value, zone=zone, probe=_only_probe(view, zone))


def unit(watch: Watch) -> str:
    """The unit in which a watch's values and bound are written."""
    if watch.measures is Measures.TEMPERATURE:
        return "°C"
    return "points" if watch.statistic is Statistic.RISE else "%"


def _evidence(watch: Watch, seen: Glance, *, tail: str, held: Millis) -> Evidence:
    bare = replace(_bare(watch, _measured(watch, seen) + tail), held=held)
    if not seen.values:
        return bare
    zone, value = best(watch.below, seen.values)
    return replace(
        bare,
        value=value,
        zone=zone,
        probe=_only_probe(seen.view, zone),
        newest=_newest(watch, zone, seen),
        side=seen.sides.get(zone, 0),
        others=tuple(other for other in seen.values if other[0] != zone),
    )


def _bare(watch: Watch, text: str) -> Evidence:
    return Evidence(
        arithmetic=text,
        bound=watch.bound.value,
        unit=unit(watch),
        lasting=watch.on_delay,
        source=watch.bound.source,
        mark=watch.bound.mark,
        below=watch.below,
        clear_at=watch.clear_at,
        statistic=str(watch.statistic),
    )


def _measured(watch: Watch, seen: Glance) -> str:
    if not seen.values:
        return "no value can be judged now"
    zone, value = best(watch.below, seen.values)
    where = (
        f"{_BEST[watch.measures, watch.below]} of {len(seen.values)} zones, {zone}: "
        if len(seen.values) > 1
        else ""
    )
    now = _newest(watch, zone, seen)
    newest = f" (now {quantity(now, '%')})" if now is not None else ""
    if watch.statistic is Statistic.MEDIAN_DAY:
        return f"{where}median of 24 h {AT[seen.sides.get(zone, 0)]}{quantity(value, unit(watch))}{newest}"
    if watch.statistic is Statistic.RISE:
        return f"{where}moisture up by {number(value)} points within 1 h{newest}"
    return f"{where}{AT[seen.sides.get(zone, 0)]}{quantity(value, unit(watch))}"


def _newest(watch: Watch, zone: str, seen: Glance) -> float | None:
    return dict(seen.now).get(zone) if watch.statistic is not Statistic.VALUE else None


def _limit(watch: Watch) -> str:
    return f"at or {'below' if watch.below else 'above'} {quantity(watch.bound.value, unit(watch))}"


def _for(length: Millis) -> str:
    return f" for {span(length)}" if length > 0 else ""


def _only_probe(view: View, zone: str) -> str | None:
    probes = dict(view.zones)[zone]
    return probes[0].id if len(probes) == 1 else None
