"""The daemon with a real database behind it, killed with −9 while it sends on and removes from the file, and the database
killed as well: every reading lies there once, with its first value, and the rest of the account is no worse than without.

`VERMISTAT_KILLS` is how often the life is killed (8 without it).
"""

import os
import random
import signal
import threading
from itertools import cycle, islice

import pytest

from parts.harm_daemon import POINTS_OF_SHIPPING
from parts.harm_life import Life
from parts.influx import Influx
from parts.road import until

KILLS = int(os.environ.get("VERMISTAT_KILLS", "8"))
HERE = 0.5
"""Seconds after which readings leave the file."""
POINTS = [*POINTS_OF_SHIPPING, "batch", "kept", "move"]
OFTEN = {"ship": 6, "shipped": 6, "noting": 2, "pruning": 6, "pruned": 6}


def deaths(seed, times=KILLS):
    chance = random.Random(seed)
    return [(point, chance.randint(1, OFTEN.get(point, 1))) for point in islice(cycle(POINTS), times)]


class Shipped(Life):
    """A life whose readings go on to `server`, which dies as well while it is lived when `dying`."""

    def __init__(self, folder, deaths, server, *, dying=False, **more):
        super().__init__(folder, deaths, database=server.database("yard"), here=HERE, **more)
        self.server, self._dying = server, dying
        self._over = threading.Event()
        self.server_deaths = 0

    def live(self, behaviours=()):
        killer = threading.Thread(target=self._kill_the_server)
        killer.start()
        try:
            return super().live(behaviours)
        finally:
            self._over.set()
            killer.join()

    def last_day(self):
        self._over.set()
        super().last_day()

    def before_the_end(self):
        until(
            lambda: self.house.ask(lambda store: store.counted()) == self.there(), "all of it in the database", 60
        )

    def there(self):
        """How many readings the server says it has, asked without our code."""
        series = self.server.query('SELECT count("value") FROM "reading"', "yard")
        return series[0]["values"][0][1] if series else 0

    def values_there(self):
        found = self.server.query('SELECT "value" FROM "reading" GROUP BY "probe"', "yard")
        return {(one["tags"]["probe"], at, round(value * 10_000)) for one in found for at, value in one["values"]}

    def _kill_the_server(self):
        while self._dying and not self._over.wait(1.0):
            self.server.stop(signal.SIGKILL)
            self.server_deaths += 1
            self._over.wait(0.3)
            self.server.start()


@pytest.mark.timeout(180 + 8 * KILLS)
def test_every_reading_lies_in_the_database_once(tmp_path):
    with Influx() as server, Shipped(tmp_path, deaths(5), server, dying=True) as life:
        life.live()
        assert {} == life.faults()
        assert KILLS == life.at.total()
        assert life.server_deaths >= 1
        there = life.values_there()
        assert set(life.talk.dated) == {one for one in there if one[:2] in {d[:2] for d in life.talk.dated}}
        assert life.talk.dated.total() > 20 * KILLS


@pytest.mark.timeout(180)
def test_what_is_noted_before_it_is_sent_never_arrives(tmp_path):
    dying = [("ship", 3), ("ship", 2)]
    with Influx() as server, Shipped(tmp_path, dying, server, without=["note_before_sending"]) as life:
        life.before_the_end = lambda: None
        life.live()
        assert life.faults().get("lost") or life.there() < life.house.ask(lambda store: store.counted())
