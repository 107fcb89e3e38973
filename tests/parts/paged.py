"""A whole daemon with its page: real settings, a real broker, a store on disk, rounds twice a second."""

import json
import threading
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import paho.mqtt.client as mqtt
from paho.mqtt.enums import CallbackAPIVersion

from monitor import app
from monitor.rules import Rules
from monitor.settings import load
from monitor.store.sqlite import SqliteStore
from parts.mosquitto import Mosquitto, free_port
from parts.road import until

SITE = """
site: {id: yard, name: The back yard, timezone: Europe/Lisbon}
"""
BINS = """
places:
  shed: {name: Shed}
bins:
  fig:
    name: Fig tub
    species: eudrilus-eugeniae
    stands_in: shed
    worms: 1 kg
    bedding: 20 kg
    vessel: {kind: tub, floor: 0.4 m2, depth: 12 cm, drains: true, cover: loose}
    zones:
      near:
        probes:
          fig-near: {measures: temperature, topic: probes/fig-near, every: 1 min}
      far:
        probes:
          fig-far: {measures: temperature, topic: probes/fig-far, every: 1 min}
  plum:
    name: Plum trays
    species: eisenia-fetida
    stands_in: shed
    worms: 2 kg
    bedding: 30 kg
    zones:
      bed:
        probes:
          plum-bed: {measures: temperature, topic: probes/plum-bed, every: 1 min}
          plum-damp: {measures: moisture, topic: probes/plum-damp, sends: "%", every: 1 min}
mats:
  fig-mat: {power: 20 W, control: thermostat, set_to: 24 °C, warms: [fig.near]}
people:
  ana: {channels: screen}
channels:
  screen: {send_to: {from_env: SCREEN}}
"""
NOBODY = 0x10
ENVIRON = {"SCREEN": "json://screen.invalid", "PAGE_PASSPHRASE": "leaves under the snow"}


@dataclass
class Paged:
    """`address` is where the page is; `say` publishes as a probe does; `kept` reads what is stored."""

    address: str
    folder: Path
    broker: Mosquitto
    settings: Path
    stop: threading.Event
    thread: threading.Thread
    rules: Rules

    def say(self, topic, payload, times=1):
        """So often on one connection. What the daemon is to read is said again until it has subscribed: its page answers earlier,
        and the broker tells whether anybody listens (reason 0x10: MQTT 5.0, 3.4.2.1 [memory]).
        """
        heard = threading.Event()
        read = topic in self.settings.read_text()

        def answered(_client, _userdata, _mid, reason, _properties):
            if not read or reason.value != NOBODY:
                heard.set()

        client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5)
        client.on_publish = answered
        client.connect("127.0.0.1", self.broker.port)
        client.loop_start()
        told = payload if isinstance(payload, str | bytes) else json.dumps(payload)

        def said():
            client.publish(topic, told, qos=1).wait_for_publish(20)
            return heard.wait(0.05)

        until(said, f"somebody listens to {topic}", 60)
        for _ in range(times - 1):
            client.publish(topic, told, qos=1).wait_for_publish(20)
        client.disconnect()
        client.loop_stop()

    @contextmanager
    def kept(self):
        store = SqliteStore(self.folder / "kept.db", read_only=True)
        try:
            yield store
        finally:
            store.close()

    def until(self, fact, what, seconds=60.0):
        def asked():
            with self.kept() as store:
                return fact(store)

        until(asked, what, seconds)

    def end(self, seconds=20.0):
        """As SIGTERM ends it; true when it ended in time."""
        self.stop.set()
        self.thread.join(seconds)
        return not self.thread.is_alive()


@contextmanager
def paged(folder, *, bins=BINS, site=SITE, page="", environ=None, period=0.5, listen=None):
    """`page` are further keys of the page's settings, such as `passphrase: {from_env: PAGE_PASSPHRASE}`; `listen` is a port."""
    folder, port = Path(folder), listen or free_port()
    with Mosquitto() as broker:
        file = folder / "settings.yaml"
        file.write_text(
            f"{site}broker: {{url: mqtt://127.0.0.1:{broker.port}}}\nstore: {{path: {folder / 'kept.db'}}}\n"
            f"page: {{listen: '127.0.0.1:{port}'{', ' if page else ''}{page}}}\n{bins}"
        )
        settings, stop = load([file], environ=ENVIRON | (environ or {})), threading.Event()
        thread = threading.Thread(
            target=app.run, args=(settings,), kwargs={"stop": stop, "period": period}, daemon=True
        )
        thread.start()
        one = Paged(f"http://127.0.0.1:{port}", folder, broker, file, stop, thread, settings.rules)
        try:
            until(lambda: _answers(port), "the page answers", 60)
            yield one
        finally:
            assert one.end(), "the daemon did not end"


def _answers(port):
    import socket

    try:
        with socket.create_connection(("127.0.0.1", port), 1):
            return True
    except OSError:
        return False
