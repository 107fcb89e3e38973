"""A publisher, a real Mosquitto and the whole road of intake: what is confirmed, what is not, and what comes again."""

import contextlib
import json
import threading
import zlib

import pytest

from monitor.addresses import Broker, Secret
from monitor.clock import Patience
from monitor.errors import WireError
from monitor.publisher.faults import Fault, Faulty
from monitor.publisher.wired import Buffer
from monitor.readings import MINUTE, SECOND
from monitor.store.memory import MemoryStore
from monitor.wire.listening import listen
from parts.mosquitto import Mosquitto
from parts.road import until
from parts.sending import Sending, daemon


@pytest.fixture(scope="module")
def broker():
    with Mosquitto("max_queued_messages 0") as one:
        yield one


@pytest.fixture
def name(request):
    """A probe of its own for each test: they share the broker."""
    return f"p-{zlib.crc32(request.node.name.encode())}"


def eighths(count):
    return [n / 8 for n in range(1, count + 1)]


def heard(store, name):
    return [r.value for r in store.window(name, 0, 1 << 60)]


def all_there(store, name, source):
    """Wait until a reading of now is in the store; everything up to it must be, once."""
    mark = source.last

    def kept():
        return [value for value in heard(store, name) if value <= mark]

    until(lambda: len(kept()) >= mark * 8, f"everything up to {mark} in the store")
    assert eighths(int(mark * 8)) == kept()


def test_what_is_on_disk_is_confirmed_and_let_go_in_few_marks_and_the_card_sees_nothing(broker, name, tmp_path):
    buffer = Buffer(tmp_path / "held")
    with Sending(broker.port, name, buffer=buffer) as sending, daemon(broker.port, name) as road:
        source = sending.sources[name]
        sending.read(100)
        until(lambda: sending.held.marked and len(sending.held) <= 20, "marks")
        all_there(road.store, name, source)
        assert 0 == sending.held.dropped
        assert road.pump.counts().same <= 5
        assert not (tmp_path / "held").exists()


def test_readings_of_a_daemon_that_was_away_wait_at_the_broker_and_are_all_there(broker, name):
    store = MemoryStore()
    with Sending(broker.port, name) as sending:
        with daemon(broker.port, name, store=store):
            until(lambda: len(heard(store, name)) >= 3, "readings")
        sending.read(30)
        with daemon(broker.port, name, store=store):
            all_there(store, name, sending.sources[name])


def test_a_daemon_that_knows_nothing_counts_on_from_the_oldest(broker, name):
    """It was restarted, and hears of readings in the middle of a life."""
    with Sending(broker.port, name) as sending:
        with daemon(broker.port, name):
            until(lambda: sending.held.marked, "a mark")
        sending.held.marked = False
        with daemon(broker.port, name):
            until(lambda: sending.held.marked, "a mark of the second")
            sending.read(50)
            until(lambda: len(sending.held) <= 20, "what is confirmed is let go")


def test_a_publisher_that_is_restarted_sends_what_nobody_confirmed_from_its_file(broker, name, tmp_path):
    store, buffer = MemoryStore(), Buffer(tmp_path / "held")
    first = Sending(broker.port, name, buffer=buffer, client_id="two")
    source = first.sources[name]
    with first:
        first.read(20)
    assert (tmp_path / "held").stat().st_size > 20 * 10
    with (
        daemon(broker.port, name, store=store),
        Sending(broker.port, name, buffer=buffer, sources={name: source}, client_id="two") as second,
    ):
        until(lambda: second.held.marked and len(second.held) <= 20, "all is confirmed")
        kept = list(store.window(name, 0, 1 << 60))
        assert {r.value for r in kept} >= set(eighths(20))
        assert [] == [r for r in kept if r.value > 1 and abs(r.at - source.times[r.value]) > MINUTE]
    until(lambda: (tmp_path / "held").stat().st_size < 20 * 40, "the file is small again")


def test_control_without_a_file_what_had_not_left_is_lost(broker, name):
    store, source = MemoryStore(), None
    first = Sending(broker.port + 1, name, client_id="three").start()  # nobody listens there
    source = first.sources[name]
    first.read(10)
    first.stop()
    with (
        daemon(broker.port, name, store=store),
        Sending(broker.port, name, sources={name: source}, client_id="three"),
    ):
        mark = source.last
        until(lambda: any(value > mark for value in heard(store, name)), "readings")
    assert not set(eighths(10)) & set(heard(store, name))


def test_a_daemon_that_is_too_old_to_confirm_hears_everything_and_nothing_counts_as_lost(broker, name):
    with (
        daemon(broker.port, name, confirms=False) as road,
        Sending(broker.port, name, buffer=Buffer(at_most=5_000)) as sending,
    ):
        sending.read(100)
        all_there(road.store, name, sending.sources[name])
        assert not sending.held.marked
        assert (0, True) == (sending.held.dropped, sending.held.let_go >= 50)


def test_two_publishers_of_one_probe_are_each_confirmed_for_themselves(broker, name):
    with (
        daemon(broker.port, name) as road,
        Sending(broker.port, name, client_id="left") as left,
        Sending(broker.port, name, client_id="right") as right,
    ):
        left.read(60)
        right.read(60)
        until(lambda: left.held.marked and right.held.marked, "marks of both")
        until(lambda: len(left.held) <= 25 and len(right.held) <= 25, "both let go of what is confirmed")
        assert 0 == left.held.dropped + right.held.dropped
        assert len(heard(road.store, name)) >= 100


def test_a_connection_that_is_cut_loses_nothing(broker, name):
    with Sending(broker.port, name) as sending, daemon(broker.port, name) as road:
        for _ in range(2):
            sending.read(5)
            road.cut()
            sock = sending.publisher.wire._session.socket
            number = sending.publisher.wire.link().connection
            sock.shutdown(2)
            until(lambda n=number: sending.publisher.wire.link().connection > n, "a new connection")
            sending.up()
        sending.read(20)
        all_there(road.store, name, sending.sources[name])


def test_under_tls_with_a_password_it_may_write_its_own_topics_alone_and_reads_its_marks():
    acl = (
        "user vermistat\ntopic readwrite #\n"
        "user shed\ntopic write probes/fig\ntopic write publishers/shed\ntopic read vermistat/tests/durable/fig\n"
    )
    users = {"vermistat": "castings", "shed": "wet-cardboard"}
    with Mosquitto(users=users, tls=True, acl=acl) as secure:
        login = {"tls": True, "ca_file": secure.ca_file, "host": "localhost"}
        ours = {"user": "shed", "password": Secret("wet-cardboard"), "tls": True, "ca_file": secure.ca_file}
        theirs = {"user": "vermistat", "password": Secret("castings"), **login}
        with (
            daemon(secure.port, "fig", "plum", **theirs) as road,
            Sending(secure.port, "fig", "plum", **ours) as sending,
        ):
            sending.read(30)
            until(lambda: sending.held.marked, "a mark")
            until(lambda: "plum" in sending.publisher.wire.link().detail, "why plum is not heard")
            assert [] == heard(road.store, "plum")
            all_there(road.store, "fig", sending.sources["fig"])
            sending.read(150)  # far more than may be on their way at once: what is refused holds up nothing
            all_there(road.store, "fig", sending.sources["fig"])


class Ear:
    """What is published, in a thread."""

    def __init__(self, port, topics, seconds=20):
        self.said = {}
        self._thread = threading.Thread(target=self._listen, args=(port, topics, seconds), daemon=True)
        self._thread.start()

    def _listen(self, port, topics, seconds):
        def hear(topic, payload, retained):
            self.said.setdefault(topic, []).append(json.loads(payload))

        with contextlib.suppress(WireError):  # the broker ends with its test
            listen(Broker("127.0.0.1", port), topics, seconds=seconds, heard=hear, patience=Patience().now)


def test_it_says_how_it_is_counts_what_was_no_reading_and_sends_none_of_it(broker, name):
    ear = Ear(broker.port, "publishers/#")
    with Sending(broker.port, name) as sending, daemon(broker.port, name) as road:
        source = sending.sources[name]
        sending.read(3)
        source.fault = Faulty(Fault.POWER_ON, "It says 85 °C.")
        until(lambda: any("power-on" in s["probes"].get(name, {}).get("faults", {}) for s in ear.said.get("publishers/shed", [])),
              "the count")  # fmt: skip
        source.fault = None
        sending.read(3)
        all_there(road.store, name, source)
    until(lambda: ear.said["publishers/shed"][-1]["alive"] is False, "its good-bye")
    told = [s["probes"][name] for s in ear.said["publishers/shed"] if name in s["probes"]]
    assert "It says 85 °C." in {one["says"] for one in told}
    assert told[-1]["faults"]["power-on"] >= 1
    assert told[-1]["good"] >= 6


def test_the_broker_says_for_it_that_it_is_gone():
    with Mosquitto() as own:
        ear = Ear(own.port, "publishers/#")
        sending = Sending(own.port, "fig").start().up()
        until(lambda: ear.said.get("publishers/shed"), "its first words")
        assert ear.said["publishers/shed"][0]["alive"] is True
        sending.publisher.wire._session.socket.shutdown(2)
        until(lambda: {"alive": False} in ear.said["publishers/shed"], "its will")
        sending.stop()


def test_while_the_clock_is_not_known_readings_say_how_long_ago_they_were_and_are_put_right_when_it_is(
    broker, name
):
    """Those that were sent by their age stay so; what waited meanwhile goes out with its true time."""
    known, ear = threading.Event(), Ear(broker.port, f"probes/{name}")
    sending = Sending(broker.port, name, known=known.is_set)
    source, shift = sending.sources[name], 10_000_000
    publisher = sending.publisher
    right = publisher._clock
    publisher._clock = Wrong(right, shift)
    with daemon(broker.port, name) as road, sending:
        until(lambda: len(ear.said.get(f"probes/{name}", [])) >= 3, "readings by their age")
        assert all(-60 <= pack[0]["bt"] <= 0 for pack in ear.said[f"probes/{name}"])
        until(lambda: len(heard(road.store, name)) >= 3, "they are kept")
        publisher._clock = right
        known.set()
        sending.read(10)
        mark = source.last
        until(lambda: mark in heard(road.store, name), "a reading by its time")
        (kept,) = [r for r in road.store.window(name, 0, 1 << 60) if r.value == mark]
        assert abs(kept.at - source.times[mark]) < MINUTE
        assert kept.own_time
        until(lambda: sending.held.marked, "a mark")


class Wrong:
    """A clock that is behind."""

    def __init__(self, clock, behind):
        self.speed, self.now = clock.speed, lambda: clock.now() - behind


def test_a_daemon_that_says_nothing_is_wondered_about_once(broker, name, caplog):
    with daemon(broker.port, name, confirms=False), Sending(broker.port, name, speed=4000.0, every=20 * SECOND):
        until(lambda: "no daemon has confirmed any of it for 30 min" in caplog.text, "the warning")
    assert 1 == caplog.text.count("no daemon has confirmed")
