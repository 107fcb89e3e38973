"""Our messages: topics, bodies, and how long each holds."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from monitor.advice.acts import Advice
from monitor.advice.follow import Told
from monitor.alarms.cycle import Alarm
from monitor.readings import MINUTE, Millis
from monitor.reports.bins import Scene, bin_facts
from monitor.reports.facts import order_facts
from monitor.reports.saying import Saying, instant
from monitor.rules import Bin

ALIVE_HOLDS: Millis = 10 * MINUTE
STATE_HOLDS: Millis = 15 * MINUTE
ADVICE_HOLDS: Millis = 60 * MINUTE
"""At most; the advice's own end may come sooner (proposals)."""


@dataclass(frozen=True, slots=True)
class Message:
    """One message. It holds until `valid_until`, for good without one. `gist` is what makes it news. `lasting`: kept by the
    broker also where a broker forgets nothing by itself.
    """

    topic: str
    body: bytes
    valid_until: Millis | None
    gist: object = ""
    lasting: bool = False


def topic_of(site: str, *parts: str) -> str:
    """`vermistat/<site>/…`."""
    return "/".join(("vermistat", site, *parts))


def alive(site: str, at: Millis) -> Message:
    """Somebody judges."""
    until = at + ALIVE_HOLDS
    body = {"alive": True, "at": instant(at), "valid_until": instant(until)}
    return Message(topic_of(site, "alive"), _bytes(body), until, lasting=True)


def gone(site: str, at: Millis | None) -> Message:
    """Nobody does any more. Without a time: what the broker says for us when we are gone without leave."""
    body = {"alive": False, "at": None if at is None else instant(at), "valid_until": None}
    return Message(topic_of(site, "alive"), _bytes(body), None, lasting=True)


def mat(site: str, told: Told) -> Message:
    """What a mat's switch may follow."""
    body = {
        "mat": told.mat,
        "on": told.on,
        "why": told.why,
        "at": instant(told.at),
        "valid_until": instant(told.valid_until),
    }
    return Message(topic_of(site, "mats", told.mat), _bytes(body), told.valid_until, gist=(told.on, told.why))


def state(site: str, bed: Bin, scene: Scene, gist: object) -> Message:
    """How a bin is."""
    at = scene.saying.at
    until = at + STATE_HOLDS
    body = {**bin_facts(bed, scene), "at": instant(at), "valid_until": instant(until)}
    return Message(topic_of(site, bed.id, "state"), _bytes(body), until, gist)


def advice(
    site: str, bed: Bin, made: Advice | None, *, alarms: Sequence[Alarm], saying: Saying, gist: object
) -> Message:
    """What to do for a bin: the orders of its place that answer a standing alarm of `alarms`, its own, and are still valid."""
    active = {a.number for a in alarms if a.active}
    unseen = {a.number for a in alarms if a.active and a.state != "acknowledged"}
    aside = {a.number for a in alarms if a.active and a.shelf is not None}
    valid = made is not None and made.valid_until > saying.at
    orders = [o for o in made.orders if active & set(o.alarms)] if made is not None and valid else []
    until = saying.at + ADVICE_HOLDS
    if made is not None and orders:
        until = min(until, made.valid_until)
    facts = [order_facts(o, made, saying=saying, unseen=unseen, aside=aside) for o in orders if made is not None]
    body = {
        "bin": bed.id,
        "name": bed.name,
        "to_do": sorted(facts, key=lambda o: (o["shelved"], not o["urgent"], o["by"] or "~")),
        "at": instant(saying.at),
        "valid_until": instant(until),
    }
    return Message(topic_of(site, bed.id, "advice"), _bytes(body), until, gist)


def _bytes(body: Mapping[str, object]) -> bytes:
    return json.dumps(body, ensure_ascii=False, separators=(",", ":")).encode()
