"""What the broker handed over, on its way from the wire's thread to the pump's."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from typing import NamedTuple

from monitor.readings import Millis


class Delivery(NamedTuple):
    """One PUBLISH as it came. `packet` is its packet identifier, which only means something together with
    `connection`; 0 under QoS 0. `dup`: the broker says that it has tried to send it before.

    `backlog`: it may have waited at the broker while we were away, so its arrival tells nothing of its age.
    """

    connection: int
    packet: int
    qos: int
    dup: bool
    retained: bool
    topic: str
    payload: bytes
    received_at: Millis
    backlog: bool = False


class Inbox:
    """A bounded queue from one thread to one other. It never drops: who fills it looks at `full` first and then
    reads no more from the broker, so it is over its limit by a handful at most.
    """

    def __init__(self, limit: int) -> None:
        self.limit = limit
        self.received = 0
        """How many were ever put in."""
        self.drained: Callable[[], None] = lambda: None
        """Called when a full inbox has room again."""
        self._waiting: deque[Delivery] = deque()
        self._woken = threading.Event()
        self._wake_at = 1

    @property
    def full(self) -> bool:
        """Whether it holds as many as it may."""
        return len(self._waiting) >= self.limit

    def __len__(self) -> int:
        return len(self._waiting)

    def put(self, delivery: Delivery) -> None:
        """Add one; wakes the taker when as many wait as it asked for."""
        self._waiting.append(delivery)
        self.received += 1
        if len(self._waiting) >= self._wake_at:
            self._woken.set()

    def take(self, most: int) -> list[Delivery]:
        """The oldest `most`, taken out; empty when there are none."""
        waiting = self._waiting
        was_full = len(waiting) >= self.limit
        taken = [waiting.popleft() for _ in range(min(most, len(waiting)))]
        if was_full and len(waiting) < self.limit:
            self.drained()
        return taken

    def wait(self, at_least: int, seconds: float) -> None:
        """Until `at_least` wait, somebody nudges, or the seconds are over."""
        self._wake_at = at_least
        # The event is cleared after the wait, never before: what was set too early costs one turn, and nothing
        # that was put or nudged before this call is slept through.
        if len(self._waiting) < at_least:
            self._woken.wait(seconds)
        self._woken.clear()

    def nudge(self) -> None:
        """Wake the taker."""
        self._woken.set()
