"""`vermistat demo --january`: a household of two and four bins through a whole month, and all its post.

Every line of the daemon but clock, broker and channel: the probes speak MQTT to a broker in this process. The clock is moved
from one quarter of an hour to the next, as soon as all that was said is durable and judged.
"""

from __future__ import annotations

import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path

from monitor import words
from monitor.app import Daemon, daemon
from monitor.clock import Patience, SteppedClock
from monitor.notify.budget import counted, sentence
from monitor.notify.notices import Notice
from monitor.readings import DAY, Millis
from monitor.settings import Settings, load
from monitor.simulator.keepers import Reply, replies
from monitor.simulator.month import DAYS, START, Month
from monitor.site import open_to_write
from monitor.stepping import linked, settled

SAID = 13
"""Readings that the probes send in a quarter of an hour."""


@dataclass
class Lived:
    """The month as it is lived; `post` is everything written so far."""

    running: Daemon
    clock: SteppedClock
    settings: Settings
    publish: Callable[[str, bytes], None]
    month: Month = field(default_factory=Month)
    post: list[Notice] = field(default_factory=list)
    _replies: list[Reply] = field(default_factory=list)
    _expected: int = 0

    def quarter(self) -> Millis:
        """One more quarter of an hour; when it is then. Raises WireError when what is said is not heard."""
        at, said = self.month.next()
        for due in iter(lambda: self._due_before(at), None):
            self._pass_to(due)
        self.clock.move_to(at)
        for message in said:
            self.publish(message.topic, message.payload)
        self._expected += SAID
        settled(self.running, self._expected)
        self._pass_to(at)
        return at

    def _due_before(self, at: Millis) -> Millis | None:
        deadline = self.running.rounds.next_deadline(self.clock.now(), at)
        times = [r.at for r in self._replies if r.at < at] + ([deadline] if deadline is not None else [])
        return min(times, default=None)

    def _pass_to(self, at: Millis) -> None:
        self.clock.move_to(max(at, self.clock.now()))
        store, now = self.running.store, self.clock.now()
        for reply in [r for r in self._replies if r.at <= now]:
            self._replies.remove(reply)
            if store.heard_of(reply.alarm) is not None:
                store.ask(now, reply.who, reply.what, reply.alarm, reply.note)
            if reply.deed is not None:
                self.month.do(reply.deed)
        self.running.beats.stamp("scheduler")
        self.running.round()
        self._read()

    def _read(self) -> None:
        """Who has new post reads it, and will do what it asks."""
        last = self.post[-1].number if self.post else 0
        rules = self.settings.rules
        fresh = {p.notice.number: p.notice for p in self.running.store.notices(20) if p.notice.number > last}
        for notice in fresh.values():
            self.post.append(notice)
            advice = self.running.rounds.stands.advice.get(notice.place)
            orders = advice.orders if advice is not None else ()
            self._replies += replies(notice, orders, rules.people[notice.person], rules.site.timezone)


def january_settings(port: int) -> Settings:
    """The settings of the invented household, with the demo's own broker and a channel that nothing is sent to."""
    from monitor import simulator

    file = Path(simulator.__file__).with_name("january.yaml")
    settings = load([file], environ={"VERMISTAT_DEMO_SCREEN": "json://screen.invalid"})
    return replace(settings, broker=replace(settings.broker, host="127.0.0.1", port=port))


@contextmanager
def january_house(port: int) -> Iterator[Lived]:
    """The daemon in the small hours of the first of January, its broker, and the simulated probes."""
    from monitor.simulator.broker import EmbeddedBroker
    from monitor.simulator.probes import Radio

    patience = Patience()
    with ExitStack() as opened:
        folder = Path(opened.enter_context(tempfile.TemporaryDirectory(prefix="vermistat-january-")))
        broker = EmbeddedBroker(port)
        listens = broker.start()
        opened.callback(broker.stop)
        settings, clock = january_settings(listens), SteppedClock(START)
        store = open_to_write(replace(settings, store=folder / "january.db"))
        running = opened.enter_context(
            daemon(settings, store=store, clock=clock, send=lambda _channel, _post: None, patience=patience)
        )
        radio = Radio(listens)
        radio.open()
        opened.callback(radio.close)
        linked(running)
        yield Lived(running, clock, settings, radio.publish)


def january(*, port: int, days: int = DAYS, stop: threading.Event, say: Callable[[str], None]) -> int:
    """Live the month, day by day on the screen, and count its post at the end."""
    with january_house(port) as lived:
        people, zone = lived.settings.rules.people, lived.settings.rules.site.timezone
        say("A household of two, four bins and a whole January; ana is away from Friday the 9th to the 18th.")
        for day in range(days):
            told = len(lived.post)
            while not stop.is_set() and lived.clock.now() < START + (day + 1) * DAY:
                lived.quarter()
            if stop.is_set():
                break
            say(_day(day, lived.post[told:], zone))
        say("")
        for person in people.values():
            say(sentence(counted(person, lived.post, days=days, tz=zone)))
    say("The demo has ended.")
    return 0


def _day(day: int, post: list[Notice], zone: str) -> str:
    """One day's post as it was read."""
    date = words.local(START + day * DAY, zone).strftime("%A %-d %B")
    if not post:
        return f"── {date}: no post"
    lines = [f"── {date} {'─' * max(0, 70 - len(date))}"]
    for notice in post:
        at = words.hours(words.local(notice.at, zone), zone)
        woken = ", woken" if notice.woke else ""
        lines += [f"   {at}, to {notice.person} ({notice.slot}{woken})".replace("woken, woken", "woken")]
        lines += [f"      {line}" for line in notice.lines]
    return "\n".join(lines)
