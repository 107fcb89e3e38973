"""What a forecast of the air outdoors says: two lists of equal length, times and temperatures, each where a pointer leads.

A pointer is RFC 6901's; a step `*` at a list stands for each of its items, so `/hours/*/time` reads
`{"hours": [{"time": …}, …]}`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from itertools import pairwise

from monitor.addresses import Outdoors
from monitor.bed.outside import KIND, TOLD, TROUBLE, outside_of, taken, written
from monitor.errors import BadValue
from monitor.intake.payloads.parts import (
    CLOCK_SET,
    YEAR_10000,
    Refused,
    document,
    pointer,
    quantity,
    shown,
    walk,
    what_is_there,
    when,
)
from monitor.intake.shapes import Delivery
from monitor.readings import Millis, Refusal, RefusalKind
from monitor.science.units import canonical
from monitor.store.promises import Standing, Store

LONGEST = 1_000_000
"""Bytes."""
MOST = 1000
"""Hours: more than a month (ours, no source)."""
COLDEST, WARMEST = -95.0, 65.0
"""°C: no air was ever so cold or so warm (the WMO's records are −89.2 and 56.7; memory)."""
UNITS = {"Cel": "°C", "degF": "°F", "K": "K"}
EACH = "*"
EXCERPT = 200
SENT = "the outdoor forecast"

Hours = list[tuple[Millis, float]]


def read(payload: bytes, where: Outdoors, received: Millis) -> Hours:
    """The hours of a forecast in order of time, °C. Raises Refused, with where and what."""
    if not payload:
        raise Refused(RefusalKind.EMPTY, "An empty message: somebody cleared this topic. Nothing is needed.")
    if len(payload) > LONGEST:
        raise Refused(RefusalKind.TOO_LONG, f"{len(payload):,} bytes: a forecast of hours has a few thousand.")
    found = document(payload, SENT)
    times, warmth = _list(found, where.times, "times"), _list(found, where.temperatures, "temperatures")
    if len(times) != len(warmth):
        said = f"There are {len(times)} times and {len(warmth)} temperatures: they belong together one by one."
        raise Refused(RefusalKind.NOT_THERE, said)
    hours = [
        (_time(at), _celsius(value, where)) for at, value in zip(times, warmth, strict=True) if value is not None
    ]
    if not hours:
        raise Refused(RefusalKind.NOT_THERE, "There is no hour in it.")
    if any(a >= b for (a, _), (b, _) in pairwise(hours)):
        raise Refused(RefusalKind.BAD_TIME, "Its times are not in order, each later than the one before.")
    if hours[-1][0] <= received:
        raise Refused(RefusalKind.BAD_TIME, "All its hours lie behind us: it is an old one.")
    return hours


def _list(found: object, way: str, name: str) -> Sequence[object]:
    steps = pointer(way)
    try:
        items: Sequence[object] = list(_each(found, steps))
    except LookupError:
        bare = steps[: steps.index(EACH)] if EACH in steps else steps
        raise Refused(
            RefusalKind.NOT_THERE, f"`{name}: {way}` leads nowhere: {what_is_there(found, bare)}."
        ) from None
    if len(items) == 1 and isinstance(items[0], list):
        items = items[0]
    elif EACH not in steps:
        said = f"`{name}: {way}` leads to {shown(items[0])}, and a list is needed."
        raise Refused(RefusalKind.NOT_THERE, said)
    if len(items) > MOST:
        raise Refused(
            RefusalKind.TOO_LONG, f"`{name}: {way}` leads to {len(items):,} items; {MOST:,} are the most."
        )
    return items


def _each(found: object, steps: Sequence[str]) -> Iterator[object]:
    for n, step in enumerate(steps):
        if step == EACH and isinstance(found, list):
            for one in found:
                yield from _each(one, steps[n + 1 :])
            return
        found = walk(found, [step])
    yield found


def _time(raw: object) -> Millis:
    at = when(raw)
    if CLOCK_SET <= at < YEAR_10000:
        return at
    raise Refused(RefusalKind.BAD_TIME, f"{shown(raw)} is no time of a forecast: look at what `times` leads to.")


def _celsius(raw: object, where: Outdoors) -> float:
    try:
        value = canonical(quantity(raw), UNITS[where.sends])
    except (Refused, BadValue):
        raise Refused(RefusalKind.NOT_A_NUMBER, f"There is {shown(raw)} where a temperature is needed.") from None
    if COLDEST <= value <= WARMEST:
        return value
    said = f"{shown(raw)} is no temperature of air: look at `sends` and at what `temperatures` leads to."
    raise Refused(RefusalKind.NOT_A_NUMBER, said)


def keep(store: Store, found: Hours, received: Millis) -> None:
    """Keep a forecast, durably, over the earlier ones. Raises StoreError."""
    known = store.standing(KIND)
    try:
        before = outside_of(known[TOLD]) if TOLD in known else None
    except BadValue:
        before = None
    told = Standing(KIND, TOLD, written(taken(before, found, received)))
    store.settle([told, *([Standing(KIND, TROUBLE, None)] if TROUBLE in known else [])])


def asides(
    where: Outdoors | None, store: Store
) -> Mapping[str, Callable[[Delivery], Refusal | Callable[[], object]]]:
    """By topic: what the pump does with such a message."""
    if where is None or where.topic is None:
        return {}
    return {where.topic: partial(_taken, where, store)}


def _taken(where: Outdoors, store: Store, delivery: Delivery) -> Refusal | Callable[[], object]:
    try:
        found = read(delivery.payload, where, delivery.received_at)
        # what the broker had kept may be old: it is no newer than its own first hour
        received = min(delivery.received_at, found[0][0]) if delivery.retained else delivery.received_at
        taken(None, found, received)
    except Refused as refused:
        return Refusal(
            delivery.topic, None, refused.kind, refused.reason, delivery.payload[:EXCERPT], delivery.received_at
        )
    except BadValue as wrong:
        said = f"It cannot be used: {wrong}."
        return Refusal(
            delivery.topic, None, RefusalKind.BAD_TIME, said, delivery.payload[:EXCERPT], delivery.received_at
        )
    return partial(keep, store, found, received)
