"""Our whole road: wire, inbox, decoder, quality, pump, SQLite, acknowledgement.
`intake_ours.py PORT MESSAGES FILE json|plain`
"""

import json
import resource
import sys
import time

from our_road import Road

from monitor.store.sqlite import SqliteStore

port, due, file, kind = int(sys.argv[1]), int(sys.argv[2]), sys.argv[3], sys.argv[4]
store = SqliteStore(file)
road = Road(port, store, json=kind == "json")
began = time.perf_counter()
road.drain(due)
seconds = time.perf_counter() - began
road.pump.stop()
rows = store.counted() if kind == "json" else len(store.undated(due + 1))
store.close()
used = resource.getrusage(resource.RUSAGE_SELF)
counts = road.pump.counts()
print(
    json.dumps({"seconds": seconds, "rows": rows, "cpu": used.ru_utime + used.ru_stime, "commits": counts.commits})
)
