"""config/how-to/database.md, followed word by word with a running daemon, a real broker and a real database: from the file
to the database and back, and not one reading is lost.
"""

import re
import subprocess
import sys
from contextlib import closing

import pytest

from monitor.store.influx import InfluxStore
from monitor.store.influx_server import Server
from parts.harm_house import QUEUE, ROOT, House
from parts.harm_life import TRAFFIC, Talk, of_readings
from parts.influx import Influx
from parts.mosquitto import Mosquitto
from parts.road import until

HOW_TO = (ROOT / "config/how-to/database.md").read_text()
SETTINGS = re.search(r"```yaml\n(.+?)```", HOW_TO, re.S)[1]
CALLS = re.findall(r"```sh\n(.+?)\n```", HOW_TO, re.S)
USER = ("keeper", "leaf-mould")


def called(house, words):
    """A command of the how-to as it stands there; what it said."""
    name, *rest = words.split()
    assert "vermistat" == name
    done = subprocess.run(
        [sys.executable, "-m", "monitor", *rest, "--settings", str(house.settings)],
        check=False,
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert 0 == done.returncode, (words, done.stdout, done.stderr)
    return done.stdout


def lived(house, talk, times=40):
    """The daemon runs while probes talk; it ends when everything is kept."""
    daemon = house.daemon(**({"here": 3600} if "database:" in house.settings.read_text() else {})).up()
    talk.say(times)
    until(
        lambda: house.ask(lambda store: store.counted() + len(store.undated(10**6))) >= said(talk),
        "all is kept",
        60,
    )
    assert 0 == daemon.stop()
    return daemon


def said(talk):
    return sum(len(dated) + len(timeless) for _, dated, timeless in talk._sent)


@pytest.mark.timeout(240)
def test_a_keeper_goes_there_and_back_and_loses_nothing(tmp_path):
    assert [
        "vermistat database set-up",
        "vermistat check",
        "vermistat database move",
        "vermistat database move --back",
    ] == CALLS
    with (
        Influx(user=USER) as server,
        Mosquitto(QUEUE) as broker,
        House(tmp_path, broker, "places: {yard: {}}\nbins:" + TRAFFIC, protocol="5") as house,
        closing(Talk(broker)) as talk,
    ):
        lived(house, talk)
        before = house.settings.read_text()
        (tmp_path / "database-token").write_text(":".join(USER))
        house.settings.write_text(before + SETTINGS.replace("http://localhost:8086", server.address))
        house._database = server.database("worms")
        server.query('DROP DATABASE "worms"')
        assert "worms" in called(house, f"{CALLS[0]} --yes")
        assert [] != server.query("SHOW DATABASES")
        lived(house, talk)
        assert "worms" in called(house, CALLS[1])
        assert "alike on both sides" in called(house, CALLS[2])
        weeks_later(house)
        lived(house, talk)
        assert "Take `database:` out of the settings" in called(house, CALLS[3])
        house.settings.write_text(before)
        house._database = None
        lived(house, talk)
        talk.stop()
        with house.kept() as store:
            assert not store.elsewhere()
            found = of_readings(store, talk)
        assert {} == {kind: what for kind, what in found.items() if what}
        assert talk.dated.total() == 4 * 40 * 3


def weeks_later(house):
    """What the daemon does once a day, with everything old by now."""
    store = InfluxStore(house.store, Server(house._database), "yard")
    store._on_writer(store._move_all)
    assert store.prune(2**62, newest=4) > 100
    store.close()
