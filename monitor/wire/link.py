"""The wire: its thread, its queues to other threads, and when it tries again."""

from __future__ import annotations

import logging
import random
import select
import threading
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from monitor.addresses import Broker
from monitor.errors import BadValue, WireError
from monitor.intake.payloads import exact_topic
from monitor.readings import Millis
from monitor.wire import words
from monitor.wire.bell import Bell
from monitor.wire.inbox import Delivery, Inbox
from monitor.wire.making import ASKED, UNSENT, V5, V311, Will
from monitor.wire.session import Publish, Session

log = logging.getLogger(__name__)

KEEPALIVE = 60
"""Seconds; the broker gives us up after 1.5 of these (MQTT 5 §3.1.2.10)."""
TURN = 1.0
"""Seconds the thread sleeps at most."""
MARKER = 120.0
"""Seconds after which we go on without our marker (proposal)."""
BACKOFF, LONGEST_BACKOFF = 0.5, 60.0
"""Seconds from one try to the next, doubled each time up to the longest, each spread by half either way."""
STEADY, BRIEF = 30.0, 3
"""Seconds after which a connection stands, so that its loss is tried again at once; and after how many briefer
ones in a row we say that there may be two of us. Two daemons of one name throw each other out, and Mosquitto
2.0.11 does not tell them (seen)."""
LEAVING = 2.0
"""Seconds for what is still to be acknowledged when we stop."""


class Link(NamedTuple):
    """How it stands with the broker. `up` only when every subscription is answered; `since` is when `up` last
    changed; `connection` counts accepted connections; `detail` is empty or says what to do.
    """

    up: bool
    since: Millis
    connection: int
    detail: str


class Wire:
    """The only line to the broker, of the daemon or of a publisher.

    `topics` and `marker` name single topics: BadValue with a wildcard. Without a `marker` nothing tells what waited at the
    broker from what is new, which a publisher need not know. `now` stamps deliveries, `patience` gives
    real monotonic seconds for waiting, `beat` is called once a turn (at least once a second, except while a
    connection is being opened: up to 10 s and whatever the name service takes). `will` is what the broker says when
    we are gone without leave; `greeted` is called in the wire's thread whenever a connection has come up, for what is
    then to be said anew; `answered` is handed, in that thread too, the `about` of each message that the broker has
    answered, and whether it has taken it.
    """

    def __init__(
        self,
        broker: Broker,
        *,
        topics: Iterable[str],
        marker: str | None,
        now: Callable[[], Millis],
        patience: Callable[[], float],
        inbox: Inbox,
        beat: Callable[[], None],
        keepalive: int = KEEPALIVE,
        marker_patience: float = MARKER,
        will: Will | None = None,
        greeted: Callable[[], None] = lambda: None,
        answered: Callable[[object, bool], None] = lambda _about, _taken: None,
    ) -> None:
        self._broker = broker
        self._marker = None if marker is None else exact_topic(marker)
        self._topics = self._checked(topics)
        self._now = now
        self._patience = patience
        self._inbox = inbox
        self._beat = beat
        self._keepalive = keepalive
        self._marker_patience = marker_patience
        self._will = will
        self._greeted = greeted
        self._answered = answered
        self._link = Link(False, now(), 0, "Not connected yet.")

        self._acks: deque[Sequence[Delivery]] = deque()
        self._unsent: deque[Publish] = deque()
        self._to_ask = False
        self._deaf = False
        self._stopping = threading.Event()
        self._thread: threading.Thread | None = None
        self._bell = Bell()
        inbox.drained = self._bell.ring

        # What follows belongs to the thread alone.
        self._session: Session | None = None
        self._protocol = ASKED.get(broker.protocol, V5)
        self._silences = 0
        self._brief = 0
        self._up_at: float | None = None
        self._tries = 0
        self._next_try = patience()

    # For other threads

    def start(self) -> None:
        """Begin to connect; needs no broker to be there."""
        self._bell.open()
        self._thread = threading.Thread(target=self._run, name="wire", daemon=True)
        self._thread.start()

    def stop(self, timeout: float = 15.0) -> None:
        """Send what is to be acknowledged, take leave of the broker, end the thread. The session stays."""
        self._stopping.set()
        self._bell.ring()
        if self._thread is not None:
            self._thread.join(timeout)

    def link(self) -> Link:
        """How it stands."""
        return self._link

    def hears(self) -> bool:
        """Whether the broker still sends to us, for whoever does not answer it: false when what was said to
        ourselves at an earlier call has not come back. Nothing is known at the first.
        """
        self._to_ask = True
        self._bell.ring()
        return not self._deaf

    def acknowledge(self, deliveries: Sequence[Delivery]) -> None:
        """Tell the broker that these are safe with us. Those of an earlier connection are dropped: its packet
        identifiers may mean other messages by now.
        """
        if deliveries:
            self._acks.append(deliveries)
            self._bell.ring()

    def publish(
        self,
        topic: str,
        payload: bytes | str,
        *,
        retain: bool = False,
        expiry_s: int | None = None,
        qos: int = 1,
        kept_anyway: bool = False,
        about: object = None,
    ) -> bool:
        """Hand a message to the connection; false, and nothing is kept, when there is none. What the broker has
        not confirmed when a connection breaks is not sent again: say it anew if it still holds.

        `expiry_s` lets the broker forget it after so many seconds. MQTT 3.1.1 cannot do that, so there a message
        that should expire is not retained at all, unless it is `kept_anyway`.
        """
        body = payload.encode() if isinstance(payload, str) else payload
        message = Publish(exact_topic(topic), body, qos, retain, expiry_s, kept_anyway, about)
        if not self._link.up or len(self._unsent) >= UNSENT:
            return False
        self._unsent.append(message)
        self._bell.ring()
        return True

    def resubscribe(self, topics: Iterable[str]) -> None:
        """Take these topics from now on, and no others. Raises BadValue with a wildcard; then nothing changes."""
        self._topics = self._checked(topics)
        self._bell.ring()

    def _checked(self, topics: Iterable[str]) -> frozenset[str]:
        found = frozenset(exact_topic(t) for t in topics)
        if self._marker in found:
            raise BadValue(f"{self._marker} is our own marker and cannot be a probe's topic")
        return found

    # The thread

    def _run(self) -> None:
        while not self._stopping.is_set():
            self._beat()
            try:
                self._turn()
            except Exception as error:
                # One bad turn must not leave the daemon deaf: connect afresh, and everything comes again.
                log.exception("the wire stumbled")
                if self._session is not None:
                    self._session.close(f"Something unexpected in the wire ({error}): connecting afresh.")
                    self._ended(self._session)
        self._leave()

    def _turn(self) -> None:
        session = self._session
        if session is None:
            self._rest_or_connect()
            return
        self._serve(session)
        if session.why is None and session.socket is None:
            session.close(words.of_loss(self._broker))
        if session.why is not None:
            self._ended(session)
        else:
            self._standing(session)

    def _serve(self, session: Session) -> None:
        """One turn of a connection that was open when it began."""
        while self._acks:
            session.acknowledge(self._acks.popleft())
        if session.up and self._to_ask:
            self._to_ask = False
            session.say_to_ourselves()
        while session.up and self._unsent and session.has_room:
            if not session.publish(message := self._unsent.popleft()):
                log.warning("too much waits for the broker: a message to %s was dropped", message.topic)
        if session.up and session.topics is not self._topics:
            session.change_to(self._topics)
        # With a full inbox nothing is read: the broker waits, and is kept alive all the same. If that takes longer
        # than the keep-alive, paho ends the connection, and what was not acknowledged comes again.
        sock, reading = session.socket, not self._inbox.full
        holds = reading and session.holds
        readable, writable, _ = select.select(
            [self._bell, sock] if reading else [self._bell],
            [sock] if session.wants_write else [],
            [],
            0.0 if holds else TURN,
        )
        if self._bell in readable:
            self._bell.hush()
        if writable:
            session.write()
        if holds or sock in readable:
            session.read()
        session.look_at_the_time(reading=reading)

    def _standing(self, session: Session) -> None:
        self._count(session)
        if arrived := session.up and self._up_at is None:
            self._up_at = self._patience()
        self._deaf = session.echo.missing
        if self._stands():
            self._tries = self._silences = self._brief = 0
        detail = session.detail if session.up else self._link.detail
        if self._inbox.full and not session.up:
            detail = words.overfull(self._broker)  # the answer lies behind what is not read yet
        self._say(up=session.up, detail=detail)
        if arrived:
            self._greeted()

    def _stands(self) -> bool:
        return self._up_at is not None and self._patience() - self._up_at >= STEADY

    def _count(self, session: Session) -> None:
        # An accepted connection's number is never given again: acknowledgements are told apart by it.
        if session.accepted:
            self._link = self._link._replace(connection=session.number)

    def _ended(self, session: Session) -> None:
        self._session = None
        self._count(session)
        self._acks.clear()
        self._unsent.clear()
        self._deaf = False
        self._brief = self._briefer(session)
        self._up_at = None
        if self._broker.protocol == "auto":
            self._fall_back(session)
        two = words.two_of_us(self._broker) if self._brief >= BRIEF else ""
        self._say(up=False, detail=two or session.why or "")

    def _briefer(self, session: Session) -> int:
        """How many brief connections in a row, with this one. One that was accepted and lost before its
        subscriptions were answered says nothing either way: a second daemon may have thrown it out that early.
        """
        if self._up_at is None:
            return self._brief if session.accepted else 0
        return 0 if self._stands() else self._brief + 1

    def _fall_back(self, session: Session) -> None:
        self._silences = self._silences + 1 if session.silent else 0
        if session.unsupported and session.protocol is V5:
            log.info("the broker does not speak MQTT 5: going on with MQTT 3.1.1")
            self._protocol = V311
            self._next_try = self._patience()
        elif session.mute or (self._silences and self._silences % 2 == 0):
            # Some brokers without MQTT 5 hang up, or wait for the rest of what they cannot read. One that hangs
            # up may also just be starting, so it is asked twice.
            self._protocol = V311 if session.protocol is V5 else V5

    def _rest_or_connect(self) -> None:
        wait = self._next_try - self._patience()
        if self._inbox.full:
            # Whatever we have not acknowledged comes again; there is no use in fetching it before there is room.
            self._say(up=False, detail=words.overfull(self._broker))
            wait = TURN
        if wait > 0:
            select.select([self._bell], [], [], min(wait, TURN))
            self._bell.hush()
            return
        self._connect()

    def _connect(self) -> None:
        delay = min(BACKOFF * 2**self._tries, LONGEST_BACKOFF) * _spread()
        self._tries = min(self._tries + 1, 16)
        try:
            session = Session(
                self._broker,
                self._protocol,
                number=self._link.connection + 1,
                topics=self._topics,
                marker=self._marker,
                marker_patience=self._marker_patience,
                inbox=self._inbox,
                now=self._now,
                patience=self._patience,
                will=self._will,
                answered=self._answered,
            )
            session.open(self._keepalive)
            self._session = session
        except WireError as error:
            self._say(up=False, detail=str(error))
        self._next_try = self._patience() + delay

    def _leave(self) -> None:
        session = self._session
        if session is not None:
            try:
                self._take_leave(session, self._patience() + LEAVING)
            except Exception:
                log.exception("the wire could not take leave")
            session.close("")
        self._say(up=False, detail="Stopped.")
        self._bell.close()

    def _take_leave(self, session: Session, until: float) -> None:
        while self._acks:
            session.acknowledge(self._acks.popleft())
        asked = False
        while session.up and not session.finished and (sock := session.socket) is not None:
            while self._unsent and session.has_room:
                session.publish(self._unsent.popleft())
            if not asked and not self._unsent and session.all_said:
                asked = True
                session.finish()
            readable, writable, _ = select.select([sock], [sock] if session.wants_write else [], [], 0.1)
            if writable:
                session.write()
            if readable or session.holds:
                session.read()
            if self._patience() >= until:
                break
        session.leave()
        while (sock := session.socket) is not None and self._patience() < until:
            select.select([], [sock], [], 0.1)
            session.write()

    def _say(self, *, up: bool, detail: str) -> None:
        before = self._link
        if (up, detail) != (before.up, before.detail) and not self._stopping.is_set():
            log.log(logging.WARNING if detail else logging.INFO, "broker %s. %s", "up" if up else "down", detail)
        self._link = before._replace(up=up, since=before.since if up == before.up else self._now(), detail=detail)


def _spread() -> float:
    return random.uniform(0.5, 1.5)  # noqa: S311 - spreads the tries of many, keeps no secret
