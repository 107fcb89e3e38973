"""Batches: decode, keep, then acknowledge.

One thread of our own. Deliveries rest in the inbox until a commit is due: a round asks (`flush`), half the
broker's in-flight window waits, or the broker has stopped because its window is smaller than ours. At home that
is one commit a minute. A batch is acknowledged only after `keep` has returned; what cannot be kept stays in hand.

What may happen between keeping and acknowledging, and what becomes of it:

- we are killed, or the connection breaks: the broker sends it again. With its own time it meets itself in the
  store; without, `Again` knows it by the DUP flag, packet identifier and payload. Then it is only acknowledged.
- the broker restarts or forgets our session while a batch is in hand: the batch is kept all the same, because
  nothing says that it comes again. Its acknowledgements are dropped by the wire, because they belong to an
  earlier connection. What does come again is known as above, even from the batch that is still in hand.
- the broker lost power and goes on from an older save: what it had queued by then, and we have since kept, it
  takes for never sent and sends again without the flag. Nothing tells that from a new message under an identifier
  given twice, so it is kept once more: with its own time it meets itself, without it is shown as undated.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Generic, cast

from monitor.errors import StoreError
from monitor.intake.again import Again, digest
from monitor.intake.payloads import Decoder, Sample
from monitor.intake.payloads.beside import beside
from monitor.intake.payloads.numbered import Numbered, numbered
from monitor.intake.quality import Trust
from monitor.intake.shapes import D, Inbox
from monitor.intake.stamps import Stamps
from monitor.readings import Beside, Millis, Reading, Refusal, RefusalKind, Undated
from monitor.store.promises import Batch, Delivered, Kept

log = logging.getLogger(__name__)

STALL = 0.25
"""Seconds without anything new after which a broker with `SUSPECT` messages unanswered may have stopped."""
SUSPECT = 10
"""Messages from which a stop is suspected: half of 20, the window brokers commonly have (Mosquitto's default)."""
IDLE = 1.0
"""Seconds between signs of life."""
BACKOFF, LONGEST_BACKOFF = 1.0, 30.0
"""Seconds before a failed commit is tried again without being asked, doubled up to the longest."""
NEVER = 1 << 60
Moved = tuple[Millis, Millis]
"""By how much our clock was off, and the last stamp of it."""

Deed = Callable[[], object]


@dataclass(frozen=True, slots=True)
class Flushed:
    """The answer to a flush. Not ok: `in_hand` is what can be judged all the same, `error` why it is not kept, and
    `blind` whether the hand is full, so that newer readings wait at the broker unseen (a broker with a smaller window
    than ours stops before; the wire finds that out).
    """

    ok: bool
    in_hand: tuple[Reading, ...] = ()
    error: str | None = None
    blind: bool = False


@dataclass(slots=True)
class Counts:
    """What happened since the start, in deliveries, readings and commits."""

    deliveries: int = 0
    new: int = 0
    same: int = 0
    other: int = 0
    """Readings refused because another value stands at the same probe and time."""
    undated: int = 0
    refused: int = 0
    again: int = 0
    """Deliveries that were known already and only acknowledged."""
    commits: int = 0
    stalls: int = 0
    """Commits because the broker had stopped."""
    failures: int = 0


@dataclass(slots=True)
class _Hand(Generic[D]):
    """The batch in the making, and the deliveries to acknowledge when it is kept."""

    deliveries: list[D] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    undated: list[Undated] = field(default_factory=list)
    refusals: list[Refusal] = field(default_factory=list)
    delivered: list[Delivered] = field(default_factory=list)
    beside: list[Beside] = field(default_factory=list)
    numbered: list[tuple[str, Numbered]] = field(default_factory=list)
    """What our own publisher says of its readings' numbers, with the topic."""
    deeds: list[Deed] = field(default_factory=list)
    """What messages that are no readings ask for; each is done once, before the batch is kept."""

    def do(self) -> None:
        """What is left of the deeds. One that raises stays, and everything with it."""
        while self.deeds:
            self.deeds[0]()
            del self.deeds[0]

    def batch(self) -> Batch:
        return Batch(self.readings, self.undated, self.refusals, self.delivered, self.beside)

    @property
    def holds(self) -> bool:
        return bool(self.readings or self.undated or self.refusals or self.delivered or self.deeds or self.beside)


@dataclass(slots=True)
class _Errand:
    work: Callable[[], tuple[Moved, Trust] | None]
    done: threading.Event = field(default_factory=threading.Event)
    error: Exception | None = None


def reach_of(window: int) -> int:
    """How many of the newest deliveries without a time are to be known: as many as can be on their way between `keep`
    and the broker's book, and again as many for brokers that send more than their window after a reconnect.
    """
    return 2 * _most(window)


def _most(window: int) -> int:
    return max(window, 2 * SUSPECT)


class Pump(Generic[D]):
    """Moves deliveries from the inbox into the store, and tells the broker.

    `keep` makes a batch durable or raises; `acknowledge` may drop what it cannot send; `delivered` is what the
    store knows of earlier deliveries without a time; `window` is how many unanswered messages the broker may have
    in flight, and the most that are held in hand; `patience` gives real monotonic seconds; `beat` is called once
    a second at least, except while `keep` is at work; `unsure` says whether our clock cannot be right. `asides` are
    the topics of messages that are no readings: what each asks for is done, durably, before it is acknowledged. `confirm` is
    told, in our thread, which numbered readings are durable now.
    """

    def __init__(
        self,
        *,
        inbox: Inbox[D],
        decoder: Decoder,
        trust: Trust,
        keep: Callable[[Batch], Kept],
        acknowledge: Callable[[Sequence[D]], None],
        delivered: Sequence[Delivered],
        patience: Callable[[], float],
        window: int,
        beat: Callable[[], None],
        unsure: Callable[[], bool] = lambda: False,
        asides: Mapping[str, Callable[[D], Refusal | Deed]] | None = None,
        confirm: Callable[[Sequence[tuple[str, Numbered]]], None] = lambda _told: None,
    ) -> None:
        self._asides = asides or {}
        self._confirm_numbered = confirm
        self._inbox = inbox
        self._decoder = decoder
        self._trust = trust
        self._keep = keep
        self._acknowledge = acknowledge
        self._patience = patience
        self._beat = beat
        self._unsure = unsure
        self._most = _most(window)
        self._again = Again(delivered, reach=reach_of(window))
        self._stamps = Stamps()
        self._hand: _Hand[D] = _Hand()
        self._told: dict[str, Beside] = {}
        self._counts = Counts()
        self._error: str | None = None
        self._backoff = BACKOFF
        self._try_at = patience()

        self._connection = 0
        self._unsettled = True
        self._commit_at = self._most // 2
        self._heard = 0, patience()
        self._suspected: tuple[int, int, float] | None = None

        self._done = threading.Condition()
        self._taken = 0
        self._durable = 0
        self._asked = 0
        self._answered = 0
        self._stopping = False
        self._errand: _Errand | None = None
        self._old_stamps: tuple[int, Moved] = 0, (0, 0)
        self._thread: threading.Thread | None = None

    # For other threads

    def start(self) -> None:
        """Begin."""
        self._thread = threading.Thread(target=self._run, name="pump", daemon=True)
        self._thread.start()

    def stop(self, timeout: float = 15.0) -> None:
        """Keep and acknowledge what is there, as far as the store lets us, and end the thread."""
        self._stopping = True
        self._inbox.nudge()
        if self._thread is not None:
            self._thread.join(timeout)

    def flush(self, timeout: float) -> Flushed:
        """Make everything durable that was received before this call; waits `timeout` seconds at most."""
        with self._done:
            goal = self._inbox.received
            self._asked += 1
            mine = self._asked
        self._inbox.nudge()
        with self._done:
            self._done.wait_for(lambda: self._durable >= goal or self._answered >= mine, timeout)
            if self._durable >= goal:
                return Flushed(ok=True)
            error = self._error or f"the store has not answered for {timeout:g} s"
            hand = self._hand
            return Flushed(False, tuple(hand.readings), error, len(hand.deliveries) >= self._most)

    def between(self, work: Callable[[], tuple[Moved, Trust] | None], timeout: float) -> None:
        """Run `work` in our own thread, with everything kept that was received before and nothing in hand. If it moves
        times it says by how much, and what is known of the probes then; what still lies in the inbox is moved as well.

        Raises what it raises, or StoreError when the store does not take what is in hand or `timeout` seconds are
        over: then the work may still be done later.
        """
        self._errand = errand = _Errand(work)
        self._inbox.nudge()
        if not errand.done.wait(timeout):
            raise StoreError(f"the pump has not come to it for {timeout:g} s")
        if errand.error is not None:
            raise errand.error

    @property
    def trust(self) -> Trust:
        """What is known of the probes: for work `between`, nobody else looks at it."""
        return self._trust

    def use(self, decoder: Decoder, asides: Mapping[str, Callable[[D], Refusal | Deed]] | None = None) -> None:
        """Read what comes from now on by other settings."""
        self._decoder, self._asides = decoder, asides or {}

    def counts(self) -> Counts:
        """What happened since the start."""
        return replace(self._counts)

    # The thread

    def _run(self) -> None:
        finished = False
        while not finished:
            self._beat()
            try:
                finished = self._turn()
            except Exception:
                # Nothing is lost by it: what was not kept is not acknowledged.
                log.exception("the pump stumbled")
                self._inbox.wait(NEVER, IDLE)

    def _turn(self) -> bool:
        """One look at what is to do; true when the thread is to end."""
        if self._errand is not None:
            self._run_errand(self._errand)
        asked, last = self._asked, self._stopping
        if last or asked > self._answered:
            goal = self._inbox.received
            while self._durable < goal and self._commit():
                pass
            with self._done:
                self._answered = asked
                self._done.notify_all()
            return last
        if self._error is not None:
            wait = self._try_at - self._patience()
            if wait <= 0:
                self._commit()
            else:
                self._inbox.wait(NEVER, min(wait, IDLE))
        elif len(self._inbox) >= self._commit_at:
            self._commit()
        elif self._stalled():
            self._answer_and_see()
        else:
            suspect = len(self._inbox) >= SUSPECT
            self._inbox.wait(
                self._commit_at if suspect else min(SUSPECT, self._commit_at), STALL if suspect else IDLE
            )
        return False

    def _run_errand(self, errand: _Errand) -> None:
        self._errand = None
        try:
            goal = self._inbox.received
            while self._durable < goal and self._commit():
                pass
            if self._hand.holds:
                raise StoreError(self._error or "the store does not answer")
            done = errand.work()
            if done is not None:
                self._old_stamps = self._inbox.received, done[0]
                self._trust = done[1]
        except Exception as error:
            errand.error = error
        errand.done.set()

    def _stalled(self) -> bool:
        """Whether the broker seems to have stopped because it waits for us."""
        received, now = self._inbox.received, self._patience()
        if received != self._heard[0]:
            self._heard = received, now
            self._confirm(received, now)
            return False
        return len(self._inbox) >= SUSPECT and now - self._heard[1] >= STALL

    def _answer_and_see(self) -> None:
        waited = len(self._inbox)
        self._counts.stalls += 1
        if self._commit():
            self._suspected = waited, self._durable, self._patience()

    def _confirm(self, received: int, now: float) -> None:
        # A broker that had stopped goes on at once when it is answered. Otherwise it had no more to send, and
        # its window is still unknown: probes that speak together are no reason to commit more often.
        if self._suspected is None:
            return
        waited, then, at = self._suspected
        if now - at > 2 * STALL:
            self._suspected = None
        elif received - then >= max(waited // 2, SUSPECT // 2):
            self._suspected = None
            self._commit_at = min(self._commit_at, waited // 2)

    def _commit(self) -> bool:
        """Keep and acknowledge what is in hand and in the inbox; false when it could not be kept."""
        self._fill()
        hand, counts = self._hand, self._counts
        try:
            hand.do()
            kept = self._keep(hand.batch()) if hand.holds else Kept(0, 0, 0, 0)
        except Exception as error:  # whatever it is: it is not kept, so it is not acknowledged
            self._failed(error)
            return False
        self._acknowledge(hand.deliveries)
        self._hand = _Hand()
        self._durable = self._taken
        if hand.numbered:
            self._confirm_numbered(hand.numbered)
        if self._error is not None:
            log.warning("the store keeps readings again")
        self._error, self._backoff = None, BACKOFF
        counts.commits += hand.holds
        counts.new += kept.new
        counts.same += kept.same
        counts.other += kept.other
        counts.undated += len(hand.undated)
        counts.refused += len(hand.refusals)
        return True

    def _failed(self, error: Exception) -> None:
        said = str(error) or type(error).__name__
        if said != self._error:
            log.error("readings cannot be kept, nothing is acknowledged: %s", said)
        self._error = said
        self._counts.failures += 1
        self._try_at = self._patience() + self._backoff
        self._backoff = min(2 * self._backoff, LONGEST_BACKOFF)

    # From deliveries to a batch

    def _fill(self) -> None:
        hand = self._hand
        taken = self._inbox.take(max(self._most - len(hand.deliveries), 0))
        if self._taken < self._old_stamps[0]:
            taken = [self._stamped_anew(d, n) for n, d in enumerate(taken, self._taken + 1)]
        for delivery in taken:
            try:
                self._open(delivery, hand)
            except Exception as error:
                # A fault of ours must not hold up everything behind it; it is shown like a bad payload.
                log.exception("could not open a message on %s", delivery.topic)
                hand.refusals.append(_fault(delivery, error))
            hand.deliveries.append(delivery)
        self._taken += len(taken)
        self._counts.deliveries += len(taken)

    def _stamped_anew(self, delivery: D, number: int) -> D:
        """What was stamped just before a clock was put right and lay in the inbox meanwhile: it stands nearer to the
        last stamp of the old time than to the first of the new.
        """
        upto, (by, end) = self._old_stamps
        at = delivery.received_at
        if number > upto or abs(at - end) >= abs(at - end - by):
            return delivery
        return cast(D, delivery._replace(received_at=at + by))  # type: ignore[attr-defined]

    def _open(self, delivery: D, hand: _Hand[D]) -> None:
        if delivery.connection != self._connection:
            self._connected(delivery.connection)
        backlog = delivery.backlog
        if self._unsettled and not backlog:
            self._unsettled = False
            self._again.settled()
        aside = self._asides.get(delivery.topic)
        told = numbered(delivery.payload) if aside is None else None
        if told is not None and told.probe in self._decoder.names(delivery.topic):
            hand.numbered.append((delivery.topic, told))
        samples, refusals = (
            self._decoder.decode(delivery.topic, delivery.payload, delivery.received_at)
            if aside is None
            else ((), ())
        )
        if delivery.qos and self._is_again(delivery, samples, hand):
            self._counts.again += 1
            return
        if aside is not None:
            found = aside(delivery)
            (hand.refusals if isinstance(found, Refusal) else hand.deeds).append(found)  # type: ignore[arg-type]
        for sample in samples:
            self._place(delivery, sample, hand)
        hand.refusals.extend(refusals)
        if samples:
            self._beside(delivery, hand)

    def _beside(self, delivery: D, hand: _Hand[D]) -> None:
        """Battery and signal, where they are told and are others than before: a write less for each message."""
        told = beside(delivery.topic, delivery.payload, delivery.received_at)
        if told is not None and told != self._told.get(delivery.topic):
            self._told[delivery.topic] = told
            hand.beside.append(told)

    def _connected(self, connection: int) -> None:
        self._connection = connection
        self._unsettled = True
        self._again.connected()
        self._commit_at = self._most // 2
        self._suspected = None

    def _is_again(self, delivery: D, samples: tuple[Sample, ...], hand: _Hand[D]) -> bool:
        """Whether it was kept before; and remember it for the next time, unless its own time does that."""
        packet = delivery.packet
        for sample in samples:
            if sample.at is None:
                break
        else:
            if samples:
                self._again.forget(packet)
                return False
        mark = digest(delivery.topic, delivery.payload)
        if delivery.backlog and self._again.is_this(packet, mark, dup=delivery.dup):
            return True
        self._again.note(packet, mark)
        hand.delivered.append(Delivered(packet, mark))
        return False

    def _place(self, delivery: D, sample: Sample, hand: _Hand[D]) -> None:
        name, value, at, shift = sample
        received_at, retained = delivery.received_at, False
        own_time = at is not None
        if at is None:
            retained = delivery.retained
            if delivery.backlog and not retained:
                hand.undated.append(Undated(name, value, received_at))
                return
            at = self._stamps.next(name, received_at, shift)
        probe = self._decoder.probes[name]
        quality = self._trust.judge(
            probe, value, at=at, received_at=received_at, retained=retained, unsure=own_time and self._unsure()
        )
        hand.readings.append(Reading(name, at, value, received_at, quality, own_time))


def _fault(delivery: D, error: Exception) -> Refusal:
    reason = f"{type(error).__name__}: nothing is wrong with your probe. Please report this, with the message."
    return Refusal(delivery.topic, None, RefusalKind.FAULT, reason, delivery.payload[:200], delivery.received_at)
