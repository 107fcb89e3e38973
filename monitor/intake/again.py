"""Knows a delivery again that was kept, but whose acknowledgement never reached the broker.

Only for payloads without a time of their own: those with one are known by probe and time. After a reconnect the
broker sends what was not acknowledged under the packet identifiers it had, before anything newer, so also before
our marker. An identifier means one message until it is used anew; then its earlier use is settled.
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

    Most brokers count identifiers up to 65,535 before they use one again; some take the lowest free one at once.
    With those the same identifier, topic and value may well be a new message, so there the DUP flag must be set
    as well (MQTT 5 §3.3.1.1 demands it of a redelivery); with all others it decides nothing.
    """

    def __init__(self, delivered: Sequence[Delivered], reach: int) -> None:
        self._reach = reach
        self._known: dict[int, int] = {}
        self._earlier: dict[int, int] = {}
        self._reuses = False
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
        if self._earlier.get(packet) != digest_ or (self._reuses and not dup):
            return False
        # Its acknowledgement may be lost once more, so it stays known for the next connection.
        del self._earlier[packet]
        self._known[packet] = digest_
        return True

    def note(self, packet: int, digest_: int) -> None:
        """Remember a delivery that goes into the batch in hand."""
        known = self._known
        if known.pop(packet, None) is not None:
            self._reuses = True  # sooner than by counting round: `reach` is far less than 65,535
        known[packet] = digest_
        if len(known) > self._reach:
            del known[next(iter(known))]

    def forget(self, packet: int) -> None:
        """The identifier was used for a delivery with its own time."""
        if self._known:
            self._known.pop(packet, None)
