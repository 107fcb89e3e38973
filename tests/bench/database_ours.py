"""Our whole road and on to a database: as intake_ours, and every reading answered by the server.
`database_ours.py PORT MESSAGES FILE URL BUCKET`
"""

import json
import resource
import sys
import threading
import time

from monitor.addresses import Broker, Database
from monitor.clock import Patience, WallClock
from monitor.intake.payloads import Decoder
from monitor.intake.pump import Pump
from monitor.intake.quality import Trust
from monitor.readings import Measures
from monitor.rules import Probe, Source, Unit
from monitor.store.influx import AT_ONCE, InfluxStore
from monitor.store.influx_server import Server
from monitor.wire import Inbox, Wire

port, due, file = int(sys.argv[1]), int(sys.argv[2]), sys.argv[3]
places = {"field": "/temperature", "time": "/at"}
probes = {
    f"p{i}": Probe(f"p{i}", Measures.TEMPERATURE, Source(f"probes/p{i}", Unit.CELSIUS, **places)) for i in range(8)
}


def kept(pump):
    counts = pump.counts()
    return counts.new + counts.undated


store = InfluxStore(file, Server(Database(sys.argv[4], sys.argv[5])), "bench")
over = threading.Event()


def send():
    while not over.wait(0.02):
        while (
            store.unshipped() >= AT_ONCE and not over.is_set()
        ):  # as the daemon's sender: whole portions while there are any
            store.ship()


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
sender = threading.Thread(target=send)
began = time.perf_counter()
pump.start()
sender.start()
wire.start()
while inbox.received < due:
    time.sleep(0.001)
assert pump.flush(60).ok
assert kept(pump) == due, pump.counts()
wire.stop()  # returns when what was acknowledged is written
over.set()
sender.join()
while store.unshipped():
    store.ship()
seconds = time.perf_counter() - began
pump.stop()
rows = store.counted()
store.close()
used = resource.getrusage(resource.RUSAGE_SELF)
counts = pump.counts()
print(
    json.dumps({"seconds": seconds, "rows": rows, "cpu": used.ru_utime + used.ru_stime, "commits": counts.commits})
)
