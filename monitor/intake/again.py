"""Knows a delivery again that was kept, but whose acknowledgement never reached the broker.

Only for payloads without a time of their own: those with one are known by probe and time. After a reconnect the
broker sends what was not acknowledged with the DUP flag and the packet identifiers it had, before anything newer,
so also before our marker. An identifier means one message until it is used anew; then its earlier use is settled.
"""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import blake2b

from monitor.store.promises import Delivered


def digest(topic: str, payload: bytes) -> int:
    """63 bits of topic and payload, the same in every process."""
    found = blake2b(topic.encode("utf-8", "replace") + b"\0" + payload, digest_size=8).digest()
    return int.from_bytes(found) >> 1


class Again:
    """Remembers the newest `reach` deliveries without a time, at most one for each packet identifier.

    Only what the broker itself calls a redelivery can be one: DUP must be set then, and must not be at the first
    attempt (MQTT 3.1.1 [MQTT-3.3.1-1], MQTT 5 §3.3.1.1). Packet identifier and payload alone do not tell: a broker
    that lost power goes on from an older save and gives the same identifiers to new messages, and most probes say
    the same few values. A broker that forgets the flag costs a value that is shown twice and never judged (it came
    before our marker), never one that is lost.
    """

    def __init__(self, delivered: Sequence[Delivered], reach: int) -> None:
        self._reach = reach
        self._known: dict[int, int] = {}
        self._earlier: dict[int, int] = {}
        for known in delivered[-reach:]:
            self.note(known.packet, known.digest)

    def connected(self) -> None:
        """A new connection: what is known may come again."""
        self._earlier |= self._known
        self._known = {}

    def settled(self) -> None:
        """The marker came back: nothing of an earlier connection comes any more."""
        self._earlier = {}

    def is_this(self, packet: int, digest_: int, *, dup: bool) -> bool:
        """Whether it is known from an earlier connection; true once for each."""
        if not dup or self._earlier.get(packet) != digest_:
            return False
        # Its acknowledgement may be lost once more, so it stays known for the next connection.
        del self._earlier[packet]
        self._known[packet] = digest_
        return True

    def note(self, packet: int, digest_: int) -> None:
        """Remember a delivery that goes into the batch in hand."""
        known = self._known
        known.pop(packet, None)  # so that it becomes the newest
        known[packet] = digest_
        if len(known) > self._reach:
            del known[next(iter(known))]

    def forget(self, packet: int) -> None:
        """The identifier was used for a delivery with its own time."""
        if self._known:
            self._known.pop(packet, None)
