"""One connection from its opening to its end: subscriptions, the marker, and what paho calls back.

Belongs to the wire's thread alone.
"""

from __future__ import annotations

import secrets
import ssl
from collections.abc import Callable, Iterable, Sequence
from typing import Any, NamedTuple

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.enums import MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

from monitor.addresses import Broker
from monitor.readings import Millis
from monitor.wire import words
from monitor.wire.echo import Echo
from monitor.wire.inbox import Delivery, Inbox
from monitor.wire.making import NAMES, SESSION, V5, Will, new_client, open_connection

CHUNK = 100
"""Topics in one SUBSCRIBE."""
BURST = 64
"""Messages read before acknowledgements get their turn."""
GREETING, ANSWERING = 10.0, 30.0
"""Seconds the broker has for CONNACK, and for SUBACK."""
AT_ONCE = 500
"""Publishes of others that are handed to paho and not confirmed yet, at most; it takes twice as many."""


class Publish(NamedTuple):
    """A message on its way out. `expiry_s`: seconds after which the broker may forget it. `kept_anyway`: retained also where
    the broker forgets nothing by itself (MQTT 3.1.1).
    """

    topic: str
    payload: bytes
    qos: int
    retain: bool
    expiry_s: int | None
    kept_anyway: bool = False
    about: object = None
    """What is handed back when the broker has answered."""


class Session:
    """One connection. `up` once every subscription is answered; over when `why` is not None."""

    def __init__(
        self,
        broker: Broker,
        protocol: MQTTProtocolVersion,
        *,
        number: int,
        topics: frozenset[str],
        marker: str | None,
        marker_patience: float,
        inbox: Inbox,
        now: Callable[[], Millis],
        patience: Callable[[], float],
        will: Will | None = None,
        answered: Callable[[object, bool], None] = lambda _about, _taken: None,
    ) -> None:
        self.protocol = protocol
        self.number = number
        self.topics = topics
        self.accepted = False
        self.up = False
        self.why: str | None = None
        """Why it is over, in words; None while it is not."""
        self.unsupported = False
        self.silent = False
        """The broker hung up before it accepted or refused us."""
        self.finished = False
        self.mute = False
        """The broker neither accepted nor refused us in time."""
        self.echo = Echo(patience)
        self._broker = broker
        self._marker = marker
        self._marker_patience = marker_patience
        self._inbox = inbox
        self._now = now
        self._patience = patience
        self._deadline: tuple[float, str] | None = None
        self._awaited: dict[int, list[str]] = {}
        self._strays: set[str] = set()
        self._remarks: dict[str, str] = {}
        self._refusal: str | None = None
        self._backlog = False
        self._nonce = b""
        self._marker_packet = 0
        self._goodbye: int | None = None
        self._marker_until: float | None = None
        self._seen = 0
        self._unconfirmed: dict[int, Publish] = {}
        self._answered = answered
        self._client = client = new_client(broker, protocol, will=will)
        client.on_connect = self._on_connect
        client.on_disconnect = self._on_disconnect
        client.on_subscribe = self._on_subscribe
        client.on_unsubscribe = self._on_unsubscribe
        client.on_publish = self._on_publish
        client.on_message = self._on_message

    # What the wire's loop does with it

    def open(self, keepalive: int) -> None:
        """Connect. Raises WireError."""
        open_connection(self._client, self._broker, self.protocol, keepalive=keepalive)
        self._deadline = self._patience() + GREETING, "greeting (CONNECT)"

    @property
    def socket(self) -> Any:
        """To wait on; None when it is closed."""
        return self._client.socket()

    @property
    def holds(self) -> bool:
        """Whether there are bytes to read that the socket does not show."""
        sock = self._client.socket()
        return self._client.holds or (isinstance(sock, ssl.SSLSocket) and sock.pending() > 0)

    @property
    def wants_write(self) -> bool:
        """Whether something is to be written."""
        return self._client.want_write()

    @property
    def detail(self) -> str:
        """What is not as it should be although the connection stands."""
        return " ".join(self._remarks.values())

    def write(self) -> None:
        """Write what waits, as far as the socket takes it."""
        self._client.loop_write()

    def read(self) -> None:
        """Read a burst of packets, no more than the inbox holds."""
        for _ in range(BURST):
            before = self._seen
            # A turn that brings no message was the last of what is there, or a packet of another kind.
            if self._client.loop_read() or self._seen == before or self._inbox.full:
                return

    def look_at_the_time(self, *, reading: bool) -> None:
        """Keep alive, and run out of patience; not with answers that we do not read ourselves."""
        self._client.loop_misc()
        now = self._patience()
        if not reading:
            if self._deadline is not None:
                self._deadline = now + ANSWERING, self._deadline[1]
            if self._marker_until is not None:
                self._marker_until = now + self._marker_patience
            return
        if self._deadline is not None and now >= self._deadline[0]:
            self.mute = not self.accepted
            self.close(words.of_patience(self._broker, self._deadline[1]))
        if self._marker_until is not None and now >= self._marker_until:
            self._marker_until = None
            self._backlog = False
            self._remarks.setdefault("marker", words.marker_missing(self._marker or ""))

    def acknowledge(self, deliveries: Sequence[Delivery]) -> None:
        """Queue the PUBACKs of this connection's deliveries; leave out all others."""
        ack, number = self._client.ack, self.number
        self.echo.settle()
        for delivery in deliveries:
            if delivery.connection == number and delivery.qos:
                ack(delivery.packet, delivery.qos)

    def publish(self, message: Publish) -> bool:
        """Queue a message; false when too many wait for the broker already."""
        properties, retain = None, message.retain
        if message.expiry_s is not None:
            retain = retain and (self.protocol is V5 or message.kept_anyway)
            if self.protocol is V5:
                properties = Properties(PacketTypes.PUBLISH)  # type: ignore[no-untyped-call]
                properties.MessageExpiryInterval = message.expiry_s
        sent = self._client.publish(message.topic, message.payload, message.qos, retain, properties)
        if sent.rc == MQTTErrorCode.MQTT_ERR_QUEUE_SIZE:
            return False
        if message.qos:
            self._unconfirmed[sent.mid] = message
        return True

    @property
    def has_room(self) -> bool:
        """Whether more may be published now."""
        return len(self._unconfirmed) < AT_ONCE

    @property
    def all_said(self) -> bool:
        """Whether the broker has taken, or refused, everything that was published."""
        return not self._unconfirmed

    def say_to_ourselves(self) -> None:
        """Find out whether the broker still sends, unless it does not let our marker through anyway."""
        if self._marker is None:
            return
        if "marker" not in self._remarks and (said := self.echo.ask()) is not None:
            self._client.publish(self._marker, said, 1)

    def change_to(self, topics: frozenset[str]) -> None:
        """Subscribe to what is new and unsubscribe from what is gone."""
        gone, new = sorted(self.topics - topics), sorted(topics - self.topics)
        self.topics = topics
        self._strays.clear()
        for start in range(0, len(gone), CHUNK):
            self._client.unsubscribe(gone[start : start + CHUNK])
        self._subscribe(new)

    def finish(self) -> None:
        """Ask the broker something harmless. Its answer (`finished`) proves that it has taken every
        acknowledgement before; without it, closing a connection with bytes unread may throw them away.
        """
        _, self._goodbye = self._client.unsubscribe(self._marker or "nothing")

    def leave(self) -> None:
        """Take leave; the session stays with the broker."""
        self._client.on_disconnect = None
        self._client.disconnect()

    def close(self, why: str) -> None:
        """End it at once."""
        self._client.on_disconnect = None
        sock = self._client.socket()
        if sock is not None:
            sock.close()
        self._over(why)

    def _over(self, why: str) -> None:
        self.why, self.up = why, False

    # What paho calls

    def _on_connect(
        self,
        _client: Client,
        _data: object,
        flags: ConnectFlags,
        reason: ReasonCode,
        properties: Properties | None,
    ) -> None:
        if reason.is_failure:
            self._refusal = words.of_reason(reason, self._broker, NAMES[self.protocol])
            self.unsupported = reason.value == words.UNSUPPORTED
            return
        self.accepted = True
        self._backlog = flags.session_present
        granted = getattr(properties, "SessionExpiryInterval", SESSION)
        if granted < SESSION:
            self._remarks["session"] = words.short_session(granted)
        wanted = sorted(self.topics) if self._marker is None else [self._marker, *sorted(self.topics)]
        self._subscribe(wanted)
        if not wanted:
            self._deadline = None
            self._arrived()

    def _subscribe(self, topics: Iterable[str]) -> None:
        # A retained message comes once, when the subscription is new, and not again at every reconnect (MQTT 5).
        how: Any = SubscribeOptions(qos=1, retainHandling=1) if self.protocol is V5 else 1
        topics = list(topics)
        for start in range(0, len(topics), CHUNK):
            chunk = topics[start : start + CHUNK]
            _, packet = self._client.subscribe([(t, how) for t in chunk])
            if packet is not None:
                self._awaited[packet] = chunk
        if self._awaited:
            self._deadline = self._patience() + ANSWERING, "subscription (SUBSCRIBE)"

    def _on_subscribe(
        self,
        _client: Client,
        _data: object,
        packet: int,
        reasons: list[ReasonCode],
        _properties: Properties | None,
    ) -> None:
        answers = list(zip(self._awaited.pop(packet, []), reasons, strict=False))
        if refused := [t for t, r in answers if r.is_failure]:
            self._remarks["refused"] = words.refused_topics(refused)
        if unsure := [t for t, r in answers if r.value == 0]:
            self._remarks["unsure"] = words.without_acknowledgement(unsure)
        if not self._awaited:
            self._deadline = None
            if not self.up:
                self._arrived()

    def _on_unsubscribe(
        self, _client: Client, _data: object, packet: int, _reasons: object, _properties: Properties | None
    ) -> None:
        self.finished = packet == self._goodbye

    def _arrived(self) -> None:
        """Everything is subscribed: send the marker behind whatever waited for us."""
        self.up = True
        if self._marker is None:
            self._backlog = False
            return
        self._nonce = secrets.token_hex(16).encode()
        self._marker_packet = self._client.publish(self._marker, self._nonce, 1).mid
        self._marker_until = self._patience() + self._marker_patience

    def _on_publish(
        self, _client: Client, _data: object, packet: int, reason: ReasonCode, _properties: Properties | None
    ) -> None:
        message = self._unconfirmed.pop(packet, None)
        if self._marker is not None and packet == self._marker_packet and reason.is_failure:
            self._remarks["marker"] = words.marker_refused(self._marker)
        elif message is not None:
            if reason.is_failure:
                said = words.may_not_say if message.about is None else words.may_not_send
                self._remarks.setdefault("outward", said(message.topic))
            if message.about is not None:
                self._answered(message.about, not reason.is_failure)

    def _on_message(self, client: Client, _data: object, message: MQTTMessage) -> None:
        self._seen += 1
        try:
            topic = message.topic
        except UnicodeDecodeError:
            topic = "�"
        if topic not in self.topics and self._not_asked_for(client, topic, message):
            return
        self._inbox.put(
            Delivery(
                self.number,
                message.mid,
                message.qos,
                message.dup,
                message.retain,
                topic,
                bytes(message.payload),
                self._now(),
                self._backlog,
            )
        )

    def _not_asked_for(self, client: Client, topic: str, message: MQTTMessage) -> bool:
        """Our marker, which ends here; or what earlier settings left in our session: given up, and passed on to
        be refused where payloads are read.
        """
        if topic == self._marker:
            client.ack(message.mid, message.qos)
            self.echo.heard(message.payload)
            if message.payload == self._nonce:  # any other is from an earlier connection
                self._backlog = False
                self._marker_until = None
                self._remarks.pop("marker", None)
            return True
        if topic not in self._strays:
            self._strays.add(topic)
            client.unsubscribe(topic)
        return False

    def _on_disconnect(
        self,
        _client: Client,
        _data: object,
        flags: DisconnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        if self._refusal is not None:
            self._over(self._refusal)
        elif flags.is_disconnect_packet_from_server:
            self._over(words.of_reason(reason, self._broker, NAMES[self.protocol]))
        elif self.accepted:
            self._over(words.of_loss(self._broker))
        else:
            self.silent = True
            self._over(words.of_silence(self._broker))
