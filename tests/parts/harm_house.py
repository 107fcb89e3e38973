"""A whole site for the tests that kill it: settings, a broker, a web hook, a mail server, and the daemon's process."""

import json
import os
import queue
import signal
import socket
import subprocess
import sys
import threading
from contextlib import contextmanager
from pathlib import Path

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from monitor.store.influx import InfluxStore
from monitor.store.influx_server import Server
from monitor.store.sqlite import SqliteStore
from parts import harm_daemon
from parts.road import until

ROOT = Path(__file__).parents[2]
SOON = 60.0
QUEUE = "max_queued_messages 0\nautosave_interval 1800"
"""No limit to what waits while nobody listens, and nothing saved before the broker ends in order."""
USERS = {"vermistat": "castings-and-leaves", "probe": "wet-cardboard"}


class HarmDaemon:
    """One process of it. What it says goes to a file, which is read while it lives."""

    def __init__(self, settings, log, *, environ=None, **wishes):
        self._log = Path(log)
        with self._log.open("wb") as said:
            self.process = subprocess.Popen(
                [sys.executable, harm_daemon.__file__, str(settings), json.dumps(wishes)],
                env=os.environ | {"PYTHONPATH": str(ROOT)} | (environ or {}),
                stderr=said,
            )

    def log(self):
        return self._log.read_text(errors="replace")

    def says(self, words, count=1):
        """Wait until it has said so, so often."""
        until(lambda: self.log().count(words) >= count or self.process.poll() is not None, words, SOON)
        assert self.log().count(words) >= count, self.log()
        return self

    def up(self, count=1):
        return self.says("broker up", count)

    def killed(self, point):
        """Wait for its death by its own hand, at the point that was asked for."""
        code = self.process.wait(SOON)
        assert (-9, 1) == (code, self.log().count(f"harm: killed at {point}")), self.log()

    def kill(self):
        self.process.kill()
        assert -9 == self.process.wait(SOON), self.log()

    def tell(self, number):
        self.process.send_signal(number)

    def stop(self, seconds=SOON):
        """SIGTERM; the exit code, which must come within the seconds."""
        self.tell(signal.SIGTERM)
        return self.process.wait(seconds)


class House:
    """`settings` is the text of the bins and what else there is; site, broker, store and channels are written here.
    `channels` maps ids to Apprise URLs; whoever is told sleeps never. Readings go on to a `database` if there is one.
    """

    def __init__(self, folder, broker, bins, *, channels=None, protocol="auto", store=None, database=None):
        self.folder, self.broker = Path(folder), broker
        self.store = Path(store or self.folder / "kept.db")
        self.settings = self.folder / "site.yaml"
        self._channels = channels or {}
        self._database = database
        self._runs = []
        self.settings.write_text(self._head(protocol) + self._told() + bins)

    def _head(self, protocol):
        secure = self.broker.ca_file is not None
        url = f"mqtts://localhost:{self.broker.port}" if secure else f"mqtt://127.0.0.1:{self.broker.port}"
        login = f", user: vermistat, password: {{from_env: HARM_BROKER}}, ca_file: {self.broker.ca_file}"
        return (
            "site: {id: yard, name: The yard, timezone: Europe/Lisbon}\n"
            f'broker: {{url: "{url}", protocol: "{protocol}"{login if secure else ""}}}\n'
            f"store: {{path: {self.store}}}\n"
            + (
                f"database: {{url: '{self._database.url}', bucket: {self._database.bucket}}}\n"
                if self._database
                else ""
            )
        )

    def _told(self):
        if not self._channels:
            return ""
        each = "".join(f"  {name}: {{send_to: {{from_env: HARM_{name.upper()}}}}}\n" for name in self._channels)
        return f"people: {{ines: {{channels: [{', '.join(self._channels)}]}}}}\nchannels:\n{each}"

    def secrets(self):
        return {"HARM_BROKER": USERS["vermistat"]} | {f"HARM_{n.upper()}": u for n, u in self._channels.items()}

    def daemon(self, *, environ=None, **wishes):
        """Start it; it is ended with the house at the latest."""
        run = HarmDaemon(
            self.settings,
            self.folder / f"log-{len(self._runs)}",
            environ=self.secrets() | (environ or {}),
            **wishes,
        )
        self._runs.append(run)
        return run

    @contextmanager
    def kept(self):
        """What is kept, read beside the daemon."""
        store = self._opened()
        try:
            yield store
        finally:
            store.close()

    def _opened(self):
        if self._database is None:
            return SqliteStore(self.store, read_only=True)
        return InfluxStore(self.store, Server(self._database), "yard", read_only=True)

    def ask(self, question):
        """One question to what is kept; None while there is nothing to ask."""
        if not self.store.exists():
            return None
        with self.kept() as store:
            return question(store)

    def until(self, fact, what):
        """Wait until something is true of what is kept."""
        until(lambda: self.ask(fact), what, SOON)

    def judged(self, probe, at):
        """Whether a round has seen the reading of this time."""

        def fact(store):
            found = store.window(probe, at, at + 1)
            rounds = store.rounds(1)
            return bool(found and rounds and rounds[0].upto_arrival >= found[0].arrival)

        return self.ask(fact)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        for run in self._runs:
            if run.process.poll() is None:
                run.process.kill()
                run.process.wait()


class Listening:
    """A socket as systemd's. What is said to it is taken at once, as systemd does: it holds ten datagrams."""

    def __init__(self, path):
        self.path = str(path)
        self._said = queue.SimpleQueue()
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._socket.bind(self.path)
        self._thread = threading.Thread(target=self._listen, daemon=True)

    def _listen(self):
        while said := self._socket.recv(1000):
            self._said.put(said.decode())

    def next(self):
        return self._said.get(timeout=SOON)

    def waiting(self):
        """Everything that was said since the last look."""
        return [self._said.get() for _ in range(self._said.qsize())]

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *_):
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as last:
            last.sendto(b"", self.path)
        self._thread.join(SOON)
        self._socket.close()


def client(broker, name, *, protocol=mqtt.MQTTv5, user="probe"):
    """A paho client that is not ours and may log in."""
    session = {} if protocol == mqtt.MQTTv5 else {"clean_session": False}
    one = mqtt.Client(CallbackAPIVersion.VERSION2, client_id=name, protocol=protocol, **session)
    if broker.ca_file is not None:
        one.tls_set(ca_certs=broker.ca_file)
        one.username_pw_set(user, USERS[user])
    return one


def left_at_the_broker(broker, topic="vermistat/yard/marker"):
    """What the broker still holds for the daemon, which must have ended: payloads of messages that were never
    acknowledged. They are not acknowledged here either.
    """
    found, end, met = [], threading.Event(), []
    one = client(broker, "vermistat", protocol=mqtt.MQTTv311, user="vermistat")
    one.manual_ack_set(True)

    def on_connect(_client, _data, flags, reason, _properties):
        met.append((str(reason), flags.session_present))
        one.subscribe(topic, 1)

    def on_message(_client, _data, message):
        if message.topic != topic:
            found.append(message.payload)
        elif message.payload == b"behind everything":
            end.set()

    one.on_connect, one.on_message = on_connect, on_message
    one.on_subscribe = lambda *_: one.publish(topic, b"behind everything", 1)
    one.connect("localhost" if broker.ca_file else "127.0.0.1", broker.port)
    one.loop_start()
    try:
        assert end.wait(SOON), f"the broker never sent the end of its queue: {met}"
        assert [("Success", True)] == met, "the broker knows no session of the daemon"
    finally:
        one.loop_stop()
        one.disconnect()
    return found


def signalled(broker, number):
    """Send the broker's process a signal: SIGSTOP freezes it, SIGUSR1 makes Mosquitto save what it knows."""
    broker._process.send_signal(number)


def saved(broker):
    """What the broker knows at this moment, in a file that it goes back to after a power cut; its bytes."""
    file = broker.folder / "mosquitto.db"
    before = file.stat().st_mtime_ns if file.exists() else 0
    signalled(broker, signal.SIGUSR1)
    until(lambda: file.exists() and file.stat().st_mtime_ns != before, "the broker saves what it knows", SOON)
    return file.read_bytes()
