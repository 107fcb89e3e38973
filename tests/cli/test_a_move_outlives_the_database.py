"""The database killed with -9 in the middle of a move: what it answered it holds is there, the next move brings the rest."""

import signal

from cli.keeping import Site
from monitor.readings import MINUTE, Reading
from monitor.store import influx
from monitor.store.promises import Batch
from monitor.store.sqlite import SqliteStore
from parts.influx import Influx
from parts.kept import T0

GIVEN = [Reading("p", T0 + n * MINUTE, n / 4, T0 + n * MINUTE) for n in range(3000)]


def test_nothing_is_lost_or_there_twice(tmp_path, capsys, monkeypatch):
    site = Site(tmp_path)
    store = SqliteStore(site.store_file)
    store.keep(Batch(GIVEN))
    store.close()
    ship = influx.InfluxStore.ship
    with Influx() as server:
        database = server.database()
        site.file.write_text(site.file.read_text() + f'database: {{url: "{database.url}", bucket: worms}}\n')
        sent = []

        def killing(self, limit=500):
            if len(sent) == 3:
                server.stop(signal.SIGKILL)
            sent.append(ship(self, limit).sent)

        monkeypatch.setattr(influx.InfluxStore, "ship", lambda self: killing(self) or influx.Shipped(sent[-1]))
        assert 1 == site.call("database", "move")
        assert "does not answer" in capsys.readouterr().err
        assert [500] * 3 == sent
        monkeypatch.setattr(influx.InfluxStore, "ship", ship)
        server.start()
        count = 'SELECT count("value") FROM "reading"'
        assert 1500 == server.query(count, "worms")[0]["values"][0][1]
        assert 0 == site.call("database", "move")
        assert "1500 readings moved to worms" in capsys.readouterr().out
        (series,) = server.query('SELECT "value" FROM "reading"', "worms")
        assert [[r.at, r.value] for r in GIVEN] == series["values"]
