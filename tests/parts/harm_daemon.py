"""`vermistat run` as a process that can be hurt: killed with −9 by itself at a named point, held, blocked, or with
one of its protections taken away. Nothing of it stands in the product: what it needs is wrapped from outside.

Called as `harm_daemon.py SETTINGS WISHES`; `WISHES` is JSON, see `main`. What happens is said on standard error.
"""

import json
import logging
import os
import signal
import sys
import threading
import time
from contextlib import nullcontext
from dataclasses import replace
from functools import partial, wraps
from itertools import count
from pathlib import Path

from monitor import app, cli, nightly, shipping
from monitor.advice import follow
from monitor.beats import Beats
from monitor.cli.ending import SIGNALS
from monitor.clock import Machine, time_since_boot
from monitor.intake.again import Again
from monitor.intake.pump import Pump
from monitor.notify import send
from monitor.notify.outbox import Outbox
from monitor.store import connections, sqlite_keep, sqlite_shift
from monitor.store.migrations import STEPS, version_of
from monitor.store.sqlite import SqliteStore
from monitor.wire import Inbox, Wire
from monitor.wire.session import Session

MOVED_AT = 400
"""Readings in `arrived` before they are moved: often enough to be killed in the middle of it."""

STATEMENTS = {
    "INSERT INTO arrived": "batch",
    "INSERT INTO undated": "batch",
    "DELETE FROM arrived": "move",
    "INSERT INTO transition": "round",
    "UPDATE moved SET first_at": "putting right",
    "CREATE ": "migration",
    "INSERT INTO migration": "migration",
    "PRAGMA user_version =": "migration",
    "INSERT INTO taken_up": "taking up",
    "UPDATE counter SET next": "noting",
    "INSERT INTO pruned": "pruning",
    "DELETE FROM reading": "pruned",
}
"""Points that the writer's connection comes by: each of these statements, before it is executed."""

POINTS = {
    "migration": "in the middle of a migration",
    "keep": "a batch in hand, nothing of it written",
    "batch": "in the middle of writing a batch",
    "commit": "a batch written and not committed",
    "move": "in the middle of moving what has arrived",
    "kept": "between commit and acknowledgement",
    "acknowledging": "half of a batch acknowledged",
    "delay": "a delay begun and stored, its alarm not yet raised or ended",
    "round": "in the middle of a round's transaction",
    "sending": "a notice committed and not yet sent",
    "sent": "between sending and marking",
}

POINTS_OF_A_SHIFT = {
    "shifting": "the true time known, nothing put right yet",
    "putting right": "in the middle of putting times right",
    "shift commit": "times put right and not committed",
    "shifted": "times put right, the clock itself not yet",
}
"""Only a board without a clock comes by these."""


def say(words):
    os.write(2, f"harm: {words}\n".encode())


POINTS_OF_SHIPPING = {
    "ship": "a portion for the database in hand, nothing of it sent",
    "shipped": "a portion answered by the database, nothing of that noted",
    "noting": "about to note how far the sending has come",
    "pruning": "about to remove from the file what lies in the database",
    "pruned": "that noted, and not yet removed",
}
"""Only a site with a database comes by these."""


class Killer:
    """Kills this process at the `nth` arrival at `point`; other points are passed."""

    def __init__(self, point, nth):
        self.point, self.left = point, nth
        self._lock = threading.Lock()

    def next(self, point):
        """Whether the next arrival at this point is the last."""
        return point == self.point and self.left == 1

    def here(self, point):
        if point != self.point:
            return
        with self._lock:
            self.left -= 1
            if self.left == 0:
                say(f"killed at {point}")
                os.kill(os.getpid(), signal.SIGKILL)


def before(owner, name, arrive):
    """Call `arrive` with the same arguments before a method."""
    method = getattr(owner, name)

    @wraps(method)
    def wrapped(*args, **more):
        arrive(*args, **more)
        return method(*args, **more)

    setattr(owner, name, wrapped)


def after(owner, name, arrive):
    """Call `arrive` with the same arguments when a method has returned."""
    method = getattr(owner, name)

    @wraps(method)
    def wrapped(*args, **more):
        answer = method(*args, **more)
        arrive(answer, *args, **more)
        return answer

    setattr(owner, name, wrapped)


def name_the_points(killer):
    """Every point at which we may be killed."""
    after(connections.Connections, "_open", partial(_listen, killer))
    before(SqliteStore, "keep", lambda _store, _batch: killer.here("keep"))
    before(Wire, "acknowledge", lambda _wire, deliveries: deliveries and killer.here("kept"))
    before(SqliteStore, "shift", lambda *_: killer.here("shifting"))
    after(SqliteStore, "shift", lambda *_: killer.here("shifted"))
    after(SqliteStore, "take_up", lambda *_: killer.here("taken up"))
    before(SqliteStore, "sent", lambda *_: killer.here("sent"))
    before(send, "send", lambda *_, **__: killer.here("sending"))
    after(SqliteStore, "commit", lambda _none, _store, round_: _in_a_delay(round_) and killer.here("delay"))
    before(Session, "acknowledge", partial(_half, killer, Session.acknowledge))


def ship_at_once(killer, here):
    """Sends on without a pause, and removes from the file what is older than so many seconds after each portion."""
    from monitor.store import influx, influx_ship
    from monitor.store.influx_server import Server

    shipping.PROVEN_AFTER = 0
    influx_ship.PAUSE = influx_ship.BACKOFF = influx_ship.LONGEST_BACKOFF = 0.05
    influx.NOTED = 200
    before(Server, "write", lambda *_: killer.here("ship"))
    after(Server, "write", lambda *_: killer.here("shipped"))

    def prune(shipper):
        shipper._store.prune(shipper._now() - round(1000 * here), newest=4)

    influx_ship.Shipper._prune = prune


def _listen(killer, connection, _self, *, writing, mode="rwc"):
    inside = [""]

    def heard(sql):
        if sql.startswith("BEGIN"):
            inside[0] = ""
        for begin, point in STATEMENTS.items():
            if sql.startswith(begin):
                inside[0] = point
                killer.here(point)
        if sql == "COMMIT" and inside[0] == "batch":
            killer.here("commit")
        if sql == "COMMIT" and inside[0] == "putting right":
            killer.here("shift commit")

    if writing:
        connection.set_trace_callback(heard)


def _in_a_delay(round_):
    """Whether this round has begun an on-delay or an off-delay."""
    bodies = [json.loads(one.body) for one in round_.standing if one.kind == "condition" and one.body]
    return any(name in ("pending", "clearing") for name, _since, _began in bodies)


def _half(killer, acknowledge, session, deliveries):
    if len(deliveries) < 2:
        return
    if killer.next("acknowledging"):
        acknowledge(session, deliveries[: len(deliveries) // 2])
        _written(session)
    killer.here("acknowledging")


def _written(session):
    while session.wants_write:
        session.write()


# Holding and blocking


class Gate:
    """Shut until SIGUSR1 comes."""

    def __init__(self):
        self._open = threading.Event()
        signal.signal(signal.SIGUSR1, lambda *_: self._open.set())

    def hold(self, words):
        self._open.clear()
        say(words)
        self._open.wait()


def hold_the_first_batch(gate, messages):
    """The first batch is of so many messages at least, whatever asks for it sooner. It is kept only when the gate
    opens, the second only when the first is acknowledged.
    """
    batches, acknowledged, whole = count(), threading.Event(), threading.Event()

    def gather(pump):
        end = time.monotonic() + 60
        while 0 < len(pump._inbox) < messages and not whole.is_set() and time.monotonic() < end:
            pump._inbox.wait(messages, 1)
        if len(pump._inbox):
            whole.set()

    def arrive(_store, batch):
        number = next(batches)
        if number == 0:
            gate.hold(f"holding a batch of {len(batch.readings) + len(batch.undated)}")
        elif not acknowledged.wait(30):
            say("the first batch was never acknowledged")

    before(Pump, "_fill", gather)
    before(SqliteStore, "keep", arrive)
    after(Session, "acknowledge", lambda _none, session, _deliveries: (_written(session), acknowledged.set()))


def block(name_file):
    """At SIGUSR2 the thread whose name stands in the file stands still at its next sign of life, until SIGUSR1."""
    blocked, gate = [], Gate()
    signal.signal(signal.SIGUSR2, lambda *_: blocked.append(Path(name_file).read_text()))

    def arrive(_beats, name):
        if name in blocked:
            gate.hold(f"{name} stands still")
            blocked.remove(name)
            say(f"{name} goes on")

    before(Beats, "stamp", arrive)


def end_as_it_begins_to_wait():
    """SIGTERM comes while the main thread is on its way into waiting for it, and holds the lock of that."""
    run = app.run

    def wrapped(settings, *, stop, **more):
        wait = stop.wait

        def waiting(*seconds):
            with stop._cond:
                os.kill(os.getpid(), signal.SIGTERM)
            return wait(*seconds)

        stop.wait = waiting
        return run(settings, stop=stop, **more)

    app.run = wrapped


def machine_of(path):
    """Clocks as the file says at each look: `off` from the real wall, `boot`, the `base` of its time, `synced`."""

    def said(name):
        return json.loads(Path(path).read_text())[name]

    return Machine(
        wall=lambda: time.time_ns() // 1_000_000 + said("off"),
        ran=lambda: time_since_boot() - said("base"),
        synced=lambda: said("synced"),
        hardware=lambda: False,
        boot=lambda: said("boot"),
    )


# Protections taken away: each of these makes a daemon as somebody might have written it


def acknowledge_before_keeping():
    class Careless(Pump):
        def __init__(self, *, keep, acknowledge, **more):
            def acknowledged_first(batch):
                written.clear()
                acknowledge(self._hand.deliveries)
                written.wait(10)
                return keep(batch)

            super().__init__(keep=acknowledged_first, acknowledge=lambda _: None, **more)

    written = threading.Event()
    after(Session, "acknowledge", lambda _none, session, _deliveries: (_written(session), written.set()))
    app.Pump = Careless


def mark_before_sending():
    class Careless(Outbox):
        def __init__(self, *, store, send, now, **more):
            def marked_first(channel, post):
                store.sent(post.notice.number, channel, now())
                send(channel, post)

            super().__init__(store=store, send=marked_first, now=now, **more)

    app.Outbox = Careless


def wait_for_no_disk():
    connections.SYNCHRONOUS = "OFF"


def know_no_connections():
    def careless(session, deliveries):
        for one in deliveries:
            session._client.ack(one.packet, one.qos)

    Session.acknowledge = careless


def know_no_deliveries():
    SqliteStore.delivered = lambda _store, _limit=0: []


def know_again_without_the_flag():
    is_this = Again.is_this
    Again.is_this = lambda again, packet, mark, *, dup: is_this(again, packet, mark, dup=True)


def know_no_keys():
    sqlite_keep._kept_value = lambda *_: None


def batches_in_pieces():
    sqlite_keep.transaction = lambda _file: nullcontext()


def rounds_in_pieces():
    connections.transaction = lambda _file: nullcontext()


def shifts_in_pieces():
    sqlite_shift.transaction = lambda _file: nullcontext()


def migrations_in_pieces():
    def careless(file, path, now=0):
        for number, step in enumerate(STEPS[version_of(file, path) :], start=version_of(file, path) + 1):
            step(file)
            file.execute("INSERT INTO migration VALUES (?, ?, ?)", (number, step.__name__, now))
            file.execute(f"PRAGMA user_version = {number}")

    connections.bring_up_to_date = careless


def delays_in_memory():
    commit = SqliteStore.commit

    def careless(store, round_):
        commit(store, replace(round_, standing=[one for one in round_.standing if one.kind != "condition"]))

    SqliteStore.commit = careless


def note_before_sending():
    from monitor.store.influx import InfluxStore

    ship = InfluxStore._ship

    def careless(store, limit):
        mark, store._next = store._next, store.last_arrival() + 1
        store.note()
        store._next = mark
        return ship(store, limit)

    InfluxStore._ship = careless


def tell_mats_for_ever():
    publish = Wire.publish

    def careless(wire, topic, payload, *, expiry_s=None, **more):
        return publish(wire, topic, payload, expiry_s=None, **more)

    Wire.publish = careless


WITHOUT = {
    careless.__name__: careless
    for careless in (
        acknowledge_before_keeping,
        mark_before_sending,
        wait_for_no_disk,
        know_no_connections,
        know_no_deliveries,
        know_again_without_the_flag,
        know_no_keys,
        batches_in_pieces,
        rounds_in_pieces,
        shifts_in_pieces,
        migrations_in_pieces,
        delays_in_memory,
        note_before_sending,
        tell_mats_for_ever,
    )
}


def main(settings, wishes):
    """`kill` a point and at which arrival (`nth`); `without` protections; `hold` the first batch, of so many messages
    at least; `block` the thread named in a file; `machine` a file that says what its clocks say; `tell` what is
    received and acknowledged; `end` as soon as it waits for that; `bounds`, `flush` and `period` of the rounds in
    seconds; `here`, with a database, after how many seconds readings leave the file; `holds`, for how many seconds what a
    mat's switch is told holds; `nightly`, every how many seconds it is looked whether a backup is due.
    """
    wish = json.loads(wishes)
    sqlite_keep.STAGED = MOVED_AT
    sqlite_keep.STAGED_A_PROBE = 0
    # a library of the client's starts threads as it is imported: none of them may hear what tells us to end
    signal.pthread_sigmask(signal.SIG_BLOCK, SIGNALS)
    for careless in wish.get("without", ()):
        WITHOUT[careless]()
    killer = Killer(wish.get("kill"), wish.get("nth", 1))
    name_the_points(killer)
    if "here" in wish:
        ship_at_once(killer, wish["here"])
    if wish.get("hold"):
        hold_the_first_batch(Gate(), wish["hold"])
    if wish.get("block"):
        block(wish["block"])
    if wish.get("tell"):
        after(Inbox, "put", lambda *_: say("received"))
        after(Session, "acknowledge", lambda _none, session, _deliveries: (_written(session), say("acknowledged")))
    app.BOUNDS = wish.get("bounds", app.BOUNDS)
    app.FLUSH_WITHIN = wish.get("flush", app.FLUSH_WITHIN)
    if wish.get("end"):
        end_as_it_begins_to_wait()
    follow.VALID = round(1000 * wish["holds"]) if "holds" in wish else follow.VALID
    nightly.LOOKS_EVERY = wish.get("nightly", nightly.LOOKS_EVERY)
    logging.getLogger("monitor.rounds").setLevel(logging.DEBUG)  # every round, also one in which nothing moved
    machine = machine_of(wish["machine"]) if wish.get("machine") else None
    app.run = partial(app.run, period=wish.get("period", 0.2), machine=machine)
    return cli.main(["run", "--settings", settings])


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
