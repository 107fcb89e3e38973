"""Our whole road: wire, inbox, decoder, quality, pump, SQLite, acknowledgement.
`intake_ours.py PORT MESSAGES FILE json|plain`
"""

import json
import resource
import sys
import time

from monitor.addresses import Broker
from monitor.clock import Patience, WallClock
from monitor.intake.payloads import Decoder
from monitor.intake.pump import Pump
from monitor.intake.quality import Trust
from monitor.readings import Measures
from monitor.rules import Probe, Source, Unit
from monitor.store.sqlite import SqliteStore
from monitor.wire import Inbox, Wire

port, due, file, kind = int(sys.argv[1]), int(sys.argv[2]), sys.argv[3], sys.argv[4]
places = {"field": "/temperature", "time": "/at"} if kind == "json" else {}
probes = {
    f"p{i}": Probe(f"p{i}", Measures.TEMPERATURE, Source(f"probes/p{i}", Unit.CELSIUS, **places)) for i in range(8)
}


def kept(pump):
    counts = pump.counts()
    return counts.new + counts.undated


store = SqliteStore(file)
inbox = Inbox(2000)
decoder = Decoder(probes)
clock, patience = WallClock(), Patience()
wire = Wire(
    Broker(host="127.0.0.1", port=port, protocol="5", window=1000),
    topics=decoder.topics(),
    marker="vermistat/bench/marker",
    now=clock.now,
    patience=patience.now,
    inbox=inbox,
    beat=lambda: None,
)
pump = Pump(
    inbox=inbox,
    decoder=decoder,
    trust=Trust(),
    keep=store.keep,
    acknowledge=wire.acknowledge,
    delivered=store.delivered(),
    patience=patience.now,
    window=1000,
    beat=lambda: None,
)
began = time.perf_counter()
pump.start()
wire.start()
while inbox.received < due:
    time.sleep(0.001)
assert pump.flush(60).ok
assert kept(pump) == due, pump.counts()
wire.stop()  # returns when what was acknowledged is written
seconds = time.perf_counter() - began
pump.stop()
rows = store.counted() if kind == "json" else len(store.undated(due + 1))
store.close()
used = resource.getrusage(resource.RUSAGE_SELF)
counts = pump.counts()
print(
    json.dumps({"seconds": seconds, "rows": rows, "cpu": used.ru_utime + used.ru_stime, "commits": counts.commits})
)
