"""Opening one connection: a new client each time, so that nothing of an earlier one is sent late."""

from __future__ import annotations

import ssl
from typing import Any, NamedTuple

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from monitor.addresses import Broker
from monitor.errors import WireError
from monitor.wire import words

SESSION = 7 * 24 * 3600
"""Seconds for which an MQTT 5 broker is asked to keep our session and its queue when we are away: a week, longer
than any outage a bed survives unwatched (ours)."""
LARGEST = 1 << 20
"""Bytes of a packet we take (MQTT 5); a broker keeps larger ones to itself."""
BUFFER = 65_536
"""Bytes fetched from the socket at once."""
CONNECTING = 5.0
"""Seconds for a TCP and again for a TLS handshake."""
UNSENT = 1000
"""Publishes that may wait for the broker's PUBACK."""

V5, V311 = MQTTProtocolVersion.MQTTv5, MQTTProtocolVersion.MQTTv311
ASKED = {"5": V5, "3.1.1": V311}
NAMES = {V5: "MQTT 5", V311: "MQTT 3.1.1"}


class Will(NamedTuple):
    """What the broker says for us, and keeps, when we are gone without leave."""

    topic: str
    payload: bytes


class BufferedClient(Client):
    """paho asks the socket for each packet in three or four calls, most of them for one byte. Each gives up the
    interpreter to the pump's thread and has to win it back; so the bytes are fetched by the buffer instead.

    `_sock_recv` is paho's own (2.x). Should it ever read in another way, this is merely not called, which
    tests/intake/test_the_link_says_how_it_stands.py would tell.
    """

    _held = b""
    _at = 0

    @property
    def holds(self) -> bool:
        """Whether bytes are here that the socket no longer shows."""
        return self._at < len(self._held)

    def _sock_recv(self, bufsize: int) -> bytes:
        at = self._at
        if at >= len(self._held):
            self._held, at = super()._sock_recv(BUFFER), 0
        self._at = at + bufsize
        return self._held[at : self._at]


def new_client(
    broker: Broker, protocol: MQTTProtocolVersion, *, lasting: bool = True, will: Will | None = None
) -> BufferedClient:
    """A client that has not connected yet and acknowledges nothing by itself; the broker forgets one that is not `lasting`
    when it goes (MQTT 5: unless its CONNECT says otherwise). Raises WireError.
    """
    client = BufferedClient(
        CallbackAPIVersion.VERSION2,
        client_id=broker.client_id,
        clean_session=None if protocol is V5 else not lasting,
        protocol=protocol,
        reconnect_on_failure=False,
        manual_ack=True,
    )
    client.connect_timeout = CONNECTING
    client.max_queued_messages_set(UNSENT)
    # With this set, paho queues what it has to send, and whoever turns the loop writes it.
    client.on_socket_register_write = lambda *_: None
    if broker.tls:
        client.tls_set_context(_trust(broker))
    if will is not None:
        client.will_set(will.topic, will.payload, qos=1, retain=True)
    if broker.user is not None:
        client.username_pw_set(broker.user, broker.password.reveal() if broker.password else None)
    return client


def open_connection(client: Client, broker: Broker, protocol: MQTTProtocolVersion, *, keepalive: int) -> None:
    """Connect and send CONNECT; the answer comes through the callbacks. Raises WireError."""
    session: dict[str, Any] = {}
    if protocol is V5:
        session = {"clean_start": False, "properties": _wishes(broker)}
    try:
        client.connect(broker.host, broker.port, keepalive, **session)
    except (OSError, ValueError) as error:
        raise WireError(words.of_error(error, broker)) from error


def _wishes(broker: Broker) -> Properties:
    wishes = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
    wishes.SessionExpiryInterval = SESSION
    wishes.ReceiveMaximum = min(max(broker.window, 1), 65_535)
    wishes.MaximumPacketSize = LARGEST
    return wishes


def _trust(broker: Broker) -> ssl.SSLContext:
    # Read afresh at each try, so that a corrected CA file is found without a restart.
    try:
        context = ssl.create_default_context(cafile=broker.ca_file)
    except OSError as error:  # ssl.SSLError is one: a file that holds no certificate
        raise WireError(words.of_ca_file(error, broker)) from error
    context.sslsocket_class = _TidySocket
    return context


class _TidySocket(ssl.SSLSocket):
    """Closes itself when the handshake fails; paho would leave it open."""

    def do_handshake(self, block: bool = False) -> None:
        try:
            super().do_handshake(block)
        except BaseException:
            self.close()
            raise
