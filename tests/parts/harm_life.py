"""A life of many deaths: probes that never stop talking, bins that come to harm, and the account at the end of what
was lost, kept twice, or never told.
"""

import json
import sqlite3
import threading
import time
from collections import Counter
from contextlib import ExitStack, closing
from datetime import UTC, datetime
from pathlib import Path

from monitor.readings import MINUTE
from monitor.store import migrations
from monitor.store.sqlite import SqliteStore
from parts.harm_house import QUEUE, SOON, USERS, House, client, left_at_the_broker
from parts.mail import PostOffice
from parts.mosquitto import Mosquitto
from parts.road import until
from parts.webhook import Webhook, take

EVERY = 0.025
"""Seconds between two readings of a probe."""
STEPS = 80_000
"""Ten-thousandths of a degree from 20 to 28 °C: that many readings of a probe are told apart by their values."""
LASTING = 10 * MINUTE

OWN_TIME = ("json-v", "senml-v", "both-v")
TIMELESS = ("plain-v", "same-v", "both-w", "ago-v")
KINDS = ("json", "senml", "both", "plain", "same", "ago")
TRAFFIC = """
  talk:
    stands_in: yard
    species: eisenia-fetida
    limits: {temperature: {comfort: 15..29 °C}}
    zones:
      a: {probes: {json-v: {measures: temperature, topic: talk/json, field: /v, time: /at}}}
      b: {probes: {senml-v: {measures: temperature, topic: talk/senml, name: bed}}}
      c: {probes: {both-v: {measures: temperature, topic: talk/both, field: /v, time: /at}}}
      d: {probes: {both-w: {measures: temperature, topic: talk/both, field: /w}}}
      e: {probes: {plain-v: {measures: temperature, topic: talk/plain}}}
      f: {probes: {same-v: {measures: temperature, topic: talk/same}}}
      g: {probes: {ago-v: {measures: temperature, topic: talk/ago, name: ago}}}
"""
TUB = """
  {id}:
    name: Tub {id}
    species: eisenia-fetida
    stands_in: nook-{id}
    limits: {{temperature: {{comfort: 15..29 °C, harm: [{{above: 34 °C{lasting}}}]}}}}
    zones: {{only: {{probes: {{{id}-v: {{measures: temperature, topic: tubs/{id}, field: /v, time: /at}}}}}}}}
"""


def now():
    return time.time_ns() // 1_000_000


def iso(at):
    return datetime.fromtimestamp(at / 1000, UTC).isoformat(timespec="milliseconds")


class Talk:
    """Probes of every kind of payload that publish without end; remembers what the broker took of each. The values
    of a probe are told apart by counting them, from `begin` on.
    """

    def __init__(self, broker, kinds=KINDS, *, begin=0):
        self.kinds = kinds
        self.dated, self.timeless = Counter(), Counter()
        """(probe, time, value) and (probe, value), in ten-thousandths, as often as the broker took them; after
        `stop`."""
        self._client = client(broker, "talk")
        self._client.max_inflight_messages_set(1000)
        self._sent, self._refused = [], []
        self._client.on_publish = self._on_publish
        self._client.connect("localhost" if broker.ca_file else "127.0.0.1", broker.port)
        self._client.loop_start()
        self._number, self._last = begin, 0
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def start(self):
        self._thread.start()
        return self

    def stop(self):
        """Publish no more; what the broker took is final when this returns."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(SOON)
        sent, self._sent = self._sent, []
        for info, dated, timeless in sent:
            info.wait_for_publish(SOON)
            assert info.is_published(), "the broker did not take a message"
            self.dated.update(dated)
            self.timeless.update(timeless)
        assert [] == self._refused

    def close(self):
        self.stop()
        self._client.disconnect()
        self._client.loop_stop()

    def publish(self, topic, body, *, dated=(), timeless=()):
        """One message, and what it says as (probe, time, value) or (probe, value)."""
        self._sent.append((self._client.publish(topic, body, 1), dated, timeless))

    def say(self, times=1):
        """One reading of each kind."""
        for _ in range(times):
            self._number += 1
            assert self._number < STEPS, "too long a life: the values are used up"
            self._last = max(now(), self._last + 1)
            for kind in self.kinds:
                getattr(self, f"_{kind}")(self._last, 200_000 + self._number)

    def say_last(self):
        """One reading with its own time behind all others; its time."""
        self.say()
        self._last += 1
        self._json(self._last, 200_000)
        self.stop()
        return self._last

    def _run(self):
        while not self._stop.wait(EVERY):
            self.say()

    def _on_publish(self, _client, _data, _packet, reason, _properties):
        if reason.is_failure:
            self._refused.append(str(reason))

    def _json(self, at, value):
        self.publish("talk/json", json.dumps({"v": value / 10_000, "at": iso(at)}), dated=[("json-v", at, value)])

    def _senml(self, at, value):
        pack = [{"n": "bed", "u": "Cel", "t": at / 1000, "v": value / 10_000}]
        self.publish("talk/senml", json.dumps(pack), dated=[("senml-v", at, value)])

    def _both(self, at, value):
        body = json.dumps({"v": value / 10_000, "w": value / 10_000, "at": at})
        self.publish("talk/both", body, dated=[("both-v", at, value)], timeless=[("both-w", value)])

    def _plain(self, _at, value):
        self.publish("talk/plain", f"{value / 10_000}", timeless=[("plain-v", value)])

    def _same(self, _at, value):
        """As most probes are: the same few payloads again and again."""
        few = 215_000 + 1000 * (value // 50 % 3)
        self.publish("talk/same", f"{few / 10_000}", timeless=[("same-v", few)])

    def _ago(self, _at, value):
        pack = [{"n": "ago", "u": "Cel", "t": -5, "v": value / 10_000}]
        self.publish("talk/ago", json.dumps(pack), timeless=[("ago-v", value)])


class Tub:
    """A bin of its own place that comes to harm once: at once at 34 °C, or when that lasts ten minutes by its own
    readings, of which there are then three.
    """

    def __init__(self, number, *, lasting=False):
        self.id = f"t{number:03d}"
        self.lasting = lasting
        self.said = []
        self.text = TUB.format(id=self.id, lasting=", lasting: 10 min" if lasting else "")

    @property
    def probe(self):
        return f"{self.id}-v"

    @property
    def raised_at(self):
        """The reading's time at which its alarm must have been raised."""
        return self.said[0] + LASTING if self.lasting else self.said[0]

    def say(self, talk):
        """The first of its readings beyond the limit."""
        self._say(talk, now() - LASTING - 1000 if self.lasting else now())

    def go_on(self, talk):
        """The rest of them, for one whose harm has to last."""
        while self.lasting and len(self.said) < 3:
            self._say(talk, self.said[0] + len(self.said) * LASTING // 2)

    def _say(self, talk, at):
        self.said.append(at)
        body = json.dumps({"v": 34.5, "at": iso(at)})
        talk.publish(f"tubs/{self.id}", body, dated=[(self.probe, at, 345_000)])


class Life:
    """One site from its first start to its last account. `deaths` are the points at which it is to be killed, with
    the arrival; `without` the protections that every daemon of it lacks, `wishes` what else each is asked for.
    """

    def __init__(
        self, folder, deaths, *, secure=False, protocol="5", kinds=KINDS, without=(), database=None, **wishes
    ):
        self.deaths, self.without, self._kinds = list(deaths), list(without), kinds
        self._folder, self._secure, self._protocol = Path(folder), secure, protocol
        self._database, self._wishes = database, wishes
        self.tubs = [Tub(n, lasting=point == "delay") for n, (point, _) in enumerate(self.deaths)]
        self.at = Counter()
        """How often it was killed at each point."""
        self._opened = ExitStack()

    def __enter__(self):
        opened = self._opened
        with ExitStack() as guard:
            guard.push(opened)
            users = USERS if self._secure else None
            self.broker = opened.enter_context(Mosquitto(QUEUE, users=users, tls=self._secure))
            self.hook, self.post = opened.enter_context(Webhook()), opened.enter_context(PostOffice())
            channels = {"hook": self.hook.url(), "mail": self.post.url()}
            bins = "bins:" + TRAFFIC + "".join(t.text for t in self.tubs)
            places = "places: {yard: {}, " + ", ".join(f"nook-{t.id}: {{}}" for t in self.tubs) + "}\n"
            house = House(
                self._folder,
                self.broker,
                places + bins,
                channels=channels,
                protocol=self._protocol,
                database=self._database,
            )
            self.house = opened.enter_context(house)
            self.talk = opened.enter_context(closing(Talk(self.broker, self._kinds)))
            guard.pop_all()
        return self

    def __exit__(self, *gone):
        self._opened.__exit__(*gone)

    def live(self, behaviours=()):
        """All of it: a first day, a death at each point while everything goes on, and a last day in peace.

        `behaviours` are what the web hook does in turn while the daemon dies.
        """
        self.first_day()
        for number, (death, tub) in enumerate(zip(self.deaths, self.tubs, strict=True)):
            if behaviours:
                self.hook.behave = behaviours[number % len(behaviours)]
            self.die(tub, *death)
        self.hook.behave = take
        self.last_day()
        return self

    def live_shortly(self):
        """A first day that is at once the last, with one death."""
        self.die(self.tubs[0], *self.deaths[0], talk_when_up=True)
        self.last_day()
        return self

    def first_day(self):
        """The broker comes to know us, and something is kept."""
        daemon = self.house.daemon(**self._wishes).up()
        self.talk.say(20)
        self.house.until(lambda store: store.counted() >= 20, "the first readings")
        assert 0 == daemon.stop()
        if any(point == "migration" for point, _ in self.deaths):
            of_an_earlier_schema(self.house.store)
        self.talk.start()

    def die(self, tub, point, nth, *, talk_when_up=False):
        """One run that ends at the point, with harm in one bin more."""
        daemon = self.house.daemon(kill=point, nth=nth, without=self.without, **self._wishes)
        if talk_when_up:
            daemon.up()
            self.talk.start()
        tub.say(self.talk)
        daemon.killed(point)
        self.at[point] += 1
        tub.go_on(self.talk)

    def last_day(self):
        """Nobody talks any more, and the daemon has all the time it needs; then it ends in order."""
        self.talk.stop()
        last = self.talk.say_last()
        daemon = self.house.daemon(without=self.without, **self._wishes).up()
        until(lambda: self.house.judged("json-v", last), "the last reading is judged", SOON)
        self.house.until(lambda store: not store.waiting(), "every notice is sent")
        self.before_the_end()
        assert 0 == daemon.stop()

    def before_the_end(self):
        """What else must have happened when the last daemon ends."""

    def faults(self):
        """Everything that is not as it must be, by kind; empty for a life without loss."""
        with self.house.kept() as store:
            found = of_readings(store, self.talk) | self._of_alarms(store) | self._of_notices(store)
        found["left at the broker"] = left_at_the_broker(self.broker)
        return {kind: what for kind, what in found.items() if what}

    def _of_alarms(self, store):
        steps = [t for t in store.transitions(limit=10**6) if t.key.condition == "hot"]
        raised = [t for t in steps if t.event == "raised"]
        at = {t.key.subject.id: t.at for t in raised}
        numbers = Counter(t.number for t in raised)
        standing = {a.number: a.key.subject.id for a in store.load().alarms if a.key.condition == "hot"}
        return {
            "raised": Counter(t.key.subject.id for t in raised) - Counter(t.id for t in self.tubs),
            "not raised": {t.id for t in self.tubs} - set(at),
            "raised at another time": {t.id for t in self.tubs if at.get(t.id, t.raised_at) != t.raised_at},
            "alarm numbers": [number for number, count in numbers.items() if count > 1],
            "alarms and transitions": set(standing.items()) ^ {(t.number, t.key.subject.id) for t in raised},
            "other steps": [t for t in steps if t.event != "raised"],
        }

    def _of_notices(self, store):
        heard = {"hook": drained(self.hook.arrived), "mail": drained(self.post.arrived)}
        unheard = {
            (channel, tub.id)
            for channel, texts in heard.items()
            for tub in self.tubs
            if not any(f"Tub {tub.id}" in text for text in texts)
        }
        told = Counter(
            d.alarm for d in store.decisions(limit=10**6) if d.event == "raised" and d.verdict == "told"
        )
        return {
            "untold": unheard,
            "not sent": {(p.notice.number, p.channel) for p in store.notices(10**6) if p.state != "sent"},
            "decided more than once": {alarm for alarm, count in told.items() if count > 1},
        }


def of_readings(store, talk):
    """What of all that the broker took is lost or kept more than once, by kind."""
    readings, undated = store.after(0), store.undated(10**9)
    dated = Counter((r.probe, r.at, round(r.value * 10_000)) for r in readings if r.probe not in TIMELESS)
    timeless = Counter((r.probe, round(r.value * 10_000)) for r in [*readings, *undated] if r.probe in TIMELESS)
    arrivals = Counter(r.arrival for r in [*readings, *undated])
    keys = Counter((r.probe, r.at) for r in readings)
    return {
        "lost": (talk.dated - dated) + (talk.timeless - timeless),
        "twice": (dated - talk.dated) + (timeless - talk.timeless),
        "keys": [key for key, count in keys.items() if count > 1],
        "arrival numbers": arrivals - Counter(range(1, len(readings) + len(undated) + 1)),
        "contradictions": store.contradictions(),
        "refused": store.refusal_counts(),
    }


def drained(queue):
    return [queue.get() for _ in range(queue.qsize())]


EARLIER = ("probe", "arrived", "reading", "moved", "undated", "contradiction", "refusal", "refused", "delivery")
"""The tables of the first step."""


def of_an_earlier_schema(path):
    """Make a store what it would be if only the first migration had ever been: the same readings, nothing else."""
    old = path.with_name("earlier.db")
    SqliteStore(path).close()  # nothing left in a WAL
    file = sqlite3.connect(old, isolation_level=None)
    try:
        file.execute(f"PRAGMA page_size = {migrations.PAGE}")
        file.execute("BEGIN")
        migrations._take(file, 1, migrations.STEPS[0], 0)
        file.execute("COMMIT")
        file.execute("ATTACH ? AS newer", (str(path),))
        for table in EARLIER:
            file.execute(f"INSERT INTO main.{table} SELECT * FROM newer.{table}")
        file.execute("DETACH newer")
    finally:
        file.close()
    for suffix in ("", "-wal", "-shm"):
        path.with_name(path.name + suffix).unlink(missing_ok=True)
    old.rename(path)
