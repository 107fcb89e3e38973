"""Readings go on to the database whole, once, in order, whatever becomes of the server."""

import signal
import threading
from dataclasses import replace

import pytest

from monitor.clock import Patience
from monitor.errors import StoreBroken, StoreBusy, StoreError
from monitor.readings import DAY, MINUTE
from monitor.store import sqlite_keep
from monitor.store.influx import InfluxStore, Shipped
from monitor.store.influx_server import Server
from monitor.store.influx_ship import Shipper, Standing
from monitor.store.promises import Kept
from monitor.store.sqlite import SqliteStore
from parts import influx_kept
from parts.influx import Influx
from parts.kept import T0, batch, moved_often, numbered, reading, undated
from parts.road import until

EVER = 2**62


class Down:
    """A server that takes nothing."""

    def __init__(self):
        self.asked = 0

    def write(self, lines):
        self.asked += 1
        raise StoreBusy("it is down")

    ask = write

    def close(self):
        pass


@pytest.fixture
def often(monkeypatch):
    moved_often(monkeypatch)


@pytest.fixture
def store(tmp_path):
    store = influx_kept.opened(tmp_path)
    yield store
    store.close()


def there(store, probe="fig-west"):
    """The server's own count and values."""
    found = influx_kept.server().query(
        f'SELECT "value" FROM "reading" WHERE "probe" = \'{probe}\'', store._server._database.bucket
    )
    return [tuple(row) for series in found for row in series["values"]]


def test_what_is_kept_goes_on_in_portions_and_only_once(store):
    given = [reading(minute=n, value=n) for n in range(10)]
    store.keep(batch(*given, undated=[undated()]))
    assert 11 == store.unshipped()
    assert [Shipped(4), Shipped(4), Shipped(2), Shipped()] == [store.ship(4) for _ in range(4)]
    assert 0 == store.unshipped()
    assert [(r.at, r.value) for r in given] == there(store)


def test_a_restart_goes_on_where_it_was(tmp_path):
    store = influx_kept.opened(tmp_path)
    store.keep(batch(*(reading(minute=n) for n in range(9))))
    store.ship(5)
    database = store._server._database
    store.close()
    again = InfluxStore(tmp_path / "kept.db", Server(database), "orchard")
    assert 4 == again.unshipped()
    again.close()


def test_what_was_sent_and_not_noted_is_sent_again_and_changes_nothing(tmp_path):
    store = influx_kept.opened(tmp_path)
    store.keep(batch(*(reading(minute=n, value=n) for n in range(9))))
    store.ship()
    store._next = store._noted  # as a kill would leave it
    assert Shipped(9) == store.ship()
    assert 9 == len(there(store))
    store.close()


@pytest.mark.usefixtures("often")
def test_a_server_that_is_down_costs_nothing_and_gets_everything_later(tmp_path):
    down = Down()
    store = InfluxStore(tmp_path / "kept.db", down, "orchard")
    given = [reading(minute=n, value=n) for n in range(20)]
    for one in given:
        assert 1 == store.keep(batch(one)).new
    with pytest.raises(StoreBusy):
        store.ship()
    assert numbered(given) == store.after(0) == store.window("fig-west", 0, EVER)
    assert 20 == store.unshipped()
    assert 0 == store.prune(EVER, newest=0), "nothing leaves the file before the server has it"
    store.close()
    up = influx_kept.opened(tmp_path)
    assert Shipped(20) == up.ship()
    assert [(r.at, r.value) for r in given] == there(up)
    up.close()


@pytest.mark.usefixtures("often")
def test_the_newest_of_each_probe_stay_in_the_file_however_old(store):
    for minute in range(50):
        store.keep(batch(reading(minute=minute), reading("fig-east", minute)))
    store.ship()
    store.prune(EVER, newest=8)
    ((left,),) = store._all("SELECT count(*) FROM reading")
    ((waiting,),) = store._all("SELECT count(*) FROM arrived")
    assert (16, 100) == (left, left + waiting + store._all("SELECT 100 - ? - ?", left, waiting)[0][0])
    store._server.close()
    store._server = Down()
    assert 8 == len(store.latest("fig-west", 8)), "without the server"
    assert T0 + 42 * MINUTE <= store.unchanged_since("fig-west")
    with pytest.raises(StoreError):
        store.window("fig-west", T0, EVER)


@pytest.mark.usefixtures("often")
@pytest.mark.parametrize("when", ["while it answers", "while it does not"])
def test_the_first_value_wins_also_where_it_lies_at_the_server_only(store, when):
    for minute in range(6):
        store.keep(batch(reading(minute=minute, value=minute)))
    store.ship()
    store.prune(EVER, newest=0)
    old = [
        minute for minute in range(6) if not store._all("SELECT 1 FROM arrived WHERE at = ?", T0 + minute * MINUTE)
    ]
    assert len(old) >= 3
    late = [
        reading(minute=old[0], value=old[0]),
        reading(minute=old[1], value=99.0),
        reading(minute=-7, value=3.0),
    ]
    if when == "while it answers":
        assert Kept(1, 1, 1, 7) == store.keep(batch(*late))
        assert Shipped(1) == store.ship()
    else:
        server, store._server = store._server, Down()
        assert Kept(3, 0, 0, 9) == store.keep(batch(*late))
        with pytest.raises(StoreBusy):
            store.ship()
        store._server = server
        assert Shipped(1, same=1, other=1) == store.ship()
    assert {"fig-west": 1} == store.contradictions()
    assert [3.0, *map(float, range(6))] == [r.value for r in store.window("fig-west", T0 - DAY, EVER)]
    assert [3.0, *map(float, range(6))] == [value for _, value in there(store)]
    assert 7 == store.counted()


@pytest.mark.usefixtures("often")
def test_without_the_comparison_the_last_would_win(store, monkeypatch):
    """The control of the test before."""
    monkeypatch.setattr(InfluxStore, "_known_there", lambda self, late: {})
    for minute in range(6):
        store.keep(batch(reading(minute=minute, value=minute)))
    store.ship()
    store.prune(EVER, newest=0)
    store.keep(batch(reading(minute=0, value=99.0)))
    store.ship()
    assert 99.0 in [value for _, value in there(store)]


def test_a_reading_that_the_server_cannot_hold_stays_here(store):
    far = replace(reading(), at=2**62, received_at=2**62)
    store.keep(batch(far, reading(minute=1)))
    assert Shipped(1) == store.ship()
    store._on_writer(store._move_all)
    store.prune(2**62 + 1, newest=0)
    assert [far.at] == [r.at for r in store.window("fig-west", 2**61, 2**62 + 1)]


def shipper(store, **more):
    how = {"here": 8 * DAY, "now": lambda: T0, "may": lambda: True, "patience": Patience(), "beat": lambda: None}
    return Shipper(store, **(how | more))


def test_the_thread_sends_and_says_how_it_stands(store):
    store.keep(batch(*(reading(minute=n) for n in range(9))))
    sending = shipper(store)
    sending.start()
    until(lambda: not store.unshipped(), "everything is sent")
    assert Standing(0) == sending.standing()
    sending.stop(5)
    assert 9 == len(there(store))


def test_it_says_what_is_wrong_and_goes_on_when_that_is_over(tmp_path, monkeypatch):
    monkeypatch.setattr("monitor.store.influx_ship.BACKOFF", 0.05)
    monkeypatch.setattr("monitor.store.influx_ship.PAUSE", 0.05)
    with Influx() as server:
        store = InfluxStore(tmp_path / "kept.db", Server(server.database(), timeout=2), "orchard")
        sending = shipper(store)
        server.stop(signal.SIGKILL)
        sending.start()
        store.keep(batch(reading()))
        until(lambda: sending.standing().error, "the failure is known")
        standing = sending.standing()
        assert 1 == standing.waiting
        assert "does not answer" in standing.error
        server.start()
        until(lambda: not store.unshipped(), "it has gone on")
        assert "" == sending.standing().error
        sending.stop(5)
        store.close()


def test_nothing_is_sent_while_times_are_unsure(store):
    sure, looked = threading.Event(), threading.Event()

    def may():
        looked.set()
        return sure.is_set()

    store.keep(batch(reading()))
    sending = shipper(store, may=may)
    sending.start()
    assert looked.wait(5)
    assert 1 == store.unshipped()
    sending.stop(5)


@pytest.mark.usefixtures("often")
def test_once_a_day_what_is_old_leaves_the_file(store, monkeypatch):
    monkeypatch.setattr("monitor.store.influx_ship.PAUSE", 0.02)
    monkeypatch.setattr("monitor.store.influx.NEWEST", 0)
    now = T0 + 8 * DAY + 30 * MINUTE
    for minute in range(60):
        store.keep(batch(reading(minute=minute)))
    store._on_writer(store._move_all)
    sending = shipper(store, now=lambda: now)
    sending.start()
    until(store._pruned, "the old have left")
    sending.stop(5)
    ((oldest,),) = store._all("SELECT min(at) FROM reading")
    assert T0 + 28 * MINUTE <= oldest
    assert 60 == len(store.window("fig-west", T0, EVER)) == store.counted()


def test_a_file_that_was_kept_without_a_database_goes_there_whole(tmp_path, monkeypatch):
    monkeypatch.setattr(sqlite_keep, "STAGED", 50)
    plain = SqliteStore(tmp_path / "kept.db")
    given = [reading(f"p{n % 3}", n, n) for n in range(200)]
    plain.keep(batch(*given))
    plain.close()
    store = influx_kept.opened(tmp_path)
    while store.unshipped():
        store.ship(64)
    assert 200 == sum(len(there(store, f"p{n}")) for n in range(3))
    store.close()


def test_a_database_that_does_not_know_us_is_said_so(tmp_path):
    database = influx_kept.server().database()
    store = InfluxStore(tmp_path / "kept.db", Server(replace(database, bucket="nobody")), "orchard")
    store.keep(batch(reading()))
    with pytest.raises(StoreBroken, match="set-up"):
        store.ship()
    store.close()
