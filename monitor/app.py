"""The wiring: one straight function that hands each room what it needs, and closes everything in reverse."""

from __future__ import annotations

import logging
import tempfile
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from monitor import systemd, words
from monitor.addresses import Channel
from monitor.beats import Beats
from monitor.checks.system import System
from monitor.clock import Clock, KnownClock, Machine, Patience, ScaledClock
from monitor.intake import working
from monitor.intake.payloads import Decoder
from monitor.intake.pump import Flushed, Pump
from monitor.intake.quality import Trust, judged_anew
from monitor.notify.notices import Post
from monitor.notify.outbox import Outbox
from monitor.notify.redact import Redacting
from monitor.readings import Millis
from monitor.reckoning import Stretch
from monitor.rounds import Report, Rounds
from monitor.schedule import Schedule
from monitor.settings import Settings, load
from monitor.site import open_to_write, store_path
from monitor.store.promises import Store
from monitor.timekeeping import Timekeeper
from monitor.timekeeping import start as begin_time
from monitor.wire import Delivery, Inbox, Wire

log = logging.getLogger(__name__)

PERIOD = 60.0
"""Seconds of the beds' clock between two rounds."""
FLUSH_WITHIN = 20.0
PUTS_RIGHT_WITHIN = 50.0
"""Real seconds that moving all times of a stretch without a clock may take; less than the pump's own bound."""
BOUNDS = {"intake": 90.0, "pump": 60.0, "sender": 60.0, "scheduler": 30.0}
"""Real seconds within which each thread must have given a sign of life, or the watchdog is not fed."""
LEAVES_WITHIN, SENDS_WITHIN = 2.5, 1.5
"""Seconds that the wire and the sender may take to end: together with all else within 5 s of SIGTERM. A wire that is
just connecting to a broker that does not answer is left behind; it has nothing to acknowledge."""
PRIMED = 5
"""How many of a probe's newest readings its trust begins with after a restart."""


@dataclass(frozen=True, slots=True)
class Daemon:
    """Everything that runs, for whoever drives it: the schedule, a test, the demo."""

    rounds: Rounds
    wire: Wire
    pump: Pump[Delivery]
    outbox: Outbox
    store: Store
    beats: Beats
    clock: Clock

    def round(self) -> Report:
        """One round, and the watchdog fed when every thread lives."""
        report = self.rounds.run()
        late = self.beats.late()
        if late:
            log.error("no sign of life from %s", ", ".join(f"{n} for {s:.0f} s" for n, s in late.items()))
        else:
            systemd.tell("WATCHDOG=1")
        return report


@contextmanager
def daemon(
    settings: Settings,
    *,
    store: Store,
    clock: Clock,
    send: Callable[[str, Post], None],
    patience: Patience,
    stretch: Stretch | None = None,
) -> Iterator[Daemon]:
    """The whole house, its threads running, without a schedule: whoever holds it says when a round is due.

    `stretch` is what is kept of a `KnownClock`, which is then looked after.
    """
    rules = settings.rules
    beats = Beats(patience.now, BOUNDS)
    with ExitStack() as opened:
        opened.callback(store.close)
        outbox = Outbox(
            store=store,
            send=send,
            now=clock.now,
            patience=patience,
            beat=lambda: beats.stamp("sender"),
            speed=clock.speed,
        )
        outbox.start()
        opened.callback(outbox.stop, SENDS_WITHIN)
        decoder = Decoder(rules.probes())
        work = working.asides(rules.site.id, rules.bins, store.ask)
        inbox = Inbox(settings.broker.window)
        wire = Wire(
            settings.broker,
            topics=(*decoder.topics(), *work),
            marker=f"vermistat/{rules.site.id}/marker",
            now=clock.now,
            patience=patience.now,
            inbox=inbox,
            beat=lambda: beats.stamp("intake"),
        )
        pump = Pump(
            inbox=inbox,
            decoder=decoder,
            trust=_trust(settings, store),
            keep=store.keep,
            acknowledge=wire.acknowledge,
            delivered=store.delivered(),
            patience=patience.now,
            window=settings.broker.window,
            beat=lambda: beats.stamp("pump"),
            unsure=lambda: isinstance(clock, KnownClock) and clock.stretch.since is not None,
            asides=work,
        )
        pump.start()
        opened.callback(pump.stop)
        wire.start()
        opened.callback(wire.stop, LEAVES_WITHIN)
        opened.callback(pump.flush, 2.0)
        keeper = _timekeeper(clock, stretch, settings=settings, store=store, pump=pump, wire=wire, outbox=outbox)
        rounds = Rounds(
            store=store,
            rules=rules,
            now=clock.now,
            flush=lambda: _flushed(pump, wire),
            system=lambda: _system(wire, outbox, keeper),
            nudge=outbox.nudge,
            straight=outbox.straight,
            set_right=keeper.set_right if keeper else lambda: False,
        )
        yield Daemon(rounds, wire, pump, outbox, store, beats, clock)


def _trust(settings: Settings, store: Store) -> Trust:
    trust = Trust()
    for probe in settings.rules.probes().values():
        trust.prime(probe.id, store.latest(probe.id, PRIMED), unchanged_since=store.unchanged_since(probe.id))
    return trust


def _flushed(pump: Pump[Delivery], wire: Wire) -> Flushed:
    """Our hand may hold more than the broker has in flight: then it stops before the hand is full."""
    flushed = pump.flush(FLUSH_WITHIN)
    return flushed if flushed.ok else replace(flushed, blind=flushed.blind or not wire.hears())


def _timekeeper(
    clock: Clock,
    stretch: Stretch | None,
    *,
    settings: Settings,
    store: Store,
    pump: Pump[Delivery],
    wire: Wire,
    outbox: Outbox,
) -> Timekeeper | None:
    if not isinstance(clock, KnownClock) or stretch is None:
        return None
    probes = settings.rules.probes()
    return Timekeeper(
        clock,
        stretch,
        store=store,
        between=lambda work: pump.between(work, PUTS_RIGHT_WITHIN),
        trust=lambda: _trust(settings, store),
        anew=lambda r: judged_anew(probes[r.probe], r) if r.probe in probes else r.quality,
        sinces=lambda: [wire.link().since, *outbox.failing().values()],
    )


def _system(wire: Wire, outbox: Outbox, keeper: Timekeeper | None) -> System:
    link = wire.link()
    now: Callable[[Millis], Millis] = keeper.since if keeper else lambda at: at
    return System(
        link_up=link.up,
        link_since=now(link.since),
        link_detail=link.detail,
        notices_failing={channel: now(since) for channel, since in outbox.failing().items()},
        clock_unsure_since=keeper.unsure_since if keeper else None,
    )


def run(
    settings: Settings, *, stop: threading.Event, period: float = PERIOD, machine: Machine | None = None
) -> int:
    """`vermistat run`: the daemon by the machine's clocks, as far as they are right, until `stop` is set."""
    patience = Patience()
    _keep_secrets(settings)
    store = open_to_write(store_path(settings))
    try:
        clock, stretch = begin_time(store, machine or Machine())
    except BaseException:
        store.close()
        raise
    with (
        daemon(
            settings,
            store=store,
            clock=clock,
            send=_by_apprise(settings.channels),
            patience=patience,
            stretch=stretch,
        ) as running,
        _rounds(running, patience=patience, period=period),
    ):
        systemd.tell("READY=1")
        log.info("watching %d bins with %d probes", len(settings.rules.bins), len(settings.rules.probes()))
        stop.wait()
        systemd.tell("STOPPING=1")
    return 0


def _keep_secrets(settings: Settings) -> None:
    """No log record passes with an address or a password in it, whoever wrote it."""
    secrets = [channel.send_to for channel in settings.channels.values()]
    secrets += [settings.broker.password] if settings.broker.password else []
    for handler in logging.getLogger().handlers:
        handler.addFilter(Redacting(secrets))


@contextmanager
def _rounds(running: Daemon, *, patience: Patience, period: float) -> Iterator[None]:
    """A round every `period` seconds of the beds' clock."""
    schedule = Schedule(
        running.round,
        period=period / running.clock.speed,
        patience=patience,
        beat=lambda: running.beats.stamp("scheduler"),
        missed=running.rounds.missed,
    )
    schedule.start()
    try:
        yield
    finally:
        schedule.stop()


def demo_settings(port: int) -> Settings:
    """The settings of the invented keeper, with the demo's own broker and a channel that nothing is sent to."""
    from monitor import simulator

    file = Path(simulator.__file__).with_name("demo.yaml")
    settings = load([file], environ={"VERMISTAT_DEMO_SCREEN": "json://screen.invalid"})
    return replace(settings, broker=replace(settings.broker, host="127.0.0.1", port=port))


@contextmanager
def demo_house(
    *, speed: float, port: int, silent: bool, say: Callable[[str], None]
) -> Iterator[tuple[Daemon, int]]:
    """The daemon itself, but for its clock, its broker (whose port comes with it) and the channel that prints."""
    from monitor.simulator.broker import EmbeddedBroker
    from monitor.simulator.life import Life
    from monitor.simulator.probes import Radio
    from monitor.simulator.story import START

    patience = Patience()
    with ExitStack() as opened:
        folder = Path(opened.enter_context(tempfile.TemporaryDirectory(prefix="vermistat-demo-")))
        broker = EmbeddedBroker(port)
        listens = broker.start()
        opened.callback(broker.stop)
        settings = demo_settings(listens)
        clock = ScaledClock(START, speed)
        running = opened.enter_context(
            daemon(
                settings,
                store=open_to_write(folder / "demo.db"),
                clock=clock,
                send=lambda _channel, post: say(_printed(post, clock.now(), settings)),
                patience=patience,
            )
        )
        opened.enter_context(_rounds(running, patience=patience, period=PERIOD))
        if not silent:
            radio = Radio(listens)
            radio.open()
            opened.callback(radio.close)
            life = Life(clock=clock, publish=radio.publish)
            life.start()
            opened.callback(life.stop)
        yield running, listens


def demo(
    *,
    speed: float,
    port: int,
    silent: bool,
    stop: threading.Event,
    stop_after: float | None,
    say: Callable[[str], None],
) -> int:
    """`vermistat demo`: a January night in about a minute, until `stop` is set or `stop_after` seconds are over."""
    with demo_house(speed=speed, port=port, silent=silent, say=say) as (_, listens):
        say(f"A January night, {speed:g} times as fast. The broker listens on 127.0.0.1:{listens}.")
        say("The guest tub is yours: publish a number in °C to probes/guest and be told what it means.")
        stop.wait(stop_after)
    say("The demo has ended.")
    return 0


def _printed(post: Post, at: Millis, settings: Settings) -> str:
    """A notice as the keeper reads it."""
    zone = settings.rules.site.timezone
    head = f"── {words.clock_time(at, zone, at)}, to {post.notice.person} "
    lines = "\n".join(f"   {line}" for line in post.notice.lines)
    return f"\n{head}{'─' * max(0, 72 - len(head))}\n{lines}"


def _by_apprise(channels: Mapping[str, Channel]) -> Callable[[str, Post], None]:
    def deliver(channel: str, post: Post) -> None:
        from monitor.notify.send import send

        send(channels[channel].send_to, post.notice.title, post.notice.body, timeout=15.0)

    return deliver
