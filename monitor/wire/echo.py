"""Whether the broker still sends us what it gets, found out by saying something to ourselves.

How many unanswered messages a broker has in flight is its own affair (20 in Mosquitto's default), and it does not say
when it stops. While nothing can be kept nothing is answered, so at some moment nothing more comes: a message to
ourselves, with acknowledgement as every reading, then waits behind the readings and does not come back.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable

BACK_WITHIN = 3.0
"""Seconds in which a broker that sends at all has sent it back (ours)."""


class Echo:
    """One question at a time. Belongs to the wire's thread."""

    def __init__(self, patience: Callable[[], float]) -> None:
        self._patience = patience
        self._awaited = b""
        self._asked_at = 0.0

    def ask(self) -> bytes | None:
        """What to send to ourselves; None while an earlier question is open."""
        if self._awaited:
            return None
        self._awaited, self._asked_at = secrets.token_hex(16).encode(), self._patience()
        return self._awaited

    def heard(self, payload: bytes | bytearray) -> None:
        """Something of our own came back."""
        if payload == self._awaited:
            self.settle()

    def settle(self) -> None:
        """The question is answered, or no longer asks anything: the broker has been answered and goes on."""
        self._awaited = b""

    @property
    def missing(self) -> bool:
        """Whether it should have come back by now."""
        return bool(self._awaited) and self._patience() - self._asked_at >= BACK_WITHIN
