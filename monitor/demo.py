"""`vermistat demo`: six weeks lived in steps, then a January night in about a minute; invented throughout.

Every line of the daemon but clock, broker and the channel that prints. The beds learn in the six weeks by the same walk as any
keeper's, broker to store to rounds, and nothing that was learned is shipped; the night begins as after any restart.
"""

from __future__ import annotations

import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path

from monitor import simulator, words
from monitor.addresses import Page
from monitor.app import PERIOD, SUMMED_AFTER, Daemon, daemon, keeping_time
from monitor.clock import Patience, ScaledClock, SteppedClock
from monitor.notify.notices import Post
from monitor.readings import DAY, Millis
from monitor.reports.learned import learned_facts
from monitor.settings import Settings, load
from monitor.settings.watching import Watch
from monitor.simulator.broker import EmbeddedBroker
from monitor.simulator.hand import Hand
from monitor.simulator.life import Life
from monitor.simulator.probes import Radio
from monitor.simulator.story import START
from monitor.simulator.weeks import DAYS, EVERY, Weeks, habits
from monitor.site import open_to_write
from monitor.stepping import linked, settled

SHOWN = ("tub.near", "longbox.left")
"""Zones whose words are shown when the weeks are over."""
SCREEN = {"VERMISTAT_DEMO_SCREEN": "json://screen.invalid"}
Say = Callable[[str], None]


def settings_in(folder: Path, port: int) -> Path:
    """The settings of the invented keeper, a copy that may be changed while it runs: with the demo's broker and store."""
    text = Path(simulator.__file__).with_name("demo.yaml").read_text(encoding="utf-8")
    file = folder / "vermistat.yaml"
    text = text.replace("mqtt://127.0.0.1:1883", f"mqtt://127.0.0.1:{port}")
    file.write_text(f"{text}\nstore: {{path: {folder / 'demo.db'}}}\n", encoding="utf-8")
    return file


@dataclass
class Lived:
    """The six weeks as they are lived."""

    running: Daemon
    clock: SteppedClock
    settings: Settings
    publish: Callable[[str, bytes], None]
    weeks: Weeks
    hand: Hand
    _said: int = 0
    _counts: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for source in self.settings.rules.sources().values():
            self._counts[source.source.topic] = self._counts.get(source.source.topic, 0) + 1

    def half_hour(self) -> Millis:
        """One more half hour; when it is then. Raises WireError when what is said is not heard."""
        at = self.clock.now() + EVERY
        for due in iter(lambda: self._due_before(at), None):
            self._pass_to(due)
        self.weeks.live_to(at)
        self.clock.move_to(at)
        for message in self.weeks.said():
            self.publish(message.topic, message.payload)
            self._said += self._counts[message.topic]
        settled(self.running, self._said)
        self._pass_to(at)
        return at

    def _due_before(self, at: Millis) -> Millis | None:
        now = self.clock.now()
        times = (self.hand.next(), self.running.rounds.next_deadline(now, at))
        return min((max(t, now) for t in times if t is not None and t < at), default=None)

    def _pass_to(self, at: Millis) -> None:
        self.weeks.live_to(at)
        self.clock.move_to(at)
        self._look(at)
        self.running.rounds.run()
        if at % DAY == 0:
            self.running.store.summarise(at - SUMMED_AFTER)
        self._look(at)

    def _look(self, at: Millis) -> None:
        self.hand.look(self.running.store, self.running.rounds.stands.advice, at)


def live_weeks(lived: Lived, *, say: Say, stop: threading.Event) -> bool:
    """All six weeks, with a line for each; false when they were interrupted."""
    rules, began = lived.settings.rules, Patience().now()
    zone = rules.site.timezone
    begins = lived.weeks.begins
    day = words.local(begins, zone).strftime("%-d %B")
    say(
        f"First the weeks before tonight, from {day} on: readings go through broker, store and rounds in steps of half"
    )
    say("an hour, and the beds learn from them as any keeper's do. Nothing that is learned is shipped.")
    for week in range(begins, START, 7 * DAY):
        read = lived.hand.post
        while not stop.is_set() and lived.clock.now() < min(week + 7 * DAY, START):
            lived.half_hour()
        if stop.is_set():
            return False
        zones = learned_facts(lived.running.store, rules, lived.clock.now())["zones"]
        known = sum(z["known"] for z in zones)
        until = words.local(lived.clock.now(), zone).strftime("%-d %B")
        post = words.amount(lived.hand.post - read, "notice")
        say(f"   lived to {until}: {post} more; {known} of {len(zones)} zones know how fast they cool.")
    say(f"That took {Patience().now() - began:.0f} s. Some of what the beds say of themselves now:")
    for one in (z for z in zones if z["id"] in SHOWN):
        say(f"   {one['about']}: {' '.join(one['sentences'][:2])}")
    return True


@dataclass(frozen=True, slots=True)
class House:
    """The demo's daemon, its broker's port, and where its settings are."""

    running: Daemon
    port: int
    file: Path


@contextmanager
def demo_house(
    *,
    speed: float,
    port: int,
    say: Say,
    silent: bool = False,
    days: int = DAYS,
    page: int | None = None,
    stop: threading.Event | None = None,
) -> Iterator[House | None]:
    """The daemon on the evening, its clock running, so many `days` lived before it, none where the probes are `silent`;
    None where `stop` was set meanwhile.
    """
    stop = stop or threading.Event()
    with ExitStack() as opened:
        folder = Path(opened.enter_context(tempfile.TemporaryDirectory(prefix="vermistat-demo-")))
        broker = EmbeddedBroker(port)
        listens = broker.start()
        opened.callback(broker.stop)
        file = settings_in(folder, listens)
        radio = Radio(listens)
        if not silent:
            radio.open()
            opened.callback(radio.close)
        weeks = Weeks(days=days) if days and not silent else None
        hand = None
        if weeks is not None:
            hand = Hand(
                load([file], environ=SCREEN).rules, "keeper", do=weeks.yard.do, habits=habits(weeks.begins)
            )
            if not _weeks(file, weeks, hand, radio, say=say, stop=stop):
                yield None
                return
        clock = ScaledClock(START, speed, waits=True)
        running = opened.enter_context(_night(file, clock, page=page, say=say))
        linked(running)
        clock.begin()
        if not silent:
            life = Life(
                clock=clock,
                publish=radio.publish,
                yard=weeks.yard if weeks is not None else None,
                meanwhile=_looks(hand, running, say) if hand is not None else None,
            )
            life.start()
            opened.callback(life.stop)
        yield House(running, listens, file)


def _weeks(file: Path, weeks: Weeks, hand: Hand, radio: Radio, *, say: Say, stop: threading.Event) -> bool:
    settings, clock = load([file], environ=SCREEN), SteppedClock(weeks.begins)
    with daemon(
        settings,
        store=open_to_write(settings),
        clock=clock,
        send=lambda _channel, _post: None,
        patience=Patience(),
    ) as running:
        linked(running)
        return live_weeks(Lived(running, clock, settings, radio.publish, weeks, hand), say=say, stop=stop)


@contextmanager
def _night(file: Path, clock: ScaledClock, *, page: int | None, say: Say) -> Iterator[Daemon]:
    patience = Patience()

    def again() -> Settings:
        settings = load([file], environ=SCREEN)
        return settings if page is None else replace(settings, page=Page(port=page))

    settings = again()
    with (
        daemon(
            settings,
            store=open_to_write(settings),
            clock=clock,
            send=lambda _channel, post: say(_printed(post, clock.now(), settings)),
            patience=patience,
            watch=Watch(settings, load=again, settle=lambda s: patience.wait(threading.Event(), s)),
        ) as running,
        keeping_time(running, patience=patience, period=PERIOD),
    ):
        yield running


def _looks(hand: Hand, running: Daemon, say: Say) -> Callable[[Millis], None]:
    zone = running.changing.settings.rules.site.timezone

    def done(at: Millis, what: str) -> None:
        say(f"\n   {words.clock_time(at, zone, at)}, the keeper {what}")

    return lambda now: hand.look(running.store, running.rounds.stands.advice, now, done)


def demo(
    *,
    speed: float,
    port: int,
    silent: bool,
    stop: threading.Event,
    stop_after: float | None,
    say: Say,
    page: int | None = None,
    fresh: bool = False,
) -> int:
    """Six weeks in steps, then a January night in about a minute, until `stop` is set or `stop_after` seconds of it are over."""
    with demo_house(
        speed=speed, port=port, silent=silent, say=say, page=page, days=0 if fresh else DAYS, stop=stop
    ) as house:
        if house is not None:
            running = house.running
            say(f"A January night, {speed:g} times as fast. The broker listens on 127.0.0.1:{house.port}.")
            if running.page is not None and running.page.serving.started():
                say(f"Its sheet is at http://127.0.0.1:{running.page.serving.port}/ for as long as it runs.")
            say("The guest tub is yours: publish a number in °C to probes/guest and be told what it means.")
            say(f"Why? In another terminal: vermistat why NUMBER --settings {house.file}")
            stop.wait(stop_after)
    say("The demo has ended.")
    return 0


def _printed(post: Post, at: Millis, settings: Settings) -> str:
    """A notice as the keeper reads it."""
    zone = settings.rules.site.timezone
    head = f"── {words.clock_time(at, zone, at)}, to {post.notice.person} "
    lines = "\n".join(f"   {line}" for line in post.notice.lines)
    return f"\n{head}{'─' * max(0, 72 - len(head))}\n{lines}"
