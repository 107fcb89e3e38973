"""Our whole road and on to a database: as intake_ours, and every reading answered by the server.
`database_ours.py PORT MESSAGES FILE URL BUCKET`
"""

import json
import resource
import sys
import threading
import time

from our_road import Road

from monitor.addresses import Database
from monitor.store.influx import AT_ONCE, InfluxStore
from monitor.store.influx_server import Server

port, due, file = int(sys.argv[1]), int(sys.argv[2]), sys.argv[3]
store = InfluxStore(file, Server(Database(sys.argv[4], sys.argv[5])), "bench")
over = threading.Event()


def send():
    while not over.wait(0.02):
        # as the daemon's sender: whole portions while there are any
        while store.unshipped() >= AT_ONCE and not over.is_set():
            store.ship()


road = Road(port, store, json=True)
sender = threading.Thread(target=send)
began = time.perf_counter()
sender.start()
road.drain(due)
over.set()
sender.join()
while store.unshipped():
    store.ship()
seconds = time.perf_counter() - began
road.pump.stop()
rows = store.counted()
store.close()
used = resource.getrusage(resource.RUSAGE_SELF)
counts = road.pump.counts()
print(
    json.dumps({"seconds": seconds, "rows": rows, "cpu": used.ru_utime + used.ru_stime, "commits": counts.commits})
)
