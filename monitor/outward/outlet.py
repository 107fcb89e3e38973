"""What is said to other programs, and when it is said again: news at once, the same before it is no longer valid, all of it
when a connection has come up. What holds no longer is never said.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Protocol

from monitor.outward.messages import Message
from monitor.readings import Millis

log = logging.getLogger(__name__)

AGAIN_AT = 0.5
"""The share of a message's time after which it is said again."""
FORGOTTEN_AT = 0.8
"""The share of the time left after which the broker is to forget a message: it may be on its way for a while, and
must not be kept longer than it holds."""


class Publish(Protocol):
    """How a message leaves."""

    def __call__(
        self, topic: str, payload: bytes, *, retain: bool, expiry_s: int | None, kept_anyway: bool
    ) -> bool:
        """False when it could not be handed over."""


@dataclass(slots=True)
class _Held:
    message: Message
    said: Message | None = None
    """What of it was said last."""
    at: Millis = 0
    again: Millis = 0
    """When that was, and when it is to be said again."""

    def waits(self, gist: object, now: Millis) -> bool:
        """Whether it is to be said: never said, news, long ago, or by a clock that has been put back since."""
        return self.said is None or self.said.gist != gist or not self.at <= now < self.again


class Outlet:
    """Safe to use from the rounds' thread and from the wire's. `now` is the beds' clock, which runs `speed` times as fast as
    a broker's.
    """

    def __init__(self, *, publish: Publish, now: Callable[[], Millis], speed: float = 1.0) -> None:
        self._publish = publish
        self._now = now
        self._speed = speed
        self._held: dict[str, _Held] = {}
        self._lock = threading.Lock()
        self._closed = False

    def say(self, messages: Iterable[Message]) -> None:
        """Take these for what holds now; say those that are news, or were said too long ago."""
        with self._lock:
            for message in messages:
                held = self._held.setdefault(message.topic, _Held(message))
                held.message = message
                if held.waits(message.gist, self._now()):
                    self._out(held)

    def waits(self, topic: str, gist: object) -> bool:
        """Whether something is to be said there, if this is the gist of it."""
        held = self._held.get(topic)
        return held is None or held.waits(gist, self._now())

    def held(self) -> set[str]:
        """The topics on which something is held."""
        return set(self._held)

    def greet(self) -> None:
        """A connection has come up: whatever still holds is said on it."""
        try:
            with self._lock:
                for held in () if self._closed else self._held.values():
                    self._out(held)
        except Exception:
            log.exception("what other programs are told could not be said again")

    def drop(self, topics: Iterable[str], last: Iterable[Message] = ()) -> None:
        """Say these last words, and let the broker forget the topics."""
        with self._lock:
            for message in last:
                self._out(_Held(message))
            for topic in topics:
                self._held.pop(topic, None)
                self._publish(topic, b"", retain=True, expiry_s=None, kept_anyway=False)

    def close(self, last: Iterable[Message]) -> None:
        """Say these last words, and let the broker forget everything else."""
        last = list(last)
        self.drop((), last)
        self.drop([t for t in self._held if not any(m.topic == t and m.lasting for m in last)])
        self._closed = True

    def _out(self, held: _Held) -> None:
        message, now = held.message, self._now()
        expiry = None
        if message.valid_until is not None:
            left = (message.valid_until - now) / 1000 / self._speed
            expiry = int(left * FORGOTTEN_AT)
            if expiry < 1:
                return
        handed = self._publish(
            message.topic, message.body, retain=True, expiry_s=expiry, kept_anyway=message.lasting
        )
        held.said, held.at = message if handed else None, now
        if message.valid_until is not None:
            held.again = now + int((message.valid_until - now) * AGAIN_AT)
