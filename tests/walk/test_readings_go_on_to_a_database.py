"""The daemon with a real broker and a real database: what a stranger publishes lies there, and a database that is gone
costs nothing but a word after an hour.
"""

import signal
import threading

import pytest

from monitor.app import run
from monitor.checks.findings import Condition
from monitor.checks.system import System, look_at_system
from monitor.clock import Machine, Patience, SteppedClock
from monitor.errors import StoreError
from monitor.readings import HOUR, MINUTE
from monitor.settings import load
from monitor.shipping import Shipping
from monitor.site import open_to_read
from monitor.store.influx_ship import Standing
from parts import orchard
from parts.influx import Influx
from parts.mosquitto import Mosquitto
from parts.publisher import publish
from parts.road import until

SETTINGS = """
site: {id: orchard, timezone: Europe/Lisbon}
broker: {url: "mqtt://127.0.0.1:BROKER"}
store: {path: kept.db}
database: {url: "DATABASE", bucket: worms}
bins: {fig: {species: eisenia-fetida, zones: {west: {probes: {fig-west: {measures: temperature, topic: probes/fig-west}}}}}}
"""


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    monkeypatch.setattr("monitor.store.influx_ship.PAUSE", 0.05)
    monkeypatch.setattr("monitor.store.influx_ship.BACKOFF", 0.1)


class Running:
    """The daemon in this process, on a machine whose clock is proven."""

    def __init__(self, settings, *, synced=True):
        self._stop = threading.Event()
        machine = Machine(synced=lambda: synced)
        how = {"stop": self._stop, "period": 0.2, "machine": machine}
        self._thread = threading.Thread(target=run, args=(settings,), kwargs=how, daemon=True)

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *_):
        self._stop.set()
        self._thread.join(20)
        assert not self._thread.is_alive()


@pytest.fixture
def influx():
    with Influx() as running:
        running.query('CREATE DATABASE "worms"')
        yield running


@pytest.fixture
def settings(influx, tmp_path):
    with Mosquitto() as broker:
        file = tmp_path / "vermistat.yaml"
        file.write_text(SETTINGS.replace("BROKER", str(broker.port)).replace("DATABASE", influx.address))
        yield load([file], environ={})


def say(settings, *celsius):
    publish(settings.broker.port, [("probes/fig-west", str(value).encode()) for value in celsius])


def there(influx):
    found = influx.query('SELECT "value" FROM "reading" WHERE "probe" = \'fig-west\'', "worms")
    return [value for series in found for _, value in series["values"]]


def kept(settings):
    """How many readings; -1 while the file is being made."""
    try:
        store = open_to_read(settings)
    except StoreError:
        return -1
    try:
        return store.counted()
    finally:
        store.close()


def test_what_a_stranger_publishes_lies_in_the_database(influx, settings):
    with Running(settings):
        until(lambda: _heard(settings, 21.5), "the first is heard")
        say(settings, 22.5, 23.5)
        until(lambda: {22.5, 23.5} <= set(there(influx)), "all have gone on")
    store = open_to_read(settings)
    assert {22.5, 23.5} <= {r.value for r in store.window("fig-west", 0, 2**62)}
    store.close()


def _heard(settings, value):
    say(settings, value)
    return kept(settings) > 0


def test_a_database_that_is_gone_costs_nothing(influx, settings):
    with Running(settings):
        until(lambda: _heard(settings, 21.5), "the first is heard")
        until(lambda: there(influx), "it has gone on")
        influx.stop(signal.SIGKILL)
        before = kept(settings)
        say(settings, 22.5, 23.5, 24.5)
        until(lambda: kept(settings) >= before + 3, "they are kept and acknowledged here")
        influx.start()
        until(lambda: {22.5, 23.5, 24.5} <= set(there(influx)), "and have gone on")


def test_nothing_goes_on_under_a_time_that_may_be_wrong(influx, settings):
    with Running(settings, synced=False):
        until(lambda: _heard(settings, 21.5), "the first is heard")
        say(settings, 22.5)
        until(lambda: kept(settings) >= 2, "they are kept here")
        assert [] == there(influx)


class Failing:
    def __init__(self, since):
        self.since = since

    def standing(self):
        return Standing(7, self.since, "the database does not answer")


def test_since_when_it_fails_is_told_by_the_beds_clock():
    clock, patience = SteppedClock(10 * HOUR), Patience()
    assert Shipping(None, patience, clock.now).lost() is None
    assert Shipping(Failing(None), patience, clock.now).lost() is None
    since, why = Shipping(Failing(patience.now() - 60), patience, clock.now).lost()
    assert abs(10 * HOUR - MINUTE - since) < 5000
    assert "7 of them, because the database does not answer" == why


@pytest.mark.parametrize(("held", "told"), [(HOUR - 1, 0), (HOUR, 1)])
def test_it_is_said_after_an_hour_and_is_over_when_they_go_on(held, told):
    rules, now = orchard.rules(), 10 * HOUR
    lost = System(database_lost=(now - held, "7 of them, because it is down"))
    found = [f for f in look_at_system(lost, rules=rules, now=now, standing=()) if f.level]
    assert told == len(found)
    if found:
        assert Condition.DATABASE_LOST == found[0].key.condition
        assert "none is lost: 7 of them, because it is down" in found[0].evidence.arithmetic
        (over,) = look_at_system(System(), rules=rules, now=now, standing=[found[0].key])
        assert over.level is None
