"""What a publisher says of itself on `publishers/<id>`: whether it lives, and for each probe how many readings were none and why.

Kept as one short document for each publisher, so that whoever asks why a probe is silent is told. It comes with every new fault:
what has only counted on since the last is kept once in a quarter of an hour, for a card's sake.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass, field
from functools import partial

from monitor.errors import BadValue
from monitor.intake.payloads.parts import Refused, document, own_time, shown
from monitor.intake.shapes import Delivery
from monitor.readings import MINUTE, Millis, Refusal, RefusalKind
from monitor.store.promises import Standing, Store

KIND = "publisher"
"""The standing documents, by the publisher's id."""
COUNTS_ON: Millis = 15 * MINUTE
LONGEST = 1_000_000
"""Bytes; a hundred probes take some ten thousand (ours)."""
LONGEST_WORDS = 300
MOST = 1 << 53
EXCERPT = 200
SENT = "what the publisher sends"


@dataclass(frozen=True, slots=True)
class Wired:
    """One probe at its publisher: readings that were one, those that were none by what was wrong, and what is wrong now."""

    good: int = 0
    faults: Mapping[str, int] = field(default_factory=dict)
    says: str = ""


@dataclass(frozen=True, slots=True)
class Publisher:
    """A publisher as it was last heard; `heard` is None where only its good-bye was there."""

    alive: bool
    heard: Millis | None
    probes: Mapping[str, Wired] = field(default_factory=dict)


def topic_of(publisher: str) -> str:
    """Where a publisher says how it is."""
    return f"publishers/{publisher}"


def asides(
    publishers: Iterable[str], store: Store
) -> dict[str, Callable[[Delivery], Refusal | Callable[[], object]]]:
    """By topic: what the pump does with such a message."""
    return {topic_of(one): partial(_taken, one, store) for one in publishers}


def read(payload: bytes, *, received: Millis, retained: bool) -> Publisher:
    """What it says. One that the broker had kept counts from its own time. Raises Refused, with where and what."""
    if not payload:
        raise Refused(RefusalKind.EMPTY, "An empty message: somebody cleared this topic. Nothing is needed.")
    if len(payload) > LONGEST:
        raise Refused(
            RefusalKind.TOO_LONG, f"{len(payload):,} bytes: a publisher says how it is in a few thousand."
        )
    found = document(payload, SENT)
    if not isinstance(found, dict) or not isinstance(found.get("alive"), bool):
        said = "`alive` with true or false is missing: is this topic a publisher's own?"
        raise Refused(RefusalKind.NOT_THERE, said)
    probes = found.get("probes", {})
    if not isinstance(probes, dict):
        raise Refused(RefusalKind.NOT_THERE, f"`probes` is {shown(probes)}, and ids with their counts are needed.")
    told = {str(name): _wired(str(name), one) for name, one in probes.items()}
    at: Millis | None = received
    if retained or not told:
        at = _own_time(found.get("at"), received)
    return Publisher(found["alive"], at, told)


def _own_time(raw: object, received: Millis) -> Millis | None:
    """Its own time, where it knows one: a board without a clock says 1970."""
    try:
        return min(own_time(raw), received)
    except Refused:
        return None


def _wired(name: str, found: object) -> Wired:
    faults = found.get("faults", {}) if isinstance(found, dict) else None
    if not isinstance(found, dict) or not isinstance(faults, dict):
        raise Refused(RefusalKind.NOT_THERE, f"What stands at {shown(name)} is not how a probe is.")
    counts = {"good": found.get("good", 0), **faults}
    for what, count in counts.items():
        if type(count) is not int or not 0 <= count <= MOST:
            raise Refused(RefusalKind.NOT_A_NUMBER, f"{shown(what)} of {shown(name)} is no count: {shown(count)}.")
    says = found.get("says", "")
    safe = "".join(c if c.isprintable() else "�" for c in says[:LONGEST_WORDS]) if isinstance(says, str) else ""
    return Wired(counts["good"], {str(what): count for what, count in faults.items() if count}, safe)


def _taken(publisher: str, store: Store, delivery: Delivery) -> Refusal | Callable[[], object]:
    try:
        found = read(delivery.payload, received=delivery.received_at, retained=delivery.retained)
    except Refused as refused:
        excerpt = delivery.payload[:EXCERPT]
        return Refusal(delivery.topic, None, refused.kind, refused.reason, excerpt, delivery.received_at)
    return partial(keep, store, publisher, found)


def keep(store: Store, publisher: str, found: Publisher) -> None:
    """Keep what it said, durably, where it is news. A good-bye leaves what was known of its probes. Raises StoreError."""
    before = publishers_in(store.standing(KIND, [publisher])).get(publisher)
    if before is not None and not found.probes:
        found = Publisher(found.alive, found.heard or before.heard, before.probes)
    if before is None or _is_news(before, found):
        store.settle(
            [Standing(KIND, publisher, json.dumps(asdict(found), ensure_ascii=False, separators=(",", ":")))]
        )


def forget(store: Store, publishers: Iterable[str]) -> None:
    """Let go of what was kept of all others. Raises StoreError."""
    gone = set(store.standing(KIND)) - set(publishers)
    if gone:
        store.settle([Standing(KIND, one, None) for one in sorted(gone)])


def _is_news(before: Publisher, found: Publisher) -> bool:
    if (before.alive, _troubles(before)) != (found.alive, _troubles(found)):
        return True
    return found.heard is not None and found.heard - (before.heard or 0) >= COUNTS_ON


def _troubles(one: Publisher) -> object:
    return {name: (set(probe.faults), probe.says) for name, probe in one.probes.items()}


def publishers_in(documents: Mapping[str, str]) -> dict[str, Publisher]:
    """What is kept of each. One that cannot be read is left out."""
    found = {}
    for name, body in documents.items():
        try:
            found[name] = _publisher_of(body)
        except BadValue:
            continue
    return found


def _publisher_of(body: str) -> Publisher:
    try:
        found = json.loads(body)
        probes = {name: Wired(**one) for name, one in found["probes"].items()}
        return Publisher(found["alive"], found["heard"], probes)
    except (ValueError, TypeError, KeyError, AttributeError) as wrong:
        raise BadValue(f"this is no publisher: {wrong}") from wrong
