"""Against a real Mosquitto: what is said to ourselves comes back unless the broker waits for our answers."""

import pytest

from intake.probes import probe
from monitor.wire import link as link_module
from monitor.wire.echo import BACK_WITHIN, Echo
from parts.mosquitto import Mosquitto
from parts.publisher import publish
from parts.road import MARKER, Road, until

PROBES = [probe("plain")]
WINDOW = 20
"""Mosquitto's own, which it has under MQTT 3.1.1; under MQTT 5 it goes by ours."""
VERSIONS = pytest.mark.parametrize("how", [{"protocol": "5", "window": WINDOW}, {"protocol": "3.1.1"}])


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    monkeypatch.setattr("monitor.wire.echo.BACK_WITHIN", 0.2)
    monkeypatch.setattr(link_module, "TURN", 0.05)


def unanswered(broker, count, *, held=None, **how):
    """A road that takes so many and answers none: they go into `held`."""
    held = [] if held is None else held
    road = Road(broker.port, PROBES, acknowledge=held.extend, **how).start().up()
    publish(broker.port, [("probes/plain", str(n).encode()) for n in range(count)])
    return road


def answered(road):
    """Ask, and wait for what becomes of it; whether the broker sends."""
    road.wire.hears()
    echo = road.wire._session.echo
    until(lambda: echo._asked_at and (echo.missing or not echo._awaited), "an answer, or none")
    until(lambda: road.wire._deaf == echo.missing, "a turn of the wire")
    return road.wire.hears()


@VERSIONS
def test_with_room_in_its_window_it_does(how):
    with Mosquitto() as broker:
        road = unanswered(broker, WINDOW - 1, **how).received(WINDOW - 1)
        assert answered(road)
        road.stop()


@VERSIONS
def test_with_its_window_full_it_does_not_and_goes_on_when_it_is_answered(how):
    with Mosquitto() as broker:
        held = []
        road = unanswered(broker, WINDOW + 5, held=held, **how).received(WINDOW).flush()
        assert not answered(road)
        road.wire.acknowledge(held[:])
        road.received(WINDOW + 5)
        until(road.wire.hears, "the answer")
        road.stop()


def test_a_broken_connection_leaves_the_question_open():
    with Mosquitto() as broker:
        road = unanswered(broker, WINDOW + 5, window=WINDOW).received(WINDOW)
        assert not answered(road)
        broker.stop()
        until(lambda: not road.wire.link().up, "the loss")
        assert road.wire.hears(), "that the broker is lost is another trouble"
        road.stop()


def test_where_our_marker_is_not_let_through_nothing_can_be_known():
    rules = f"topic read #\ntopic write probes/#\ntopic deny {MARKER}\n"
    with Mosquitto(acl=rules) as broker:
        road = unanswered(broker, WINDOW + 5, wired={"marker_patience": 0.2}, protocol="3.1.1").received(WINDOW)
        until(lambda: "marker" in road.wire._session._remarks, "the remark about the marker")
        road.wire.hears()
        until(lambda: not road.wire._to_ask, "the wire's turn")
        assert not road.wire._session.echo._awaited
        assert road.wire.hears()
        road.stop()


def test_one_question_at_a_time_with_time_to_come_back():
    now = [100.0]
    echo = Echo(lambda: now[0])
    assert not echo.missing
    first = echo.ask()
    assert echo.ask() is None
    assert not echo.missing
    echo.heard(b"of an earlier connection")
    now[0] += BACK_WITHIN
    assert echo.missing
    echo.heard(first)
    assert not echo.missing
    assert echo.ask() not in (None, first)
    now[0] += BACK_WITHIN
    echo.settle()
    assert not echo.missing
