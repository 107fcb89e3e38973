"""The loop: read what is due, hand on what waits, take marks, write what has waited long."""

from __future__ import annotations

import json
import logging
import os
import secrets
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from monitor import systemd
from monitor.beats import Beats
from monitor.clock import Clock, Patience, WallClock, kernel_synchronised, set_by_hardware
from monitor.intake.payloads.numbered import mark_of, pack
from monitor.publisher.faults import Fault, Faulty
from monitor.publisher.held import UNANSWERED, Held, Pack
from monitor.publisher.journal import SPARE, Entry, Journal
from monitor.publisher.sampling import Sampling
from monitor.publisher.sources import Source, source_of
from monitor.publisher.wired import Publishing, Sends, Wired
from monitor.readings import Millis
from monitor.wire import Inbox, Will, Wire

log = logging.getLogger(__name__)

IN_FLIGHT = 20
"""Messages that the broker has not confirmed yet, at most (Mosquitto's own window; ours)."""
STATUS = 15 * 60.0
"""Seconds after which we say how we are although nothing is new."""
TURN = 1.0
"""Seconds the loop sleeps at most."""
LEAVES_WITHIN = 3.0
"""Seconds for the last words when we stop."""
WONDERS = 30 * 60.0
"""Seconds without any mark on a connection that stands after which we say so."""
LOOKS = 5.0
"""Seconds from one look at what might have to be written to the next."""
BOUND = 90.0
"""Real seconds within which the wire must have given a sign of life, or the watchdog is not fed."""
DIGITS = 4
"""Decimals of a value: finer than any sensor, and sent again it is the same to the last digit."""


def clock_known() -> bool:
    """Whether this machine knows the time: it is set over the network, or a hardware clock had kept it."""
    return kernel_synchronised() or set_by_hardware()


@dataclass(slots=True)
class _Probe:
    """One probe at work."""

    wired: Wired
    source: Source
    sampling: Sampling
    next_read: float
    next_value: float
    read: int = 0
    """Readings tried since the last value."""


@dataclass(slots=True)
class _Box:
    """What the wire's thread leaves for the loop."""

    lock: threading.Lock = field(default_factory=threading.Lock)
    answered: list[tuple[Pack, bool]] = field(default_factory=list)
    greeted: bool = False

    def answer(self, about: object, taken: bool) -> None:
        if isinstance(about, Pack):
            with self.lock:
                self.answered.append((about, taken))

    def greet(self) -> None:
        with self.lock:
            self.greeted = True

    def empty(self) -> tuple[list[tuple[Pack, bool]], bool]:
        with self.lock:
            found = self.answered, self.greeted
            self.answered, self.greeted = [], False
        return found


class Publisher:
    """Everything of it. `turn` is one look at what is to do; `run` turns until it is told to stop. By a clock that runs faster
    than the wall everything but the line to the broker does.
    """

    def __init__(
        self,
        settings: Publishing,
        *,
        clock: Clock | None = None,
        patience: Patience | None = None,
        root: Path = Path("/sys"),
        sources: Mapping[str, Source] | None = None,
        keepalive: int = 60,
        known: Callable[[], bool] = clock_known,
    ) -> None:
        self._settings = settings
        self._clock = clock or WallClock()
        real = patience or Patience()
        self._speed = self._clock.speed
        self._patience = real
        self._known, self._asks = False, known
        self._box = _Box()
        self.held = Held(secrets.token_hex(8), at_most=settings.buffer.at_most)
        self._journal = Journal(settings.buffer.file) if settings.buffer.file is not None else None
        now = self._now()
        self._probes = {
            name: _Probe(
                wired,
                (sources or {}).get(name) or source_of(wired, root=root),
                Sampling(switch=wired.sends is Sends.SWITCH),
                now,
                now + _first(wired),
            )
            for name, wired in settings.probes.items()
        }
        self._inbox = Inbox(200)
        self._outstanding: dict[tuple[str, int], float] = {}
        self._status_due, self._said = now, ""
        self._up_since, self._warned = now, False
        self._write_due = now
        beats = self._beats = Beats(real.now, {"wire": BOUND})
        self.wire = Wire(
            settings.broker,
            topics=[settings.mark(name) for name in settings.probes],
            marker=None,
            now=self._clock.now,
            patience=real.now,
            inbox=self._inbox,
            beat=lambda: beats.stamp("wire"),
            keepalive=keepalive,
            will=Will(settings.status, b'{"alive":false}'),
            greeted=self._greeted,
            answered=self._answered,
        )
        self._load()

    def _now(self) -> float:
        """Seconds by which everything here is timed; they never jump."""
        return self._patience.now() * self._speed

    def _load(self) -> None:
        """What an earlier life left behind, numbered anew. What is of no probe of ours any more is said."""
        if self._journal is None:
            return
        entries, strange = self._journal.load(), 0
        for probe, at, value in entries:
            if probe in self._probes:
                self.held.add(probe, at, value, now=self._now(), written=True)
            else:
                strange += 1
        if strange:
            log.warning("%d readings of probes that are no longer in the settings are dropped", strange)
        if entries:
            log.info("%d readings that nobody confirmed are sent again", len(self.held))

    def _greeted(self) -> None:
        self._box.greet()
        self._inbox.nudge()

    def _answered(self, about: object, taken: bool) -> None:
        self._box.answer(about, taken)
        self._inbox.nudge()

    # The loop

    def start(self) -> None:
        """Connect, in a thread of the wire's own."""
        self.wire.start()

    def run(self, stop: threading.Event) -> None:
        """Turn until `stop` is set; then say good-bye and write down what is left."""
        self.start()
        systemd.tell("READY=1")
        log.info("reading %d probes", len(self._probes))
        try:
            while not stop.is_set():
                self.turn()
                self._feed()
                self._inbox.wait(1, self._sleep(stop))
        finally:
            systemd.tell("STOPPING=1")
            self.close()

    def _feed(self) -> None:
        """The watchdog, when the wire's thread lives too; also between two sensors, of which each may take its seconds."""
        if not self._beats.late():
            systemd.tell("WATCHDOG=1")

    def _sleep(self, stop: threading.Event) -> float:
        due = min((p.next_read for p in self._probes.values()), default=0.0)
        return 0.0 if stop.is_set() else min(max(due - self._now(), 0.0) / self._speed, TURN)

    def turn(self) -> None:
        """Everything that is to do now."""
        for probe in self._probes.values():
            self._look(probe)
        self._hear()
        self._send()
        self._wonder()
        self._write()
        self._tell()

    def close(self) -> None:
        """The last words, and what is unconfirmed into the file."""
        self._hear()
        self._write(all_of_it=True)
        self._publish_status(alive=False)
        self.wire.stop(LEAVES_WITHIN)

    # Reading

    def _look(self, probe: _Probe) -> None:
        now = self._now()
        if now >= probe.next_read:
            self._read(probe)
            self._feed()
            probe.read += 1
            probe.next_read = now + probe.wired.every / 1000 / probe.wired.samples
        if now >= probe.next_value and probe.read >= min(probe.wired.samples, 1):
            self._make_value(probe)
            probe.read = 0
            probe.next_value = max(probe.next_value + probe.wired.every / 1000, now)

    def _read(self, probe: _Probe) -> None:
        try:
            value = probe.source.read()
        except Faulty as faulty:
            if probe.sampling.refuse(faulty.fault, str(faulty)):
                log.warning("%s: %s", probe.wired.id, faulty)
        except Exception as error:
            # one sensor must never silence the others
            log.exception("%s could not be read", probe.wired.id)
            probe.sampling.refuse(
                Fault.NONSENSE, f"Something unexpected ({type(error).__name__}): please report it."
            )
        else:
            if probe.sampling.said:
                log.info("%s can be read again", probe.wired.id)
            probe.sampling.take(value, self._clock.now())

    def _make_value(self, probe: _Probe) -> None:
        made = probe.sampling.value()
        if made is not None:
            at, value = made
            self.held.add(probe.wired.id, at, round(value, DIGITS), now=self._now(), timed=self._clock_is_known())

    def _clock_is_known(self) -> bool:
        """Once in a life is enough: a clock that was right goes on."""
        if not self._known:
            self._known = self._asks()
            if self._known and self.held:
                log.info("the clock is known now")
        return self._known

    # To and from the broker

    def _hear(self) -> None:
        answered, greeted = self._box.empty()
        if greeted:
            self._up_since = self._now()
            self._outstanding.clear()
            self.held.connected()
            self._status_due = self._now()
        for one, taken in answered:
            self._outstanding.pop(one.key, None)
            if taken:
                self.held.taken(one)
        deliveries = self._inbox.take(200)
        for delivery in deliveries:
            mark = mark_of(delivery.topic, delivery.payload)
            if mark is not None:
                self.held.mark(mark.probe, mark.life, through=mark.through, heard=mark.heard, now=self._now())
        self.wire.acknowledge(deliveries)

    def _send(self) -> None:
        if not self.wire.link().up:
            return
        now = self._now()
        for key in [key for key, at in self._outstanding.items() if now - at >= UNANSWERED]:
            del self._outstanding[key]
        for one in self.held.packs(now, most=IN_FLIGHT - len(self._outstanding)):
            wired = self._settings.probes[one.probe]
            body = pack(
                one.probe,
                wired.sends,
                [(at, r.value) for at, r in zip(self._times(one), one.readings, strict=True)],
                life=self.held.life,
                number=one.readings[0].number,
                oldest=one.oldest,
            )
            if self.wire.publish(wired.topic, body, about=one):
                self._outstanding[one.key] = now
            else:
                self.held.refused(one)

    def _wonder(self) -> None:
        """Say it once when a broker takes everything and no daemon says a word."""
        late = self._now() - self._up_since >= WONDERS
        if late and self.wire.link().up and not self.held.marked and not self._warned and len(self.held):
            self._warned = True
            log.warning(
                "the broker takes what is read, and no daemon has confirmed any of it for %.0f min: is it running, does each of"
                " its probes have a `name`, and may we read %s?",
                WONDERS / 60,
                self._settings.mark(next(iter(self._probes))),
            )

    def _times(self, one: Pack) -> list[Millis]:
        """Each reading's time; or, of what was read while the clock was not known, how long ago that was, as a negative number
        (RFC 8428 §4.5.3: relative to now).
        """
        kind, known, now = one.readings[0].timed, self._clock_is_known(), self._now()
        if kind:
            return [r.at for r in one.readings]
        ages = [round((now - r.added) * 1000) for r in one.readings]
        for reading, age in zip(one.readings, ages, strict=True):
            if kind is None and known:
                reading.at, reading.timed = self._clock.now() - age, True
            else:
                reading.timed = False
        return [r.at if r.timed else -age for r, age in zip(one.readings, ages, strict=True)]

    def _tell(self) -> None:
        now = self._now()
        said = json.dumps([[p.sampling.said, p.sampling.faults] for p in self._probes.values()])
        due = now >= self._status_due or said != self._said
        if due and self._publish_status(alive=True):
            self._status_due, self._said = now + STATUS, said

    def status(self, *, alive: bool) -> dict[str, object]:
        """How it is, as `publishers/<id>` says it."""
        return {
            "alive": alive,
            "at": _instant(self._clock.now()),
            "held": len(self.held),
            "dropped": self.held.dropped,
            "confirmed": self.held.marked,
            "file": self._journal.trouble or "written" if self._journal else None,
            "probes": {
                name: {"good": p.sampling.good, "faults": p.sampling.faults, "says": p.sampling.said}
                for name, p in self._probes.items()
            },
        }

    def _publish_status(self, *, alive: bool) -> bool:
        body = json.dumps(self.status(alive=alive), ensure_ascii=False, separators=(",", ":"))
        return self.wire.publish(self._settings.status, body, retain=True)

    # To the card

    def _write(self, *, all_of_it: bool = False) -> None:
        journal, now = self._journal, self._now()
        if journal is None or (now < self._write_due and not all_of_it):
            return
        self._write_due = now + LOOKS
        after = self._settings.buffer.written / 1000
        unwritten = [(probe, r) for probe, r in self.held if r.timed and not r.written]
        oldest = min((r.added for _, r in unwritten), default=now)
        due = bool(unwritten) and (all_of_it or now - oldest >= after)
        if due and journal.append((probe, r.at, r.value) for probe, r in unwritten):
            for _, reading in unwritten:
                reading.written = True
        kept = sum(r.written for _, r in self.held) if journal.lines else 0
        if journal.lines - kept > (0 if all_of_it else SPARE) or (journal.lines and not len(self.held)):
            journal.rewrite(_entries(self.held))


def _entries(held: Held) -> list[Entry]:
    return [(probe, r.at, r.value) for probe, r in held if r.written]


def _first(wired: Wired) -> float:
    """The first value comes when the first round of readings is done, not a whole interval later."""
    return wired.every / 1000 * (wired.samples - 1) / wired.samples


def _instant(at: Millis) -> str:
    return datetime.fromtimestamp(at // 1000, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def publish(settings: Publishing, *, stop: threading.Event) -> int:
    """`vermistat publish`."""
    os.umask(0o077)
    Publisher(settings).run(stop)
    return 0
