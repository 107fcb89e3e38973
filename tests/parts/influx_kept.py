"""Stores on a real InfluxDB server, one server for the whole run, for whoever tests promises."""

import atexit
import uuid
from functools import cache

from monitor.store.influx import InfluxStore
from monitor.store.influx_server import Server
from parts.influx import Influx


@cache
def server():
    """The run's server."""
    running = Influx().__enter__()
    atexit.register(running.__exit__, None, None, None)
    return running


def opened(folder, kind=InfluxStore, **more):
    """A store on a new, empty database."""
    return kind(folder / "kept.db", Server(server().database(f"d{uuid.uuid4().hex}")), "orchard", **more)


class Pruned(InfluxStore):
    """Everything that has been moved lies at the server and nowhere else as soon as it is kept."""

    def keep(self, batch):
        kept = super().keep(batch)
        while self.unshipped():
            self.ship()
        self.prune(2**62, newest=0)
        return kept
