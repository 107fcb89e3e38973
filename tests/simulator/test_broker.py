"""The broker inside the demo, spoken to by the simulated probes and by a stranger's client."""

import queue
import socket

import paho.mqtt.client as mqtt
import pytest
from paho.mqtt.enums import CallbackAPIVersion

from monitor.errors import WireError
from monitor.simulator.broker import EmbeddedBroker
from monitor.simulator.probes import Radio

SOON = 20


@pytest.fixture
def broker():
    running = EmbeddedBroker()
    port = running.start()
    yield port
    assert running.stop()


class Stranger:
    """Any MQTT 3.1.1 client."""

    def __init__(self, port):
        self.heard = queue.Queue()
        subscribed = queue.Queue()
        self.client = mqtt.Client(CallbackAPIVersion.VERSION2)
        self.client.on_connect = lambda c, *_: c.subscribe("probes/#", qos=1)
        self.client.on_subscribe = lambda *_: subscribed.put(True)
        self.client.on_message = lambda _c, _d, m: self.heard.put((m.topic, m.payload))
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        assert subscribed.get(timeout=SOON)

    def close(self):
        self.client.disconnect()
        self.client.loop_stop()


def listens(port):
    with socket.socket() as caller:
        return caller.connect_ex(("127.0.0.1", port)) == 0


def test_what_a_simulated_probe_says_a_stranger_hears_in_order(broker):
    stranger, radio = Stranger(broker), Radio(broker)
    try:
        radio.open()
        for number in range(200):
            radio.publish("probes/tub", str(number).encode())
        assert [("probes/tub", str(n).encode()) for n in range(200)] == [
            stranger.heard.get(timeout=SOON) for _ in range(200)
        ]
    finally:
        radio.close()
        stranger.close()


def test_it_listens_on_loopback_only_and_no_longer_after_stop():
    running = EmbeddedBroker()
    port = running.start()
    assert listens(port)
    assert running.stop()
    assert not listens(port)
    assert running.stop()


def test_it_stops_cleanly_while_somebody_is_connected():
    running = EmbeddedBroker()
    port = running.start()
    stranger = Stranger(port)
    try:
        assert running.stop()
    finally:
        stranger.close()


def test_two_brokers_take_two_ports():
    one, two = EmbeddedBroker(), EmbeddedBroker()
    try:
        assert one.start() != two.start()
    finally:
        assert one.stop()
        assert two.stop()


def test_a_port_that_is_taken_is_said_so():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(WireError, match=str(port)):
            EmbeddedBroker(port).start()


def test_a_radio_without_a_broker_says_so():
    with socket.socket() as nobody:
        nobody.bind(("127.0.0.1", 0))
        with pytest.raises(WireError, match="no broker answered"):
            Radio(nobody.getsockname()[1]).open(timeout=0.5)
