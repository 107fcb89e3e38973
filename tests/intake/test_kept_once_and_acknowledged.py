"""Against a real Mosquitto: what is published is kept once, whatever breaks between keeping and acknowledging."""

import json
import threading

import pytest

from intake.probes import probe
from monitor.errors import StoreBusy
from monitor.readings import Quality
from monitor.store.memory import MemoryStore
from monitor.wire.session import Session
from parts.mosquitto import Mosquitto
from parts.publisher import publish
from parts.road import MARKER, Gate, Road, until

DATED = probe("dated", field="/v", time="/at")
PLAIN = probe("plain")
PROBES = [DATED, PLAIN]
AT = 1_790_000_000
VERSIONS = pytest.mark.parametrize("protocol", ["5", "3.1.1"])


def dated(*values):
    return [("probes/dated", json.dumps({"v": v, "at": AT + 60 * v}).encode()) for v in values]


def plain(*values):
    return [("probes/plain", str(v).encode()) for v in values]


@pytest.fixture
def broker():
    with Mosquitto() as broker:
        yield broker


def met(broker, **how):
    """A session that the broker knows, and nothing in it."""
    with Road(broker.port, PROBES, **how) as road:
        return road.store


@VERSIONS
def test_what_came_is_kept_and_not_sent_again(broker, protocol):
    with Road(broker.port, PROBES, protocol=protocol) as road:
        publish(broker.port, dated(1, 2) + plain(20, 21))
        road.received(4).flush()
        assert [1, 2] == road.values("dated")
        assert [20, 21] == road.values("plain")
    with Road(broker.port, PROBES, store=road.store, protocol=protocol) as again:
        publish(broker.port, dated(3))
        again.received(1).flush()
        assert 1 == again.inbox.received
    assert [1, 2, 3] == again.values("dated")


@VERSIONS
def test_killed_after_keeping_and_before_acknowledging(broker, protocol):
    with Road(broker.port, PROBES, acknowledge=lambda deliveries: None, protocol=protocol) as killed:
        publish(broker.port, dated(1, 2) + plain(20, 20, 21))
        killed.received(5).flush()
    with Road(broker.port, PROBES, store=killed.store, protocol=protocol) as again:
        publish(broker.port, plain(22))
        again.received(6).flush()
        assert [1, 2] == again.values("dated")
        assert [20, 20, 21, 22] == again.values("plain")
        assert [] == again.undated()
        counts = again.pump.counts()
        assert (1, 2, 3) == (counts.new, counts.same, counts.again)
    with Road(broker.port, PROBES, store=again.store, protocol=protocol) as third:
        publish(broker.port, plain(23))
        assert 1 == third.received(1).inbox.received, "this time all were acknowledged"


@VERSIONS
def test_killed_twice_before_acknowledging(broker, protocol):
    store = None
    for _ in range(3):
        with Road(
            broker.port, PROBES, store=store, acknowledge=lambda deliveries: None, protocol=protocol
        ) as killed:
            store = killed.store
            if killed.wire.link().connection == 1 and not store.counted():
                publish(broker.port, plain(20, 20, 21))
            killed.received(3).flush()
    assert [20, 20, 21] == killed.values("plain")
    assert [] == killed.undated()


@VERSIONS
def test_killed_before_keeping(broker, protocol):
    def keep(batch):
        raise StoreBusy("locked")

    with Road(broker.port, PROBES, keep=keep, protocol=protocol) as killed:
        publish(broker.port, dated(1, 2) + plain(20, 21))
        killed.received(4)
        assert not killed.pump.flush(20).ok
    assert 0 == killed.store.counted()
    with Road(broker.port, PROBES, store=killed.store, protocol=protocol) as again:
        again.received(4).flush()
        assert [1, 2] == again.values("dated")
        assert [20, 21] == again.undated(), "nobody knows how long they waited"


@VERSIONS
def test_an_undated_value_is_not_doubled_either(broker, protocol):
    store = met(broker, protocol=protocol)
    publish(broker.port, plain(20, 21))
    with Road(broker.port, PROBES, store=store, acknowledge=lambda deliveries: None, protocol=protocol) as killed:
        killed.received(2).flush()
    with Road(broker.port, PROBES, store=store, protocol=protocol) as again:
        again.received(2).flush()
    assert [20, 21] == again.undated()


def test_a_new_message_like_an_acknowledged_one_is_not_taken_for_it(broker):
    with Road(broker.port, PROBES) as road:
        publish(broker.port, plain(20, 20, 20))
        road.received(3).flush()
    publish(broker.port, plain(20, 20, 20))
    with Road(broker.port, PROBES, store=road.store) as again:
        again.received(3).flush()
    assert 3 == len(again.values("plain"))
    assert [20, 20, 20] == again.undated()


@VERSIONS
def test_the_connection_breaks_with_a_batch_in_hand(broker, protocol):
    store = MemoryStore()
    gate = Gate(store.keep)
    with Road(broker.port, PROBES, store=store, keep=gate, protocol=protocol) as road:
        publish(broker.port, dated(1, 2) + plain(20, 20, 21))
        road.received(5)
        road.inbox.nudge()
        flushed = []
        waiting = threading.Thread(target=lambda: flushed.append(road.pump.flush(30)))
        waiting.start()
        assert gate.there.wait(10)
        road.cut()
        road.received(10)
        gate.open.set()
        waiting.join()
        assert flushed[0].ok
        road.flush()
        assert [1, 2] == road.values("dated")
        assert [20, 20, 21] == road.values("plain")
        assert [] == road.undated()
    with Road(broker.port, PROBES, store=store, protocol=protocol) as again:
        publish(broker.port, plain(22))
        assert 1 == again.received(1).inbox.received


def stale_acknowledgements(broker):
    """The broker dies with a batch in hand and begins its packet identifiers again; then we are killed as well.
    What was published in between, and what of it is kept in the end.
    """
    store = MemoryStore()
    gate = Gate(store.keep)

    def keep(batch):
        if gate.open.is_set():
            raise StoreBusy("the second batch is never kept by this daemon")
        return gate(batch)

    road = Road(broker.port, PROBES, store=store, keep=keep).start().up()
    publish(broker.port, dated(*range(20)))
    road.received(20)
    flushing = threading.Thread(target=road.pump.flush, args=(30,))
    flushing.start()
    assert gate.there.wait(10)
    broker.kill()
    broker.start()
    until(lambda: road.wire.link().connection == 2 and road.wire.link().up, "the second connection")
    publish(broker.port, dated(*range(100, 120)))
    road.received(40)
    gate.open.set()
    flushing.join()
    until(lambda: not road.wire._acks, "the acknowledgements of the first batch")
    road.stop()
    assert set(range(20)) <= set(road.values("dated"))
    with Road(broker.port, PROBES, store=store) as again:
        publish(broker.port, dated(999))
        until(lambda: any(r.value == 999 for r in again.flush().store.latest("dated")), "the last message")
    return set(range(100, 120)), set(again.values("dated"))


def test_the_broker_restarts_with_a_batch_in_hand(broker):
    published, kept = stale_acknowledgements(broker)
    assert published <= kept


def test_without_the_connections_number_a_stale_acknowledgement_erases_messages(broker, monkeypatch):
    # the control: the same life with the protection taken away loses what the test above keeps
    def careless(session, deliveries):
        for d in deliveries:
            session._client.ack(d.packet, d.qos)

    monkeypatch.setattr(Session, "acknowledge", careless)
    published, kept = stale_acknowledgements(broker)
    assert not published <= kept


# Retained, undated, refused


@VERSIONS
def test_a_retained_message_is_shown_and_not_judged_unless_it_has_a_time(broker, protocol):
    publish(broker.port, dated(1) + plain(20), retain=True)
    with Road(broker.port, PROBES, protocol=protocol) as road:
        road.received(2).flush()
        (with_time,) = road.store.latest("dated")
        (without,) = road.store.latest("plain")
    assert (Quality.STALE, True, (AT + 60) * 1000) == (with_time.quality, with_time.own_time, with_time.at)
    assert (Quality.RETAINED, False) == (without.quality, without.own_time)


@VERSIONS
def test_clearing_a_retained_topic_leaves_the_last_value(broker, protocol):
    # check 105
    with Road(broker.port, PROBES, protocol=protocol) as road:
        publish(broker.port, plain(20), retain=True)
        publish(broker.port, [("probes/plain", b"")], retain=True)
        road.received(2).flush()
    assert [20] == road.values("plain")
    assert ["empty"] == [r.kind for r in road.store.refusals()]


@VERSIONS
def test_what_waited_is_undated_and_what_comes_after_the_marker_is_not(broker, protocol):
    store = met(broker, protocol=protocol)
    publish(broker.port, plain(*range(20, 40)) + dated(1))
    with Road(broker.port, PROBES, store=store, protocol=protocol) as road:
        until(lambda: road.wire._session and road.wire._session._marker_until is None, "the marker")
        publish(broker.port, plain(50))
        road.received(22).flush()
    assert list(range(20, 40)) == road.undated()
    assert [50] == road.values("plain")
    assert [1] == road.values("dated")


def test_the_marker_itself_is_nobodys_reading(broker):
    with Road(broker.port, PROBES) as road:
        publish(broker.port, [(MARKER, b"somebody else's")])
        publish(broker.port, plain(20))
        road.received(1).flush()
    assert [] == road.store.refusals()
    assert 1 == road.pump.counts().deliveries


def test_what_cannot_be_read_is_kept_as_refused_and_acknowledged(broker):
    with Road(broker.port, PROBES) as road:
        publish(broker.port, [("probes/plain", b"warm"), ("probes/dated", b"{")])
        road.received(2).flush()
    assert ["not a number", "not JSON"] == [r.kind for r in road.store.refusals()]
    with Road(broker.port, PROBES, store=road.store) as again:
        publish(broker.port, plain(20))
        assert 1 == again.received(1).inbox.received


def test_a_bad_payload_that_comes_again_is_refused_once(broker):
    with Road(broker.port, PROBES, acknowledge=lambda deliveries: None) as killed:
        publish(broker.port, [("probes/plain", b"warm")])
        killed.received(1).flush()
    with Road(broker.port, PROBES, store=killed.store) as again:
        again.received(1).flush()
    assert {("probes/plain", "not a number"): 1} == again.store.refusal_counts()


def test_a_message_without_quality_of_service_is_kept_too(broker):
    with Road(broker.port, PROBES) as road:
        publish(broker.port, plain(20, 21), qos=0)
        road.received(2).flush()
    assert [20, 21] == road.values("plain")


def test_the_first_value_at_a_time_wins_and_the_other_is_counted(broker):
    other = [("probes/dated", json.dumps({"v": 7, "at": AT + 60}).encode())]
    with Road(broker.port, PROBES) as road:
        publish(broker.port, dated(1) + other)
        road.received(2).flush()
        assert 1 == road.pump.counts().other
    assert [1] == road.values("dated")
