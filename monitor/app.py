"""The wiring: one straight function that hands each room what it needs, and closes everything in reverse."""

from __future__ import annotations

import gc
import logging
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol

from monitor import systemd
from monitor.beats import Beats
from monitor.changing import Changing, begin, secrets_of
from monitor.checks.system import System
from monitor.clock import Clock, KnownClock, Machine, Patience
from monitor.errors import SendError, StoreError
from monitor.intake import outdoors, publishers, working
from monitor.intake.payloads import Decoder
from monitor.intake.pump import Flushed, Pump, reach_of
from monitor.intake.quality import Trust, judged_anew
from monitor.nightly import Nightly, nightly
from monitor.notify.links import address_of
from monitor.notify.notices import Notice, Post, Slot
from monitor.notify.outbox import Outbox
from monitor.notify.redact import Redacting
from monitor.outdoors import fetching
from monitor.outward import messages
from monitor.outward.confirming import Confirming
from monitor.outward.teller import Teller
from monitor.readings import HOUR, Millis
from monitor.reckoning import Stretch
from monitor.reports.paged import note_trouble
from monitor.rounds import Report, Rounds
from monitor.rules import Probe, Rules
from monitor.schedule import Schedule
from monitor.settings import Settings
from monitor.settings.watching import Watch
from monitor.shipping import Shipping, shipping
from monitor.site import load_again, open_to_write, store_path
from monitor.store.promises import Store, TakenUp
from monitor.timekeeping import Timekeeper
from monitor.timekeeping import start as begin_time
from monitor.wire import Delivery, Inbox, Will, Wire

if TYPE_CHECKING:
    from monitor.reports.replaying import Twice
    from monitor.web.desk import Desk
    from monitor.web.serving import Serving

log = logging.getLogger(__name__)

PERIOD = 60.0
"""Seconds of the beds' clock between two rounds."""
FLUSH_WITHIN = 20.0
PUTS_RIGHT_WITHIN = 50.0
"""Real seconds that moving all times of a stretch without a clock may take; less than the pump's own bound."""
CHANGES_WITHIN = 30.0
"""Real seconds that taking up changed settings may take; else the next round tries again."""
BOUNDS = {"intake": 90.0, "pump": 60.0, "sender": 60.0, "scheduler": 30.0}
"""Real seconds within which each thread must have given a sign of life, or the watchdog is not fed."""
SHIPS = {"shipper": 600.0}
"""The same where readings go on to a database, whose longest pause is five minutes."""
LEAVES_WITHIN, SENDS_WITHIN, SHIPS_WITHIN = 2.5, 1.5, 0.5
"""Seconds that the wire, the sender and the shipper may take to end: together with all else within 5 s of SIGTERM. A wire that is
just connecting to a broker that does not answer is left behind; it has nothing to acknowledge."""
SUMMED_AFTER: Millis = 3 * HOUR
"""How long an hour is over before it is summed up."""
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
    changing: Changing
    teller: Teller
    clock_sure: Callable[[], bool]
    page: Shown | None = None

    def round(self) -> Report:
        """Changed settings taken up, one round, and the watchdog fed when every thread lives."""
        self.changing.look()
        report = self.rounds.run()
        self.teller.told(
            self.rounds.stands,
            report.at,
            stored=report.stored,
            clock_sure=self.clock_sure(),
            failed=report.failed,
        )
        if self.page is not None:
            self.page.desk.changed()
        if report.stored:
            _sum_up(self.store, report.at)
        late = self.beats.late()
        if late:
            log.error("no sign of life from %s", ", ".join(f"{n} for {s:.0f} s" for n, s in late.items()))
        else:
            systemd.tell("WATCHDOG=1")
        return report


@dataclass(frozen=True, slots=True)
class Shown:
    """The page that is served, and its desk."""

    desk: Desk
    serving: Serving


def _sum_up(store: Store, now: Millis) -> None:
    """A little each round: history that came before is done within minutes, and no round is late for it."""
    try:
        store.summarise(now - SUMMED_AFTER)
    except StoreError as error:
        log.warning("hours could not be summed up: %s", error)


@contextmanager
def daemon(
    settings: Settings,
    *,
    store: Store,
    clock: Clock,
    send: Callable[[str, Post], None],
    patience: Patience,
    stretch: Stretch | None = None,
    watch: Watch | None = None,
    on_change: Callable[[Settings], None] | None = None,
    key: bytes | None = None,
) -> Iterator[Daemon]:
    """The whole house, its threads running, without a schedule: whoever holds it says when a round is due.

    `stretch` is what is kept of a `KnownClock`, which is then looked after. `watch` looks at the settings while we
    run, `on_change` is told of new ones before anything else goes by them. `key` is what the page signs with; without one it
    makes its own, which lasts as long as we do.
    """
    rules = settings.rules
    beats = Beats(patience.now, BOUNDS | SHIPS if settings.database else BOUNDS)
    with ExitStack() as opened:
        opened.callback(store.close)
        sending = shipping(
            store, settings.database, clock=clock, patience=patience, beat=lambda: beats.stamp("shipper")
        )
        begun = begin(settings, store, at=clock.now()) is not None
        outbox = Outbox(
            store=store,
            send=send,
            now=clock.now,
            patience=patience,
            beat=lambda: beats.stamp("sender"),
            speed=clock.speed,
        )
        _begin(opened, outbox, SENDS_WITHIN)
        backups = nightly(settings, opened, clock=clock, patience=patience)
        outside = fetching(
            settings.outdoors, opened, site=rules.site.id, store=store, now=clock.now, patience=patience
        )
        decoder, asides = _hears(settings, store)
        inbox = Inbox(settings.broker.window)
        gone = messages.gone(rules.site.id, None)
        wire = Wire(
            settings.broker,
            topics=(*decoder.topics(), *asides),
            marker=f"vermistat/{rules.site.id}/marker",
            now=clock.now,
            patience=patience.now,
            inbox=inbox,
            beat=lambda: beats.stamp("intake"),
            will=Will(gone.topic, gone.body),
            greeted=lambda: teller.greet(),  # noqa: PLW0108 - it comes after the wire it speaks through
        )
        teller = Teller(rules, store=store, publish=wire.publish, now=clock.now, speed=clock.speed)
        confirming = Confirming(rules.site.id, publish=wire.publish, patience=patience.now)
        pump = Pump(
            inbox=inbox,
            decoder=decoder,
            trust=_trust(rules.sources(), store),
            keep=store.keep,
            acknowledge=wire.acknowledge,
            delivered=store.delivered(reach_of(settings.broker.window)),
            patience=patience.now,
            window=settings.broker.window,
            beat=lambda: beats.stamp("pump"),
            unsure=lambda: isinstance(clock, KnownClock) and clock.stretch.since is not None,
            asides=asides,
            confirm=confirming.kept,
        )
        _begin(opened, pump)
        _begin(opened, wire, LEAVES_WITHIN)
        opened.callback(teller.close)
        opened.callback(confirming.last)
        opened.callback(pump.flush, 2.0)
        _begin(opened, sending, SHIPS_WITHIN)

        def change(wanted: Settings, put: Callable[[], None]) -> None:
            decoder, asides = _hears(wanted, store)

            def swap() -> None:
                put()
                known = changing.probes
                _prime(pump.trust, store, [p for p, probe in decoder.probes.items() if known.get(p) != probe])
                pump.use(decoder, asides)

            pump.between(swap, CHANGES_WITHIN)

        def use(wanted: Settings, taken: TakenUp) -> None:
            if on_change is not None:
                on_change(wanted)
            decoder, asides = _hears(wanted, store)
            wire.resubscribe((*decoder.topics(), *asides))
            rounds.use(wanted.rules, anew=bool(taken.renamed))
            teller.use(wanted.rules)
            backups.use(wanted)
            outside.use(wanted.outdoors)
            if page is not None:
                page.desk.use(wanted)

        changing = Changing(settings, store=store, now=clock.now, change=change, use=use, begun=begun, watch=watch)

        keeper = _timekeeper(
            clock,
            stretch,
            probes=lambda: changing.probes,
            store=store,
            pump=pump,
            wire=wire,
            outbox=outbox,
            beat=lambda: beats.stamp("pump"),
        )
        rounds = Rounds(
            store=store,
            rules=rules,
            now=clock.now,
            flush=lambda: _flushed(pump, wire),
            system=lambda: _system(wire, outbox, keeper, changing, sending, backups=backups),
            nudge=outbox.nudge,
            straight=outbox.straight,
            set_right=keeper.set_right if keeper else lambda: False,
            outage=keeper.outage if keeper else lambda: None,
        )
        page = _page(settings, opened, store=store, clock=clock, key=key)
        yield Daemon(
            rounds,
            wire,
            pump,
            outbox,
            store,
            beats,
            clock,
            changing,
            teller,
            clock_sure=lambda: keeper is None or keeper.unsure_since is None,
            page=page,
        )
        if keeper:
            keeper.ended()


class _Thread(Protocol):
    """What runs by itself until it is stopped."""

    def start(self) -> None:
        """Begin."""

    @property
    def stop(self) -> Callable[..., object]:
        """What ends it."""


def _begin(opened: ExitStack, thread: _Thread, *within: float) -> None:
    """Begin, and end with everything else, within so many seconds."""
    thread.start()
    opened.callback(thread.stop, *within)


def _page(settings: Settings, opened: ExitStack, *, store: Store, clock: Clock, key: bytes | None) -> Shown | None:
    """The page, where one is wanted; nothing of it is even imported where none is."""
    if settings.page is None:
        note_trouble(store, None, clock.now())
        return None
    from monitor.web.desk import Desk
    from monitor.web.key import key_of
    from monitor.web.serving import Serving
    from monitor.web.site import site

    desk = Desk(settings, store=store, now=clock.now)
    desk.twice = lambda others, days, beds: _twice(desk, others, days, beds)
    serving = Serving(site(desk, settings.page, key=key or key_of(None)), desk, settings.page)
    serving.start()
    opened.callback(serving.stop)
    note_trouble(store, serving.trouble, clock.now())
    return Shown(desk, serving)


def _twice(desk: Desk, others: Rules, days: int, beds: Sequence[str]) -> Twice:
    """For whoever tries other limits; what that takes is loaded when it is first asked for."""
    from monitor.apart import twice_apart

    return twice_apart(desk.settings(), others, at=desk.now(), days=days, beds=beds, over=lambda: desk.closing)


def _hears(settings: Settings, store: Store) -> tuple[Decoder, Mapping[str, working.Aside]]:
    """What is done with a message of each topic: readings, and what is said beside them."""
    rules = settings.rules
    beside = working.asides(rules.site.id, rules.bins, store.ask)
    try:
        publishers.forget(store, settings.publishers)
    except StoreError as error:
        log.warning("publishers that nobody listens to any more are still kept: %s", error)
    told = {**outdoors.asides(settings.outdoors, store), **publishers.asides(settings.publishers, store)}
    return Decoder(rules.sources()), {**told, **beside}


def _trust(probes: Iterable[str], store: Store) -> Trust:
    trust = Trust()
    _prime(trust, store, probes)
    return trust


def _prime(trust: Trust, store: Store, probes: Iterable[str]) -> None:
    for probe in probes:
        trust.prime(probe, store.latest(probe, PRIMED), unchanged_since=store.unchanged_since(probe))


def _flushed(pump: Pump[Delivery], wire: Wire) -> Flushed:
    """Our hand may hold more than the broker has in flight: then it stops before the hand is full."""
    flushed = pump.flush(FLUSH_WITHIN)
    return flushed if flushed.ok else replace(flushed, blind=flushed.blind or not wire.hears())


def _timekeeper(
    clock: Clock,
    stretch: Stretch | None,
    *,
    probes: Callable[[], Mapping[str, Probe]],
    store: Store,
    pump: Pump[Delivery],
    wire: Wire,
    outbox: Outbox,
    beat: Callable[[], None],
) -> Timekeeper | None:
    if not isinstance(clock, KnownClock) or stretch is None:
        return None
    return Timekeeper(
        clock,
        stretch,
        store=store,
        between=lambda work: pump.between(work, PUTS_RIGHT_WITHIN),
        trust=lambda: _trust(probes(), store),
        anew=lambda r: judged_anew(known[r.probe], r) if r.probe in (known := probes()) else r.quality,
        sinces=lambda: [wire.link().since, *outbox.failing().values()],
        beat=beat,
    )


def _system(
    wire: Wire,
    outbox: Outbox,
    keeper: Timekeeper | None,
    changing: Changing,
    sending: Shipping,
    *,
    backups: Nightly,
) -> System:
    link = wire.link()
    channels = {*changing.settings.channels, *changing.settings.channels_were}
    now: Callable[[Millis], Millis] = keeper.since if keeper else lambda at: at
    return System(
        link_up=link.up,
        link_since=now(link.since),
        link_detail=link.detail,
        notices_failing={c: now(since) for c, since in outbox.failing().items() if c in channels},
        clock_unsure_since=keeper.unsure_since if keeper else None,
        settings_refused=changing.refused,
        database_lost=sending.lost(),
        backup_failing=backups.failing(),
        backup_undecided=backups.undecided,
    )


def run(
    settings: Settings,
    *,
    stop: threading.Event,
    period: float = PERIOD,
    machine: Machine | None = None,
    look_now: Callable[[Callable[[], None]], None] | None = None,
) -> int:
    """`vermistat run`: the daemon by the machine's clocks, as far as they are right, until `stop` is set. `look_now` is
    handed what makes us look at the settings at once, for whoever is told by a signal.
    """
    patience = Patience()
    key = _key(settings)
    hidden, addresses = _keep_secrets(settings), Addresses(settings, key)

    def on_change(wanted: Settings) -> None:
        hidden.also(secrets_of(wanted))
        addresses.use(wanted)

    store = open_to_write(settings)
    addresses.writes_weeks_from(store)
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
            send=addresses.send,
            patience=patience,
            stretch=stretch,
            watch=Watch(settings, load=lambda: load_again(settings), settle=lambda s: patience.wait(stop, s)),
            on_change=on_change,
            key=key,
        ) as running,
        keeping_time(running, patience=patience, period=period) as schedule,
    ):
        if look_now is not None:
            look_now(schedule.now)
        _leave_the_old_alone()
        systemd.tell("READY=1")
        if (probes := store.elsewhere()) > 0:
            log.warning(
                "the older readings of %d probes lie in a database only, and the settings name none: write `database:` as it"
                " was, and run `vermistat database move --back` before it is taken out",
                probes,
            )
        log.info("watching %d bins with %d probes", len(settings.rules.bins), len(settings.rules.probes()))
        stop.wait()
        systemd.tell("STOPPING=1")
    return 0


def _key(settings: Settings) -> bytes | None:
    """What the page signs with, kept beside the store; None where no page is wanted."""
    if settings.page is None:
        return None
    from monitor.web.key import key_of

    return key_of(store_path(settings).with_suffix(".key"))


def _leave_the_old_alone() -> None:
    """What is there at the start stays for good: Python's collector of cycles need not go through it again and again,
    which cost every other round of 10,000 bins half its time. What nobody holds any more is freed as ever.
    """
    gc.collect()
    gc.freeze()


def _keep_secrets(settings: Settings) -> Redacting:
    """No log record passes with an address or a password in it, whoever wrote it."""
    hidden = Redacting(secrets_of(settings))
    for handler in logging.getLogger().handlers:
        handler.addFilter(hidden)
    return hidden


@contextmanager
def keeping_time(running: Daemon, *, patience: Patience, period: float) -> Iterator[Schedule]:
    """A round every `period` seconds of the beds' clock."""
    schedule = Schedule(
        running.round,
        period=period / running.clock.speed,
        patience=patience,
        beat=lambda: running.beats.stamp("scheduler"),
        missed=running.rounds.missed,
    )
    if running.page is not None:
        running.page.desk.hurry = schedule.now
    schedule.start()
    try:
        yield schedule
    finally:
        schedule.stop()


class Addresses:
    """Where each channel sends, as the settings in force say. With the page's `key` each notice that can be answered
    carries a link to its page, where others can reach that.
    """

    def __init__(self, settings: Settings, key: bytes | None = None) -> None:
        self._key = key
        self._store: Store | None = None
        self.use(settings)

    def use(self, settings: Settings) -> None:
        """Send by these settings from now on."""
        self._known = settings.channels, settings.channels_were
        self._page = settings.page.address if settings.page else None
        self._rules = settings.rules

    def writes_weeks_from(self, store: Store) -> None:
        """The week is written when it is sent, out of this store; without one its notice goes as it is."""
        self._store = store

    def send(self, channel: str, post: Post) -> None:
        """One notice to one address. Raises SendError, for good when no channel is called so any more."""
        from monitor.notify.send import Letter, send

        channels, were = self._known
        found = channels.get(channel) or channels.get(were.get(channel, ""))
        if found is None:
            raise NoSuchChannel(f"the settings know no channel {channel} any more")
        if post.notice.slot is Slot.WEEK and self._store is not None:
            from monitor.reports.week_letter import week_letter

            week = week_letter(self._store, self._rules, post.notice, page=self._page)
            letter = Letter(week.html, week.pictures)
            send(found.send_to, week.subject, week.words, letter=letter, timeout=15.0)
        else:
            send(found.send_to, post.notice.title, self._body(post.notice), timeout=15.0)

    def _body(self, notice: Notice) -> str:
        link = address_of(notice, self._page, self._key) if self._key else None
        return f"{notice.body}\nOn the page, once, within two days: {link}" if link else notice.body


class NoSuchChannel(SendError):
    """The channel was taken out of the settings: no later try can help."""

    temporary = False
