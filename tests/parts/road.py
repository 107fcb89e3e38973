"""The whole road of intake against a real broker: wire, inbox, decoder, quality, pump, and a store in memory."""

import socket
import threading
import time

from monitor.addresses import Broker
from monitor.clock import Patience, WallClock
from monitor.intake.payloads import Decoder
from monitor.intake.pump import Pump
from monitor.intake.quality import Trust
from monitor.store.memory import MemoryStore
from monitor.wire import Inbox, Wire

MARKER = "vermistat/tests/marker"


def until(true, what, seconds=20.0):
    """Wait until `true()` holds; fail in words when it does not in time."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, f"waited {seconds:g} s in vain: {what}"
        time.sleep(0.005)


class Road:
    """`keep` stands between pump and store and may fail or wait; `acknowledge` between pump and wire.

    `store` is what outlives it: give it to the next road, as a restarted daemon would find it.
    """

    def __init__(
        self, port, probes, *, store=None, keep=None, acknowledge=None, window=1000, limit=None, protocol="auto",
        wired=None, **of_broker,
    ):  # fmt: skip
        self.store = store or MemoryStore()
        self.decoder = Decoder({p.id: p for p in probes})
        self.inbox = Inbox(limit or window)
        broker = Broker(
            host=of_broker.pop("host", "127.0.0.1"), port=port, protocol=protocol, window=window, **of_broker
        )
        self.wire = Wire(
            broker, topics=self.decoder.topics(), marker=MARKER, now=WallClock().now, patience=Patience().now,
            inbox=self.inbox, beat=lambda: None, **(wired or {}),
        )  # fmt: skip
        self.pump = Pump(
            inbox=self.inbox, decoder=self.decoder, trust=Trust(), keep=keep or self.store.keep,
            acknowledge=acknowledge or self.wire.acknowledge, delivered=self.store.delivered(),
            patience=Patience().now, window=window, beat=lambda: None,
        )  # fmt: skip

    def start(self):
        self.pump.start()
        self.wire.start()
        return self

    def up(self):
        until(lambda: self.wire.link().up, f"the link: {self.wire.link()}")
        return self

    def received(self, count):
        until(lambda: self.inbox.received >= count, f"{count} deliveries, {self.inbox.received} came")
        return self

    def flush(self):
        flushed = self.pump.flush(20)
        assert flushed.ok, flushed.error
        return self

    def cut(self):
        """Break the connection as a network does."""
        number = self.wire.link().connection
        self.wire._session.socket.shutdown(socket.SHUT_RDWR)
        until(lambda: self.wire.link().connection > number and self.wire.link().up, "the link after the cut")

    def stop(self):
        self.wire.stop()
        self.pump.stop()

    def __enter__(self):
        return self.start().up()

    def __exit__(self, *_):
        self.stop()

    def values(self, probe):
        return [r.value for r in self.store.window(probe, 0, 1 << 60)]

    def undated(self):
        return [u.value for u in self.store.undated(100_000)]


class Gate:
    """A store's `keep` that waits at a gate until it is opened, and says when somebody stands there."""

    def __init__(self, keep):
        self._keep = keep
        self.there = threading.Event()
        self.open = threading.Event()

    def __call__(self, batch):
        self.there.set()
        assert self.open.wait(30), "nobody opened the gate"
        return self._keep(batch)
