"""Our whole road as the daemon wires it: wire, inbox, decoder, quality, pump; what is drained through it is counted."""

import time

from monitor.addresses import Broker
from monitor.clock import Patience, WallClock
from monitor.intake.payloads import Decoder
from monitor.intake.pump import Pump
from monitor.intake.quality import Trust
from monitor.readings import Measures
from monitor.rules import Probe, Source, Unit
from monitor.wire import Inbox, Wire


class Road:
    """Eight thermometers' readings into a store; `json` with a time of their own, else plain numbers."""

    def __init__(self, port, store, *, json):
        places = {"field": "/temperature", "time": "/at"} if json else {}
        decoder = Decoder(
            {
                f"p{i}": Probe(f"p{i}", Measures.TEMPERATURE, Source(f"probes/p{i}", Unit.CELSIUS, **places))
                for i in range(8)
            }
        )
        patience = Patience()
        self._inbox = Inbox(2000)
        self._wire = Wire(
            Broker(host="127.0.0.1", port=port, protocol="5", window=1000),
            topics=decoder.topics(),
            marker="vermistat/bench/marker",
            now=WallClock().now,
            patience=patience.now,
            inbox=self._inbox,
            beat=lambda: None,
        )
        self.pump = Pump(
            inbox=self._inbox,
            decoder=decoder,
            trust=Trust(),
            keep=store.keep,
            acknowledge=self._wire.acknowledge,
            delivered=store.delivered(),
            patience=patience.now,
            window=1000,
            beat=lambda: None,
        )

    def drain(self, due):
        """Returns when so many messages are durable and what was acknowledged is written."""
        self.pump.start()
        self._wire.start()
        while self._inbox.received < due:
            time.sleep(0.001)
        assert self.pump.flush(60).ok
        counts = self.pump.counts()
        assert counts.new + counts.undated == due, counts
        self._wire.stop()
