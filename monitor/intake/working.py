"""What a message on `vermistat/<site>/<bin>/working` says: for how many minutes somebody works in that bin.

A button beside the bins publishes a plain number of minutes, 0 when the work is done; or JSON:

    {"for": 90, "who": "ana", "note": "turning", "at": "2026-03-14T07:30:00Z"}

Everything but `for` may be left out. A message without a time of its own counts from its arrival, so one that the broker
had kept (retained), or that waited while nobody listened, is refused: nobody knows what it counts from. With `at` it may
be either, and counts from then; what is older than what was last said of the bin changes nothing (`asked`).
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from typing import NamedTuple, Protocol, TypeVar

from monitor.alarms.quiet import LONGEST_WORK
from monitor.intake.payloads.parts import Refused, document, number, own_time, quantity, shown
from monitor.intake.shapes import Delivery
from monitor.readings import MINUTE, Millis, Refusal, RefusalKind

A_MESSAGE = "somebody"
"""Who works when the message does not say."""
LONGEST = 4096
"""Bytes; a button sends three (ours, no source)."""
LONGEST_NOTE = 1000
LONGEST_NAME = 64
EXCERPT = 200
KEYS = ("for", "at", "who", "note")


class Ask(Protocol):
    """`promises.Requests.ask`."""

    def __call__(
        self, at: Millis, who: str, what: str, alarm: int = 0, note: str = "", *, body: str = "{}"
    ) -> int:
        """Leave a request, durably."""


class Said(NamedTuple):
    """What was said: by whom, from when on, for how long (0: done), and whether the time is the message's own."""

    at: Millis
    length: Millis
    who: str = A_MESSAGE
    note: str = ""
    dated: bool = False


R = TypeVar("R")
Aside = Callable[[Delivery], "Refusal | Callable[[], object]"]
"""A delivery that is no reading → a refusal, or what is to be done, durably, before it is acknowledged."""


def asides(site: str, bins: Iterable[str], ask: Ask) -> dict[str, Aside]:
    """By topic: what the pump does with such a message."""
    return {f"vermistat/{site}/{bed}/working": partial(_taken, bed, ask) for bed in bins}


def _taken(bed: str, ask: Ask, delivery: Delivery) -> Refusal | Callable[[], object]:
    said = read(delivery)
    if isinstance(said, Refusal):
        return said
    body = json.dumps({"bin": bed, "for": said.length, "dated": said.dated})
    return partial(ask, said.at, said.who, "working", 0, said.note, body=body)


def read(delivery: Delivery) -> Said | Refusal:
    """What a message says, or why it cannot be taken. Raises nothing, whatever the bytes."""
    try:
        return _said(delivery)
    except Refused as refused:
        excerpt = delivery.payload[:EXCERPT]
        return Refusal(delivery.topic, None, refused.kind, refused.reason, excerpt, delivery.received_at)


def _said(delivery: Delivery) -> Said:
    payload = delivery.payload
    if not payload:
        raise Refused(
            RefusalKind.EMPTY, "An empty message: somebody cleared this topic at the broker. Nothing is needed."
        )
    if len(payload) > LONGEST:
        raise Refused(RefusalKind.TOO_LONG, f"A message of {len(payload):,} bytes: send a number of minutes.")
    told = _document(payload) if payload.lstrip()[:1] in (b"{", b"[") else {"for": _minutes(number, payload)}
    own = own_time(told["at"]) if "at" in told else None
    if own is None and (delivery.retained or delivery.backlog):
        how = "was kept by the broker" if delivery.retained else "waited at the broker while nobody listened"
        hint = "send it once more, not retained, or with `at` in it."
        raise Refused(
            RefusalKind.BAD_TIME,
            f"It {how} and has no time of its own, so nobody knows from when it counts: {hint}",
        )
    if own is not None and own > delivery.received_at + MINUTE:
        raise Refused(
            RefusalKind.BAD_TIME, f"{shown(told['at'])} is still to come: set the clock of what sends it."
        )
    at = delivery.received_at if own is None else min(own, delivery.received_at)
    who, note = _text(told, "who", LONGEST_NAME) or A_MESSAGE, _text(told, "note", LONGEST_NOTE)
    return Said(at, _length(told), who, note, dated=own is not None)


def _minutes(reader: Callable[[R], float], raw: R) -> float:
    """As `reader` says, in words that fit somebody at work."""
    try:
        return reader(raw)
    except Refused:
        reason = f"There is {shown(raw)} where minutes are needed: send 90, or 0 when you are done."
        raise Refused(RefusalKind.NOT_A_NUMBER, reason) from None


def _document(payload: bytes) -> Mapping[str, object]:
    found = document(payload)
    if not isinstance(found, dict) or "for" not in found:
        raise Refused(
            RefusalKind.NOT_THERE, 'There is no `for`: send {"for": 90}, in minutes, or 0 when you are done.'
        )
    unknown = [key for key in found if key not in KEYS]
    if unknown:
        known = "`for`, `at`, `who` and `note`"
        raise Refused(RefusalKind.NOT_THERE, f"{shown(unknown[0])} is not known here: send {known} alone.")
    return found


def _length(told: Mapping[str, object]) -> Millis:
    minutes, most = _minutes(quantity, told["for"]), LONGEST_WORK // MINUTE
    if not 0 <= minutes <= most:
        reason = f"{minutes:g} minutes are no time to work: send 0 to {most}, and 0 when you are done."
        raise Refused(RefusalKind.NOT_A_NUMBER, reason)
    return round(minutes * MINUTE)


def _text(told: Mapping[str, object], key: str, longest: int) -> str:
    found = told.get(key, "")
    if not isinstance(found, str) or len(found) > longest:
        raise Refused(RefusalKind.NOT_THERE, f"`{key}` is no text of at most {longest} characters.")
    return "".join(c if c.isprintable() and not "\ud800" <= c <= "\udfff" else "�" for c in found)
