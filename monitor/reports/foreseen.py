"""The hours ahead of every zone, as facts and in sentences: how cold, how warm, how likely beyond its limits, and when."""

from __future__ import annotations

from collections.abc import Iterator

from monitor import words
from monitor.bed.enough import Enough, is_mat_enough
from monitor.bed.forecast import Crossing, Forecast, Side
from monitor.bed.living import Told, control_of, zones_of
from monitor.bed.unsure import FAR, LEARNS, QUICK, cools_quickly
from monitor.checks.ahead import LASTS, Nights, by_hand, by_outdoors, chance_words, hours_old, outdoors_of
from monitor.checks.mats import now_of
from monitor.diary import EVERY, needed
from monitor.hourly import shown
from monitor.readings import HOUR, Measures, Millis
from monitor.reports.bed_shapes import (
    CrossingShape,
    ForecastShape,
    ForecastZoneShape,
    HorizonShape,
    RangeShape,
)
from monitor.reports.outdoors import outdoors_facts
from monitor.reports.saying import Saying, instant, millis, zone_words
from monitor.rules import Bin, Rules, Zone
from monitor.store.promises import Store

UNLIKELY = 0.005


def forecast_facts(store: Store, rules: Rules, at: Millis, *, bed: str | None = None) -> ForecastShape:
    """Every zone with a thermometer, in the order of the settings; of one bin alone with `bed`."""
    nights, saying = shown(store, rules, at, needed(store.diary(EVERY))), Saying(rules, at)
    return {
        "at": instant(at),
        "zones": [
            _zone(saying, one, zone, nights)
            for one in rules.bins.values()
            if bed in (None, one.id)
            for zone in zones_of(one)
        ],
        "outdoors": outdoors_facts(store, saying),
    }


def _zone(saying: Saying, bed: Bin, zone: Zone, nights: Nights) -> ForecastZoneShape:
    told = nights.get(bed.id, {}).get(zone.id)
    fresh = told is not None and saying.at - told.at <= LASTS + HOUR
    forecast = told.forecast if told is not None and fresh else None
    answer = (
        is_mat_enough(now_of(told))
        if told is not None and forecast is not None and told.limits[0] is not None
        else None
    )
    return {
        "id": f"{bed.id}.{zone.id}",
        "about": f"{bed.name} {zone_words(bed, zone.id)}".strip(),
        "told_at": instant(told.at) if told is not None else None,
        "now_c": round(forecast.now, 2) if forecast else None,
        "low_c": told.limits[0] if told is not None and forecast else None,
        "high_c": told.limits[1] if told is not None and forecast else None,
        "air": str(forecast.air) if forecast else None,
        "dressed": str(forecast.dressed) if forecast else None,
        "may_alarm": bool(forecast and forecast.may_alarm),
        "fell_back": bool(forecast and forecast.fell_back),
        "outdoors": str(outdoors_of(told)) if told is not None and forecast else None,
        "outdoors_age_h": hours_old(told) if told is not None and forecast else None,
        "horizons": [_horizon(cold, warm) for cold, warm in zip(forecast.least, forecast.greatest, strict=True)]
        if forecast
        else [],
        "below": _crossing(forecast.below) if forecast else None,
        "above": _crossing(forecast.above) if forecast else None,
        "fan": [[round(t, 2) for t in three] for three in forecast.fan] if forecast else [],
        "mat_answer": str(answer.answer) if answer else None,
        "mat_chance_on": round(answer.chance_on, 4) if answer else None,
        "mat_chance_off": round(answer.chance_off, 4) if answer else None,
        "sentences": list(_sentences(saying, bed, zone, told=told, forecast=forecast, answer=answer)),
    }


def _horizon(cold: Side, warm: Side) -> HorizonShape:
    return {
        "hours": cold.hours,
        "least_c": _range(cold),
        "most_c": _range(warm),
        "chance_below": cold.chance,
        "chance_above": warm.chance,
    }


def _range(side: Side) -> RangeShape:
    return {"likely": round(side.point, 2), "low": round(side.low, 2), "high": round(side.high, 2)}


def _crossing(one: Crossing | None) -> CrossingShape | None:
    if one is None:
        return None
    likely, early, late = (None if at is None else instant(at) for at in (one.likely, one.early, one.late))
    return {"likely": likely, "early": early, "late": late}


def _sentences(
    saying: Saying, bed: Bin, zone: Zone, *, told: Told | None, forecast: Forecast | None, answer: Enough | None
) -> Iterator[str]:
    place = saying.rules.places.get(bed.place)
    if not any(p.measures is Measures.TEMPERATURE for p in (place.probes if place else ())):
        yield "Nothing can be told: no thermometer measures the air it stands in."
        return
    if told is None or forecast is None:
        yield (
            "Nothing can be told now: it, or its room, has not been heard for a whole hour."
            if told is None
            else (f"Nothing can be told now; the last hour that was, ended {saying.when(told.at)}.")
        )
        return
    yield from _degrees(saying, forecast)
    yield from _edges(saying, told, forecast)
    if answer is not None:
        on, off = chance_words(answer.chance_on), chance_words(answer.chance_off)
        yield f"Its mat on all night: {answer.answer}, {on} below; off: {off}."
        if not any(control_of(mat, saying.rules) == (bed.id, zone.id) for mat in saying.rules.mats.values()):
            yield FAR
    yield from by_hand(told, saying.clock)
    yield f"By {forecast.air}; the band {forecast.dressed}."
    if not forecast.may_alarm:
        yield LEARNS
    if cools_quickly(told.bed.learned.zone):
        yield QUICK
    yield from by_outdoors(told)


def _degrees(saying: Saying, forecast: Forecast) -> Iterator[str]:
    """It is so warm now, and so cold and so warm within 12 and 24 h."""
    told = []
    for cold, warm in zip(forecast.least, forecast.greatest, strict=True):
        low, point, high, most = (
            words.temperature(t, saying.units) for t in (cold.low, cold.point, cold.high, warm.point)
        )
        told.append(f"in {cold.hours} h down to {point} ({low} to {high}) and up to {most}")
    yield f"{words.temperature(forecast.now, saying.units)} now; {', '.join(told)}."


def _edges(saying: Saying, told: Told, forecast: Forecast) -> Iterator[str]:
    cases = (
        (told.limits[0], forecast.least, forecast.below, "below"),
        (told.limits[1], forecast.greatest, forecast.above, "above"),
    )
    for limit, sides, crossing, where in cases:
        chances = [side.chance for side in sides]
        if limit is None or chances[0] is None or chances[1] is None:
            continue
        if max(c or 0.0 for c in chances) < UNLIKELY:
            yield f"Hardly {where} {words.limit(limit, saying.units)} in the next 24 h."
            continue
        said = f"{chance_words(chances[0])} likely {where} {words.limit(limit, saying.units)} in 12 h"
        yield f"{said[:1].upper()}{said[1:]}, {chance_words(chances[1])} in 24 h{_when(saying, crossing)}."


def _when(saying: Saying, crossing: Crossing | None) -> str:
    if crossing is None or crossing.likely is None:
        return ""
    early = saying.clock(crossing.early) if crossing.early is not None else None
    late = saying.clock(crossing.late) if crossing.late is not None else "later than that"
    return f"; then from about {saying.clock(crossing.likely)} ({early or '?'} to {late})"


def forecast_text(facts: ForecastShape, saying: Saying) -> str:
    """Sentences under each zone's name."""
    if not facts["zones"]:
        return "No zone has a thermometer, so nothing can be told ahead."
    lines = [facts["outdoors"]["sentence"]] if facts["outdoors"] else []
    for zone in facts["zones"]:
        told = "" if zone["told_at"] is None else f" (as of {saying.clock(millis(zone['told_at']))})"
        lines += [f"{zone['about']}{told}", *(f"  {sentence}" for sentence in zone["sentences"])]
    return "\n".join(lines)
