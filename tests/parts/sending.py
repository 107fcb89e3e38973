"""A publisher against a real broker and the whole road of intake, everything in this process and faster than life."""

import contextlib
import itertools
import threading
from contextlib import contextmanager

from monitor.addresses import Broker
from monitor.clock import Patience, ScaledClock, WallClock
from monitor.outward.confirming import Confirming
from monitor.publisher.running import Publisher
from monitor.publisher.wired import Buffer, OneWire, Publishing, Sends, Wired
from monitor.readings import SECOND, Measures
from monitor.rules import Probe, Source, Unit
from parts.road import Road, until

SITE = "tests"
SPEED = 200.0
"""How much faster than life: a minute is 0.3 s."""


class Rising:
    """A sensor whose readings are 1.0, 2.0, 3.0 …, so that each says which it is. `read` may be told to fail."""

    def __init__(self, start=1):
        self._next = itertools.count(start)
        self.last = 0.0
        self.fault = None
        self.times = {}
        self.now = lambda: 0

    def read(self):
        if self.fault is not None:
            raise self.fault
        self.last = float(next(self._next)) / 8
        self.times[self.last] = self.now()
        return self.last


def wired(*names, every=4 * SECOND):
    """Probes that send each reading as it is."""
    return {n: Wired(n, OneWire("28-0316a2795b1c"), Sends.CELSIUS, f"probes/{n}", every, 1) for n in names}


def probes(*names):
    """The daemon's side of them."""
    return [Probe(n, Measures.TEMPERATURE, Source(f"probes/{n}", Unit.CELSIUS, name=n)) for n in names]


class Sending:
    """One publisher in a thread of its own. What it has read so far is in `values(name)`, in its order."""

    def __init__(
        self,
        port,
        *names,
        buffer=None,
        sources=None,
        every=4 * SECOND,
        speed=SPEED,
        known=lambda: True,
        site=SITE,
        **of_broker,
    ):
        self.names = names
        self.sources = sources or {name: Rising() for name in names}
        broker = Broker("127.0.0.1", port, client_id=of_broker.pop("client_id", "tests-sending"), **of_broker)
        settings = Publishing("shed", site, broker, wired(*names, every=every), buffer or Buffer())
        clock = ScaledClock(WallClock().now(), speed)
        for source in self.sources.values():
            source.now = clock.now
        self.publisher = Publisher(settings, clock=clock, sources=self.sources, known=known)
        self.held = self.publisher.held
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self.publisher.run, args=(self._stop,))

    def start(self):
        self._thread.start()
        return self

    def up(self):
        until(lambda: self.publisher.wire.link().up, f"the publisher's link: {self.publisher.wire.link()}")
        return self

    def read(self, count, name=None):
        """Wait until so many more were read of a probe; what was read until then, all of it."""
        source = self.sources[name or self.names[0]]
        goal = source.last + count / 8
        until(lambda: source.last >= goal, f"{count} readings")
        return [n / 8 for n in range(1, int(source.last * 8) + 1)]

    def waiting(self):
        """What is held at this moment, looked at from beside."""
        while True:
            with contextlib.suppress(RuntimeError):  # it changed meanwhile
                return [reading for _, reading in self.held]

    def stop(self):
        """In order."""
        self._stop.set()
        self._thread.join(20)
        assert not self._thread.is_alive()

    def __enter__(self):
        return self.start().up()

    def __exit__(self, *_):
        self.stop()


@contextmanager
def daemon(port, *names, store=None, every=0.2, soon=0.02, confirms=True, **how):
    """The road of intake with marks, committing all the time."""
    road = Road(port, probes(*names), store=store, **how)
    confirming = Confirming(SITE, publish=road.wire.publish, patience=Patience().now, every=every, soon=soon)
    if confirms:
        road.pump._confirm_numbered = confirming.kept
    stop = threading.Event()

    def commits():
        while not stop.wait(0.02):
            road.pump.flush(20)

    thread = threading.Thread(target=commits)
    with road:
        thread.start()
        try:
            yield road
        finally:
            stop.set()
            thread.join(20)
            road.flush()
            confirming.last()
