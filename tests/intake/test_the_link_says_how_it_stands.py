"""Connecting, being refused, and saying what to do about it."""

import ssl

import pytest
import trustme

from intake.probes import probe
from monitor.addresses import Secret
from monitor.errors import BadValue
from monitor.simulator.broker import EmbeddedBroker
from monitor.wire import link as link_module
from monitor.wire import session as session_module
from monitor.wire import words
from monitor.wire.making import NAMES, BufferedClient
from parts.broken_broker import BrokenBroker
from parts.mosquitto import Mosquitto, free_port
from parts.publisher import publish
from parts.road import MARKER, Road, until

PROBES = [probe("p")]
VERSIONS = pytest.mark.parametrize("protocol", ["5", "3.1.1"])


def road(port, **how):
    return Road(port, PROBES, **how)


def detail(road, *words):
    """Start it and wait until it is down for the reason that has these words."""
    road.start()
    try:
        until(lambda: all(w in road.wire.link().detail for w in words), f"{words} in {road.wire.link()}")
        assert not road.wire.link().up
        return road.wire.link().detail
    finally:
        road.stop()


@pytest.fixture(scope="module")
def guarded():
    with Mosquitto(tls=True, users={"keeper": "right"}) as broker:
        yield broker


def secured(broker, password="right", **how):
    return road(
        broker.port, host="localhost", tls=True, ca_file=how.pop("ca_file", broker.ca_file), user="keeper",
        password=Secret(password), **how,
    )  # fmt: skip


@VERSIONS
def test_tls_and_a_password(guarded, protocol):
    with secured(guarded, protocol=protocol) as found:
        # our own marker makes the whole way there and back
        until(lambda: found.wire._session._marker_until is None, "the marker")
        assert "" == found.wire.link().detail


@VERSIONS
def test_a_wrong_password(guarded, protocol):
    said = detail(secured(guarded, "wrong", protocol=protocol), "check `user` and the password")
    assert "wrong" not in said


def test_a_certificate_of_somebody_else(guarded, tmp_path):
    trustme.CA().cert_pem.write_to_path(tmp_path / "other.pem")
    detail(secured(guarded, ca_file=str(tmp_path / "other.pem")), "not signed by", "other.pem", "`ca_file`")


def test_a_certificate_for_another_name(guarded):
    wrong = Road(guarded.port, PROBES, host="127.0.0.2", tls=True, ca_file=guarded.ca_file)
    # 127.0.0.2 reaches a listener on 127.0.0.1 only through its own; so ask the words themselves
    error = ssl.SSLCertVerificationError(1, "certificate verify failed")
    error.verify_message = "IP address mismatch, certificate is not valid for '127.0.0.2'."
    assert "another name than 127.0.0.2" in words.of_error(error, wrong.wire._broker)


@pytest.mark.parametrize(("text", "said"), [(None, "cannot be read"), ("no certificate", "holds no certificate")])
def test_a_ca_file_that_is_of_no_use(guarded, tmp_path, text, said):
    file = tmp_path / "ca.pem"
    if text is not None:
        file.write_text(text)
    detail(secured(guarded, ca_file=str(file)), said)


def test_a_corrected_ca_file_is_found_without_a_restart(guarded, tmp_path):
    file = tmp_path / "ca.pem"
    found = secured(guarded, ca_file=str(file)).start()
    until(lambda: "cannot be read" in found.wire.link().detail, "the complaint")
    with open(guarded.ca_file) as right:
        file.write_text(right.read())
    found.up().stop()


def test_tls_where_the_broker_speaks_none():
    with Mosquitto() as plain:
        detail(road(plain.port, tls=True), "does not speak TLS", "mqtt://")


def test_no_tls_where_the_broker_wants_it(guarded):
    detail(road(guarded.port, protocol="5"), "without a word", "mqtts://")


def test_nobody_there_and_then_somebody():
    with Mosquitto(start=False) as broker:
        found = road(broker.port).start()
        until(lambda: "Nobody answers" in found.wire.link().detail, "the complaint")
        down = found.wire.link()
        assert (False, 0) == (down.up, down.connection)
        broker.start()
        up = found.up().wire.link()
        assert (1, "") == (up.connection, up.detail)
        assert up.since >= down.since
        broker.stop()
        until(lambda: not found.wire.link().up, "the loss")
        broker.start()
        assert 2 == found.up().wire.link().connection
        found.stop()


def test_a_name_nobody_knows():
    detail(Road(free_port(), PROBES, host="no-such-host.invalid"), "no-such-host.invalid", "not known")


def test_up_means_that_every_subscription_is_answered():
    with BrokenBroker(suback=None) as broker:
        found = road(broker.port, protocol="5").start()
        until(lambda: broker.connections and found.wire._session and found.wire._session.accepted, "the greeting")
        assert not found.wire.link().up
        found.stop()


def test_a_subscription_that_is_never_answered_is_given_up(monkeypatch):
    monkeypatch.setattr(session_module, "ANSWERING", 0.2)
    with BrokenBroker(suback=None) as broker:
        detail(road(broker.port, protocol="5"), "subscription", "in time")


def test_a_subscription_that_is_refused_is_said():
    with BrokenBroker(suback=0x87) as broker, road(broker.port, protocol="5") as found:
        assert "does not let us read" in found.wire.link().detail
        assert "probes/p" in found.wire.link().detail


def test_a_subscription_without_acknowledgements_is_said():
    with BrokenBroker(suback=0) as broker, road(broker.port, protocol="5") as found:
        assert "QoS 0" in found.wire.link().detail


def test_a_session_that_is_kept_too_short_is_said():
    hour = b"\x11" + (3600).to_bytes(4)  # MQTT 5 §3.2.2.3.2
    with BrokenBroker(properties=hour) as broker, road(broker.port, protocol="5") as found:
        assert "1.0 h" in found.wire.link().detail


@pytest.mark.parametrize(
    ("code", "said"),
    [(0x85, "client id"), (0x86, "password"), (0x88, "not ready"), (0x9F, "ended the connection")],
)
def test_a_refusal_of_the_broker_is_put_in_words(code, said):
    with BrokenBroker(connack=code) as broker:
        detail(road(broker.port, protocol="5"), said)


@pytest.mark.parametrize("connack", [b"\x20\x02\x00\x01", b"\x20\x03\x00\x84\x00"], ids=["as 3.1.1", "as 5"])
def test_a_broker_that_refuses_mqtt_5_is_spoken_to_in_3_1_1(connack):
    # MQTT 3.1.1 §3.2.2.3 return code 1; MQTT 5 §3.2.2.2 reason code 0x84
    with BrokenBroker(to_v5=connack) as broker, road(broker.port) as found:
        assert "MQTTv311" == found.wire._session.protocol.name
        assert 2 == broker.connections


@pytest.mark.parametrize(("protocol", "said"), [("5", "does not speak MQTT 5"), ("3.1.1", "without a word")])
def test_a_protocol_that_was_asked_for_is_not_changed(monkeypatch, protocol, said):
    monkeypatch.setattr(link_module, "BACKOFF", 0.01)
    with BrokenBroker(connack=0x84 if protocol == "5" else 1, v5=protocol == "5") as broker:
        found = road(broker.port, protocol=protocol)
        detail(found, said)
        assert NAMES[found.wire._protocol] == f"MQTT {protocol}"


def test_a_broker_that_hangs_up_on_mqtt_5_is_tried_in_3_1_1(monkeypatch):
    monkeypatch.setattr(link_module, "BACKOFF", 0.01)
    with BrokenBroker(to_v5=b"") as broker, road(broker.port) as found:
        assert "MQTTv311" == found.wire._session.protocol.name
        assert 3 == broker.connections


def test_a_broker_that_says_nothing_is_given_up(monkeypatch):
    monkeypatch.setattr(session_module, "GREETING", 0.2)
    with BrokenBroker(to_v5=None) as broker:
        detail(road(broker.port, protocol="5"), "greeting", "in time")


def test_a_real_broker_that_knows_only_3_1_1(monkeypatch):
    # this one waits for the rest of a CONNECT that it cannot read
    monkeypatch.setattr(session_module, "GREETING", 0.3)
    broker = EmbeddedBroker()
    port = broker.start()
    with road(port, protocol="auto") as found:
        publish(port, [("probes/p", b"21.5")])
        found.received(1).flush()
        assert [21.5] == found.values("p")
    assert broker.stop()


@VERSIONS
def test_a_second_daemon_of_our_name_is_noticed(monkeypatch, protocol):
    monkeypatch.setattr(link_module, "BACKOFF", 0.01)
    with Mosquitto() as broker, road(broker.port, protocol=protocol) as first:
        second = road(broker.port, protocol=protocol).start()
        until(lambda: "own `client_id`" in first.wire.link().detail, "the complaint")
        second.stop()


def test_a_second_daemon_is_noticed_even_if_it_throws_us_out_before_we_are_up_now_and_then(monkeypatch):
    monkeypatch.setattr(link_module, "BACKOFF", 0.01)
    with BrokenBroker(hangs_up=True) as broker:
        detail(road(broker.port, protocol="5"), "own `client_id`")


def test_a_broker_that_says_that_we_were_taken_over_is_believed():
    with BrokenBroker(goodbye=b"\xe0\x01\x8e") as broker:  # MQTT 5 §3.14.2.1
        detail(road(broker.port, protocol="5"), "taken over", "vermistat")


# The marker


def test_a_marker_we_may_not_write_is_said_and_then_done_without():
    acl = "topic read probes/#\ntopic write probes/#\n"
    with Mosquitto(acl=acl) as broker:
        with road(broker.port, protocol="5", wired={"marker_patience": 60}) as found:
            until(lambda: f"does not let us write {MARKER}" in found.wire.link().detail, "the complaint")
        publish(broker.port, [("probes/p", b"20")])
        with road(broker.port, store=found.store, protocol="5", wired={"marker_patience": 0.3}) as found:
            until(lambda: found.wire._session._marker_until is None, "the end of patience")
            publish(broker.port, [("probes/p", b"21")])
            found.received(2).flush()
        assert [20] == found.undated()
        assert [21] == found.values("p")


def test_a_marker_that_does_not_come_back_is_said():
    with BrokenBroker() as broker, road(broker.port, protocol="5", wired={"marker_patience": 0.1}) as found:
        until(lambda: "does not come back" in found.wire.link().detail, "the complaint")
        assert found.wire.link().up


# Topics


@pytest.mark.parametrize("topic", ["probes/+", "#", "", MARKER])
def test_a_wildcard_or_our_own_marker_is_no_topic(topic):
    with Mosquitto() as broker, road(broker.port) as found:
        with pytest.raises(BadValue):
            found.wire.resubscribe([topic])
        publish(broker.port, [("probes/p", b"20")])
        found.received(1)


@VERSIONS
def test_other_topics_are_taken_while_it_runs(protocol):
    with Mosquitto() as broker, road(broker.port, protocol=protocol) as found:
        found.wire.resubscribe(["probes/q"])
        until(
            lambda: found.wire._session.topics == {"probes/q"} and not found.wire._session._awaited, "the change"
        )
        publish(broker.port, [("probes/p", b"20"), ("probes/q", b"21")])
        found.received(1).flush()
        publish(broker.port, [("probes/q", b"22")])
        found.received(2)
        assert {("probes/q", "no probe has this topic")} == set(found.store.refusal_counts())


def test_what_earlier_settings_left_in_the_session_is_given_up():
    with Mosquitto() as broker:
        with Road(broker.port, [probe("p"), probe("old")]):
            pass
        publish(broker.port, [("probes/old", b"20")])
        with road(broker.port) as found:
            found.received(1).flush()
            assert {("probes/old", "no probe has this topic"): 1} == found.store.refusal_counts()
            publish(broker.port, [("probes/old", b"20"), ("probes/p", b"21")])
            found.received(2)
            assert 2 == found.inbox.received


def test_many_topics_are_subscribed_in_several_packets():
    many = [probe(f"p{i}") for i in range(250)]
    with Mosquitto() as broker, Road(broker.port, many) as found:
        publish(broker.port, [(p.source.topic, b"20") for p in many])
        found.received(250).flush()
        assert 250 == found.store.counted()


# Publishing


@VERSIONS
def test_what_should_expire_is_retained_only_where_it_can_expire(protocol):
    with Mosquitto() as broker, road(broker.port, protocol=protocol) as found:
        assert found.wire.publish("probes/p", "20", retain=True, expiry_s=600)
        found.received(1)
        with Road(broker.port, PROBES, protocol=protocol, client_id="late") as late:
            publish(broker.port, [("probes/p", b"21")])
            expected = 2 if protocol == "5" else 1
            late.received(expected)
            assert expected == late.inbox.received
        assert found.wire.publish("probes/p", b"22", retain=True)
        found.received(3)


def test_nothing_is_kept_to_be_published_while_there_is_no_connection():
    found = road(free_port())
    assert not found.wire.publish("state", b"x")
    with pytest.raises(BadValue):
        found.wire.publish("state/#", b"x")


# Its own thread


def test_an_exception_in_a_callback_does_not_make_it_deaf(monkeypatch):
    with Mosquitto() as broker, road(broker.port) as found:
        put, failed = found.inbox.put, []

        def stumble(delivery):
            if not failed:
                failed.append(delivery)
                raise RuntimeError("stumbled")
            put(delivery)

        monkeypatch.setattr(found.inbox, "put", stumble)
        publish(broker.port, [("probes/p", b"20")])
        found.received(1).flush()
        assert 2 == found.wire.link().connection
        assert [20] == found.values("p") + found.undated()


def test_each_turn_is_a_sign_of_life():
    beats = []
    with Mosquitto() as broker:
        found = road(broker.port)
        found.wire._beat = lambda: beats.append(1)
        with found:
            until(lambda: len(beats) > 3, "beats")


def test_a_packet_is_not_read_byte_by_byte(monkeypatch):
    # guards the one place that leans on paho's inside (BufferedClient)
    fetched = []
    inner = BufferedClient.__mro__[1]._sock_recv

    def counted(client, size):
        fetched.append(size)
        return inner(client, size)

    monkeypatch.setattr(BufferedClient.__mro__[1], "_sock_recv", counted)
    with Mosquitto() as broker, road(broker.port) as found:
        publish(broker.port, [("probes/p", b"20.5")] * 500)
        found.received(500)
        assert 0 < len(fetched) < 1500


def test_stopping_twice_and_before_starting_is_no_error():
    found = road(free_port())
    found.wire.stop()
    found.start()
    found.stop()
    found.stop()
