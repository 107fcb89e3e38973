"""A life in steps: a real broker, the real daemon, and a clock that moves only when all that was said is judged.

The clock advances only when every published reading is durable and the round is done; then it jumps to the
next reading or deadline.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from monitor.app import Daemon, daemon
from monitor.clock import Patience, SteppedClock
from monitor.notify.notices import Post

PATIENCE = 30.0


class Publisher:
    """A stranger's probe: publishes at QoS 1 and knows what the broker has taken."""

    def __init__(self, port: int, **client) -> None:
        self._client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5, **client)
        self._client.max_inflight_messages_set(1000)
        self._taken = threading.Semaphore(0)
        self._client.on_publish = lambda *_: self._taken.release()
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()

    def publish(self, *messages: tuple[str, str | bytes], retain: bool = False) -> None:
        for topic, payload in messages:
            self._client.publish(topic, payload, qos=1, retain=retain)
        for _ in messages:
            assert self._taken.acquire(timeout=PATIENCE), "the broker did not take a message"

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()


class Lived:
    """Drives a daemon under a stepped clock. `posts` holds every notice sent, in order."""

    def __init__(self, running: Daemon, clock: SteppedClock, port: int, posts: list[Post]) -> None:
        self.running, self.clock, self.posts = running, clock, posts
        self._publisher = Publisher(port)
        self._expected = running.store.last_arrival()

    def say(self, at: int, *messages: tuple[str, str | bytes], stored: int | None = None) -> None:
        """Publish at a time, wait until all of it is durable, and have it judged."""
        for due in iter(lambda: self.running.rounds.next_deadline(self.clock.now(), at), None):
            self.clock.move_to(due)
            self.running.round()
        self.clock.move_to(at)
        self._publisher.publish(*messages)
        self._expected += len(messages) if stored is None else stored
        self._settle()
        self.running.round()

    def pass_to(self, at: int) -> None:
        """Let time pass in silence, with a round at every deadline on the way."""
        self.say(at)

    def _settle(self) -> None:
        until = time.monotonic() + PATIENCE
        while self.running.store.last_arrival() < self._expected:
            assert time.monotonic() < until, "a published reading was never stored"
            assert self.running.pump.flush(PATIENCE).ok
            time.sleep(0.0005)

    def close(self) -> None:
        self._publisher.close()


@contextmanager
def lived(settings, *, port: int, store, start: int) -> Iterator[Lived]:
    """The house of `app`, every line of it, under a stepped clock; what is sent is kept in a list."""
    clock, posts = SteppedClock(start), []
    with daemon(
        settings, store=store, clock=clock, send=lambda _channel, post: posts.append(post), patience=Patience()
    ) as running:
        until = time.monotonic() + PATIENCE
        while not running.wire.link().up:
            assert time.monotonic() < until, running.wire.link().detail
            time.sleep(0.005)
        life = Lived(running, clock, port, posts)
        try:
            yield life
        finally:
            life.close()
