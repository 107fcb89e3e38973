"""What stands, as plain facts: the one place that turns what is stored into the shapes that are shown."""

from __future__ import annotations

from collections.abc import Iterable, Set
from dataclasses import dataclass
from typing import TYPE_CHECKING

from monitor.advice.acts import Advice, Order
from monitor.alarms.cycle import Alarm, Event, needs_acknowledgement
from monitor.alarms.priority import priority_of
from monitor.checks.delays import phase_of
from monitor.notify.text import sentence
from monitor.readings import MINUTE, Millis
from monitor.reports import clock, held, paged
from monitor.reports.bins import Scene, bin_facts
from monitor.reports.hands import by_hand
from monitor.reports.mats import mat_facts
from monitor.reports.notes import note_facts
from monitor.reports.probes import Heard, heard_now, value_facts
from monitor.reports.saying import Saying, instant
from monitor.rules import Place, Rules
from monitor.store.promises import Past, RoundRow, Store

if TYPE_CHECKING:
    from monitor.reports.shapes import AirShape, AlarmShape, AlarmsShape, NowShape, OrderShape

OVERDUE: Millis = 5 * MINUTE
"""A round is due every minute; after so long without one nothing seems to run (proposal)."""


def now_facts(store: Store, rules: Rules, at: Millis) -> NowShape:
    """What to do, every bin, and what else there is to know."""
    past, saying = store.load(), Saying(rules, at)
    probes = heard_now(store, rules.probes().values(), at)
    phases = {key: phase_of(body) for (kind, key), body in past.standing.items() if kind == "condition"}
    memory = {name: one.memory for name, one in probes.items()}
    orders = to_do(past, saying)
    advised = {number for order in orders for number in order["alarms"]}
    unadvised = [a for a in past.alarms if a.active and not a.suppressed and a.number not in advised]
    hands = by_hand(store, rules, past.standing, saying)
    scene = Scene(saying, probes, memory=memory, alarms=past.alarms, phases=phases, hands=hands)
    return {
        "site": rules.site.name,
        "units": str(rules.site.units),
        "timezone": rules.site.timezone,
        "at": instant(at),
        "last_round": instant(past.last_round.at) if past.last_round else None,
        "watching": watching(past.last_round, at),
        "clock": clock.clock_facts(past, saying),
        "to_do": orders,
        "bins": [bin_facts(bed, scene) for bed in rules.bins.values()],
        "mats": mat_facts(store, saying),
        "air": [air for place in rules.places.values() for air in _air(place, probes, saying)],
        "notes": [
            *clock.note_facts(past, saying),
            *held.note_facts(past, saying),
            *paged.note_facts(past),
            *note_facts(store, probes, saying, unadvised=unadvised),
        ],
    }


def watching(last: RoundRow | None, at: Millis) -> bool:
    """Whether the last round is recent enough that somebody seems to judge."""
    return last is not None and at - last.at <= OVERDUE


def _air(place: Place, probes: dict[str, Heard], saying: Saying) -> Iterable[AirShape]:
    if place.probes:
        values = [value_facts(probes[p.id], saying) for p in place.probes]
        yield {"place": place.id, "name": place.name, "values": values}


def to_do(past: Past, saying: Saying) -> list[OrderShape]:
    """Every order that still answers a standing alarm, most urgent first; of equal urgency what is due first. What is put
    aside comes last.
    """
    active = {a.number for a in past.alarms if a.active}
    unseen = {a.number for a in past.alarms if a.active and a.state != "acknowledged"}
    aside = {a.number for a in past.alarms if a.active and a.shelf is not None}
    found = [
        order_facts(order, advice, saying=saying, unseen=unseen, aside=aside | (set(order.alarms) - active))
        for advice in past.advice
        for order in advice.orders
        if active & set(order.alarms)
    ]
    return sorted(found, key=lambda order: (order["shelved"], not order["urgent"], order["by"] or "~"))


def order_facts(
    order: Order,
    advice: Advice,
    *,
    saying: Saying,
    unseen: Set[int] = frozenset(),
    aside: Set[int] = frozenset(),
) -> OrderShape:
    """One thing to do. `unseen` are the alarms that nobody has acknowledged, `aside` those that are shelved or over."""
    return {
        "at": instant(advice.at),
        "place": advice.place,
        "act": str(order.act),
        "target": order.target,
        "sentence": sentence(order, saying.rules, advice.place, saying.at),
        "words": order.words,
        "why": order.why,
        "cautions": list(order.cautions),
        "more": list(order.more),
        "by": instant(order.by) if order.by is not None else None,
        "urgent": order.urgent,
        "alarms": list(order.alarms),
        "seen": not unseen & set(order.alarms),
        "shelved": bool(order.alarms) and set(order.alarms) <= aside,
        "valid_until": instant(advice.valid_until),
    }


# ── alarms ────────────────────────────────────────────────────────────────────────────────────────────────────


@dataclass(frozen=True, slots=True)
class Seen:
    """Who acknowledged an alarm, and when."""

    who: str
    at: Millis


def alarms_facts(store: Store, rules: Rules, at: Millis) -> AlarmsShape:
    """Every standing alarm, by number."""
    past, saying = store.load(), Saying(rules, at)
    alarms = past.alarms
    found = [alarm_facts(a, saying, seen=_seen(a, store)) for a in sorted(alarms, key=lambda a: a.number)]
    shelves, works = held.shelf_facts(past, saying), held.work_facts(past, saying)
    unsure = clock.clock_facts(past, saying)
    return {"at": instant(at), "clock": unsure, "alarms": found, "shelves": shelves, "works": works}


def _seen(alarm: Alarm, store: Store) -> Seen | None:
    """Who acknowledged it last, while that holds."""
    if alarm.state != "acknowledged":
        return None
    steps = [s for s in store.story(alarm.number).transitions if s.event is Event.ACKNOWLEDGED]
    return Seen(steps[-1].who or "somebody", steps[-1].at) if steps else None


def alarm_facts(alarm: Alarm, saying: Saying, *, seen: Seen | None = None) -> AlarmShape:
    """One standing alarm; `seen` is who acknowledged it last."""
    answered = seen if alarm.state == "acknowledged" else None
    level = alarm.level or alarm.worst
    return {
        "number": alarm.number,
        "about": saying.about(alarm.key, level),
        "subject": str(alarm.key.subject),
        "place": alarm.key.subject.place,
        "condition": str(alarm.key.condition),
        "state": str(alarm.state),
        "level": str(alarm.level) if alarm.level else None,
        "priority": str(priority_of(alarm.key, level)),
        "since": instant(alarm.since),
        "raised_at": instant(alarm.raised_at),
        "sentence": saying.evidence(alarm.evidence),
        "arithmetic": alarm.evidence.arithmetic,
        "source": alarm.evidence.source,
        "mark": alarm.evidence.mark,
        "needs_answer": alarm.state != "acknowledged" and needs_acknowledgement(alarm),
        "seen_by": answered.who if answered else None,
        "seen_at": instant(answered.at) if answered else None,
        "suppressed_by": saying.about(alarm.cause, None) if alarm.cause else None,
        "shelved": held.held_facts(alarm.shelf) if alarm.shelf else None,
        "out_of_service": held.held_facts(alarm.work) if alarm.work else None,
    }
