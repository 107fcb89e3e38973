"""Listening for a while to what is published, beside the daemon: a session of its own that the broker forgets at once,
nothing kept, nothing acknowledged for anybody else (QoS 0).
"""

from __future__ import annotations

import secrets
import select
import ssl
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from paho.mqtt.client import Client
from paho.mqtt.enums import MQTTProtocolVersion

from monitor.addresses import Broker
from monitor.errors import WireError
from monitor.wire import words
from monitor.wire.making import ASKED, NAMES, V5, V311, BufferedClient, new_client

TURN = 0.2
"""Seconds between two looks at the time."""
GREETING = 10.0
"""Seconds the broker has to let us in and take the subscription."""
KEEPALIVE = 30

Heard = Callable[[str, bytes, bool], None]
"""Called with topic, payload and whether the broker had kept it."""


def listen(
    broker: Broker,
    topics: str,
    *,
    seconds: float,
    heard: Heard,
    patience: Callable[[], float],
) -> None:
    """Hear everything that matches the filter `topics` for so long. Raises WireError when the broker
    cannot be reached, refuses us or the filter, or goes away.
    """
    own = replace(broker, client_id=f"vermistat-{secrets.token_hex(5)}")
    wanted = ASKED.get(broker.protocol)
    try:
        _listen(own, wanted or V5, topics, seconds=seconds, heard=heard, patience=patience)
    except _Unsupported:
        if wanted is not None:
            raise
        _listen(own, V311, topics, seconds=seconds, heard=heard, patience=patience)


class _Unsupported(WireError):
    """The broker does not speak this version."""


class _State:
    """What the callbacks found."""

    why: str | None = None
    unsupported = False
    subscribed = False


def _listen(
    broker: Broker,
    protocol: MQTTProtocolVersion,
    topics: str,
    *,
    seconds: float,
    heard: Heard,
    patience: Callable[[], float],
) -> None:
    client, state = new_client(broker, protocol, lasting=False), _State()
    _hear(client, state, (broker, NAMES[protocol]), topics=topics, heard=heard)
    try:
        session: dict[str, Any] = {"clean_start": True} if protocol is V5 else {}
        client.connect(broker.host, broker.port, KEEPALIVE, **session)
    except (OSError, ValueError) as error:
        raise WireError(words.of_error(error, broker)) from error
    until, late = patience() + seconds, patience() + GREETING
    try:
        while patience() < until:
            _turn(client)
            if state.why is not None:
                raise (_Unsupported if state.unsupported else WireError)(state.why)
            if client.socket() is None:
                raise WireError(words.of_silence(broker))
            if not state.subscribed and patience() > late:
                raise WireError(words.of_error(TimeoutError(), broker))
    finally:
        client.disconnect()
        client.loop_write()


def _turn(client: BufferedClient) -> None:
    sock = client.socket()
    if sock is not None:
        waits = client.holds or (isinstance(sock, ssl.SSLSocket) and sock.pending() > 0)
        if waits or select.select([sock], [], [], TURN)[0]:
            client.loop_read()
        if client.want_write():
            client.loop_write()
        client.loop_misc()


def _hear(client: Client, state: _State, who: tuple[Broker, str], *, topics: str, heard: Heard) -> None:
    broker, version = who

    def connected(_client: Client, _data: Any, _flags: Any, reason: Any, _properties: Any) -> None:
        if reason.is_failure:
            state.why = words.of_reason(reason, broker, version)
            state.unsupported = reason.value == words.UNSUPPORTED
            return
        try:
            client.subscribe(topics, qos=0)
        except ValueError:
            state.why = f"{topics} filters no topics: + stands for one level, # for all that is left, each alone."

    def subscribed(_client: Client, _data: Any, _packet: int, reasons: Any, _properties: Any) -> None:
        state.subscribed = True
        if any(reason.is_failure for reason in reasons):
            state.why = f"The broker does not let us listen to {topics} ({reasons[0]}): look into its access list."

    def message(_client: Client, _data: Any, msg: Any) -> None:
        heard(msg.topic, bytes(msg.payload), bool(msg.retain))

    client.on_connect, client.on_subscribe, client.on_message = connected, subscribed, message
