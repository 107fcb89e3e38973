"""Small windows, long queues and a store that does not keep up, against a real Mosquitto."""

import json
import threading
from pathlib import Path

import pytest

from intake.probes import probe
from monitor.store.memory import MemoryStore
from parts.mosquitto import Mosquitto
from parts.publisher import publish
from parts.road import Gate, Road, until

SHIPPED = Path(__file__).parents[2] / "deploy" / "mosquitto" / "vermistat.conf"
PROBES = [probe(f"p{i}", field="/v", time="/at") for i in range(8)]
AT = 1_790_000_000
VERSIONS = pytest.mark.parametrize("protocol", ["5", "3.1.1"])


def minutes(count):
    """Eight probes, one after the other, once a minute."""
    return [
        (f"probes/p{n % 8}", json.dumps({"v": n % 1000, "at": AT + 60 * (n // 8)}).encode()) for n in range(count)
    ]


def queue(broker, count, **how):
    """A session in which so many messages wait."""
    with Road(broker.port, PROBES, **how):
        pass
    publish(broker.port, minutes(count))


def emptied(broker, **how):
    """Whether nothing waits any more: the next message is the first to come."""
    with Road(broker.port, PROBES, **how) as road:
        publish(broker.port, [("probes/p0", b'{"v": 1, "at": 1800000000}')])
        return road.received(1).inbox.received == 1


@VERSIONS
def test_a_broker_with_its_default_window_of_20_is_drained_by_commits_not_by_rounds(protocol):
    # Mosquitto's default, max_inflight_messages 20. Nobody flushes before all has come.
    with Mosquitto("max_queued_messages 0") as broker:
        queue(broker, 2000, protocol=protocol)
        with Road(broker.port, PROBES, protocol=protocol) as road:
            counts = road.received(2000).flush().pump.counts()
        assert 2000 == road.store.counted() == counts.new
        # ten at a time, and what the broker needs to be found out
        assert counts.commits <= 2000 // 10 + 10
        assert counts.stalls <= 5
        assert emptied(broker, protocol=protocol)


def test_a_window_of_20_is_learned_from_one_stop():
    with Mosquitto("max_queued_messages 0") as broker, Road(broker.port, PROBES, protocol="3.1.1") as road:
        publish(broker.port, minutes(400))
        counts = road.received(400).flush().pump.counts()
        assert 400 == road.store.counted()
        assert 1 <= counts.stalls <= 5
        assert counts.commits <= 400 // 10 + 10


def test_a_burst_of_20_000_is_kept_once_in_few_commits_under_the_shipped_configuration():
    with Mosquitto(SHIPPED.read_text()) as broker:
        assert "Error" not in broker.log()
        queue(broker, 20_000)
        with Road(broker.port, PROBES) as road:
            counts = road.received(20_000).flush().pump.counts()
        assert 20_000 == road.store.counted() == counts.new
        assert counts.commits <= 20_000 // 500 + 5
        assert emptied(broker)


def held_up(broker, protocol, *, wired=None):
    """A road whose store does not answer, with a queue of 3,000 before it and hands for 100."""
    queue(broker, 3000, protocol=protocol)
    store = MemoryStore()
    gate = Gate(store.keep)
    road = Road(broker.port, PROBES, store=store, keep=gate, protocol=protocol, window=100, wired=wired).start()
    return road, gate


def let_go(road, gate):
    """Open the gate; everything must be there once."""
    gate.open.set()
    until(lambda: road.inbox.received >= 3000 and road.flush().store.counted() == 3000, "all of them")
    road.stop()
    for i in range(8):
        assert [n % 1000 for n in range(3000) if n % 8 == i] == road.values(f"p{i}")


NO_WINDOW = "max_queued_messages 0\nmax_inflight_messages 0"


def test_under_mqtt_5_the_broker_waits_at_the_receive_maximum():
    with Mosquitto(NO_WINDOW) as broker:
        road, gate = held_up(broker, "5")
        assert gate.there.wait(10)
        road.received(100)
        let_go(road, gate)
        assert 1 == road.wire.link().connection
        assert emptied(broker, protocol="5")


def test_a_full_inbox_is_not_read_into():
    # 3.1.1 knows no receive maximum, and this broker has no window of its own
    with Mosquitto(NO_WINDOW) as broker:
        road, gate = held_up(broker, "3.1.1")
        until(lambda: road.inbox.full, "a full inbox")
        until(lambda: "has to wait" in road.wire.link().detail, "the words for it")
        assert len(road.inbox) <= road.inbox.limit + 2
        let_go(road, gate)
        assert 1 == road.wire.link().connection, "it was only paused"
        assert emptied(broker, protocol="3.1.1")


def test_a_pause_longer_than_the_keep_alive_costs_the_connection_and_no_reading():
    with Mosquitto(NO_WINDOW) as broker:
        road, gate = held_up(broker, "3.1.1", wired={"keepalive": 1})
        until(lambda: "lost" in road.wire.link().detail or road.wire._session is None, "the loss")
        until(lambda: road.wire._session is None and "has to wait" in road.wire.link().detail, "the words for it")
        assert len(road.inbox) <= road.inbox.limit + 2
        let_go(road, gate)
        assert road.wire.link().connection > 1
        assert emptied(broker, protocol="3.1.1")


def test_many_rounds_may_ask_at_once():
    with Mosquitto() as broker, Road(broker.port, PROBES) as road:
        publish(broker.port, minutes(50))
        road.received(50)
        answers = []
        rounds = [threading.Thread(target=lambda: answers.append(road.pump.flush(20))) for _ in range(8)]
        for one in rounds:
            one.start()
        for one in rounds:
            one.join()
        assert [True] * 8 == [a.ok for a in answers]
        assert 50 == road.store.counted()
