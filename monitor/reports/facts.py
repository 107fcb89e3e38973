"""What stands, as plain facts: the one place that turns what is stored into the shapes that are shown."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from monitor import words
from monitor.advice.acts import Advice, Order
from monitor.alarms.cycle import Alarm, Transition
from monitor.alarms.priority import priority_of
from monitor.notify.notices import Decision
from monitor.readings import MINUTE, Measures, Millis, Reading
from monitor.reports.shapes import (
    AlarmShape,
    BinShape,
    LimitShape,
    NowShape,
    OrderShape,
    PlaceShape,
    SpeciesShape,
    StepShape,
    ToldShape,
    ValueShape,
    WhyShape,
    ZoneShape,
)
from monitor.rules import Bin, Level, Limits, Probe, Rules
from monitor.science.bands import Species
from monitor.science.moisture import moisture_percent
from monitor.store.promises import Store

SILENCE = 45 * MINUTE
NEWEST = 20
"""How many readings back the newest trusted one is looked for."""


def instant(at: Millis) -> str:
    """RFC 3339 in UTC, to the second."""
    return datetime.fromtimestamp(at / 1000, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def now_facts(store: Store, rules: Rules, at: Millis) -> NowShape:
    """Every bin, and what to do."""
    past = store.load()
    alarms = [a for a in past.alarms if a.active]
    return {
        "site": rules.site.name,
        "at": instant(at),
        "last_round": instant(past.last_round.at) if past.last_round else None,
        "advice": [place_facts(a) for a in past.advice if a.orders and _still_asked(a, alarms)],
        "bins": [bin_facts(store, bed, rules=rules, alarms=alarms, at=at) for bed in rules.bins.values()],
    }


def _still_asked(advice: Advice, alarms: Sequence[Alarm]) -> bool:
    standing = {a.number for a in alarms}
    return any(standing & set(order.alarms) for order in advice.orders)


def place_facts(advice: Advice) -> PlaceShape:
    """One place's decision."""
    return {
        "place": advice.place,
        "valid_until": instant(advice.valid_until),
        "orders": [order_facts(order) for order in advice.orders],
    }


def order_facts(order: Order) -> OrderShape:
    """One thing to do."""
    return {
        "act": str(order.act),
        "target": order.target,
        "words": order.words,
        "why": order.why,
        "cautions": list(order.cautions),
        "by": instant(order.by) if order.by is not None else None,
        "urgent": order.urgent,
        "alarms": list(order.alarms),
    }


def bin_facts(store: Store, bed: Bin, *, rules: Rules, alarms: Sequence[Alarm], at: Millis) -> BinShape:
    """One bin: its zones, its alarms, and how it is in a sentence."""
    zones: list[ZoneShape] = [
        {
            "id": zone.id,
            "role": str(zone.role),
            "values": [v for p in zone.probes if (v := _value(store, p, at)) is not None],
        }
        for zone in bed.zones
    ]
    mine = [a for a in alarms if a.key.subject.id.partition(".")[0] == bed.id]
    return {
        "id": bed.id,
        "name": bed.name,
        "place": bed.place,
        "species": list(bed.species),
        "sentence": _sentence(bed, zones, mine, rules),
        "zones": zones,
        "alarms": [a.number for a in mine],
    }


def _value(store: Store, probe: Probe, at: Millis) -> ValueShape | None:
    newest = next((r for r in reversed(store.latest(probe.id, NEWEST)) if r.quality.trusted), None)
    if newest is None:
        return None
    value, unit = _shown(probe, newest)
    return {
        "probe": probe.id,
        "measures": str(probe.measures),
        "value": value,
        "unit": unit,
        "at": instant(newest.at),
        "age_seconds": max(0, (at - newest.at) // 1000),
        "fresh": at - newest.at <= max(3 * (probe.every or 0), SILENCE),
    }


def _shown(probe: Probe, reading: Reading) -> tuple[float, str]:
    if probe.measures is Measures.TEMPERATURE:
        return reading.value, "°C"
    if probe.measures is Measures.HUMIDITY:
        return reading.value, "%RH"
    calibrated = moisture_percent(probe, reading.value)
    return (round(calibrated[0], 1), "%") if calibrated else (reading.value, "as sent")


def _sentence(bed: Bin, zones: Sequence[ZoneShape], alarms: Sequence[Alarm], rules: Rules) -> str:
    said = []
    for measures, name in ((Measures.TEMPERATURE, ""), (Measures.MOISTURE, "moisture ")):
        values = [
            v["value"] for z in zones for v in z["values"] if v["measures"] == measures and v["fresh"]
            and v["unit"] in ("°C", "%")
        ]  # fmt: skip
        if values:
            said.append(name + _span(min(values), max(values), measures, rules))
    state = " and ".join(
        f"{a.key.condition}{' (harm)' if a.level is Level.HARM else ''}, alarm {a.number}" for a in alarms
    )
    if not said:
        return state or "No fresh reading."
    how = "; ".join(said)
    return f"{how}: {state}." if state else f"{how}: nothing to do."


def _span(low: float, high: float, measures: Measures, rules: Rules) -> str:
    def say(value: float) -> str:
        return words.temperature(value, rules.site.units) if measures is Measures.TEMPERATURE else f"{value:.0f} %"

    return say(low) if say(low) == say(high) else f"{say(low)} to {say(high)}"


def alarm_facts(alarm: Alarm) -> AlarmShape:
    """One standing alarm."""
    return {
        "number": alarm.number,
        "subject": str(alarm.key.subject),
        "place": alarm.key.subject.place,
        "condition": str(alarm.key.condition),
        "state": str(alarm.state),
        "level": str(alarm.level) if alarm.level else None,
        "priority": str(priority_of(alarm.key, alarm.level)),
        "since": instant(alarm.since),
        "raised_at": instant(alarm.raised_at),
        "arithmetic": alarm.evidence.arithmetic,
        "source": alarm.evidence.source,
        "mark": alarm.evidence.mark,
        "suppressed_by": f"{alarm.cause.subject} {alarm.cause.condition}" if alarm.cause else None,
    }


def why_facts(store: Store, number: int) -> WhyShape | None:
    """One alarm from the reading to the telling; None when no alarm ever had this number."""
    steps = [t for t in store.transitions(limit=100_000) if t.number == number]
    if not steps:
        return None
    key = steps[-1].key
    advice = [o for a in store.advice(key.subject.place, 50) for o in a.orders if number in o.alarms]
    newest = {(o.act, o.target): o for o in advice}
    return {
        "number": number,
        "subject": str(key.subject),
        "condition": str(key.condition),
        "evidence": list(dict.fromkeys(_evidence(t) for t in steps if t.evidence)),
        "steps": [step_facts(t) for t in steps],
        "advice": [order_facts(o) for o in newest.values()],
        "told": [told_facts(d) for d in store.decisions(number)],
        "diary": [
            f"{instant(e.at)} {e.who}: {e.deed} {e.text}".strip() for e in store.diary() if e.alarm == number
        ],
    }


def _evidence(step: Transition) -> str:
    evidence = step.evidence
    if evidence is None:
        return ""
    source = f" Limit: {evidence.source} ({evidence.mark})." if evidence.source else ""
    return f"{evidence.arithmetic}.{source}".replace("..", ".")


def step_facts(step: Transition) -> StepShape:
    """One step."""
    return {
        "at": instant(step.at),
        "event": str(step.event),
        "before": str(step.before),
        "after": str(step.after),
        "level": str(step.level) if step.level else None,
        "cause": step.cause,
        "who": step.who,
    }


def told_facts(decision: Decision) -> ToldShape:
    """Why told or not."""
    return {
        "at": instant(decision.at),
        "person": decision.person,
        "event": decision.event,
        "verdict": str(decision.verdict),
        "reason": decision.reason,
        "until": instant(decision.until) if decision.until is not None else None,
        "notice": decision.notice,
    }


def species_facts(worm: Species) -> SpeciesShape:
    """One species."""
    return {
        "key": worm.key,
        "latin": worm.latin,
        "common": worm.common,
        "temperature": list(_limits(worm.temperature, "°C")),
        "moisture": list(_limits(worm.moisture, "%")),
        "notes": list(worm.notes),
        "warning": worm.warning,
    }


def _limits(limits: Limits, unit: str) -> list[LimitShape]:
    edges = [(True, limits.low, limits.comfort_delay), (False, limits.high, limits.comfort_delay)]
    comfort = [(str(Level.COMFORT), below, bound, lasting) for below, bound, lasting in edges if bound]
    harm = [(str(Level.HARM), h.below, h.bound, h.lasting) for h in limits.harm]
    return [
        {
            "level": level,
            "below": below,
            "value": bound.value,
            "unit": unit,
            "lasting_minutes": lasting / MINUTE,
            "source": bound.source,
            "mark": bound.mark,
        }
        for level, below, bound, lasting in comfort + harm
    ]
