"""How fast a queue that waited at the broker becomes durable and acknowledged, against two others.

The queue waits in a persistent QoS 1 session of a real Mosquitto under deploy/mosquitto/vermistat.conf. Compared:
a bare paho subscriber that counts (the ceiling) and the naive script (one insert and commit a message). Each runs
in its own process against its own broker, in alternating order; rates are medians. Afterwards the session must be
empty and every row must be there.
"""

import argparse
import json
import random
import statistics
import subprocess
import sys
import tempfile
import threading
from pathlib import Path

import paho.mqtt.client as mqtt
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from parts.mosquitto import Mosquitto
from parts.publisher import publish

HERE = Path(__file__).parent
CONF = (HERE.parents[1] / "deploy" / "mosquitto" / "vermistat.conf").read_text()
TOPICS = [f"probes/p{i}" for i in range(8)]


def json_messages(count):
    """Eight probes wandering in steps of a 12-bit chip, once a minute, with their own time."""
    rng, at, values = random.Random(7), 1_790_000_000, [20.0 + i for i in range(8)]
    for n in range(count):
        i = n % 8
        values[i] += rng.choice((-1, 0, 1)) / 16
        body = {"temperature": values[i], "at": at + 60 * (n // 8)}
        yield TOPICS[i], json.dumps(body).encode()


def plain_messages(count):
    for topic, body in json_messages(count):
        yield topic, str(json.loads(body)["temperature"]).encode()


def session(port, *, check):
    """Make the session, or look whether it is empty; how many messages waited in it."""
    client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, client_id="vermistat", protocol=mqtt.MQTTv5)
    waited, done = [], threading.Event()

    def on_connect(client, _data, flags, _reason, _properties):
        assert flags.session_present == check
        client.subscribe([(t, 1) for t in [*TOPICS, "bench/end"]])

    def on_message(_client, _data, message):
        done.set() if message.topic == "bench/end" else waited.append(message.mid)

    client.on_connect, client.on_message = on_connect, on_message
    client.on_subscribe = lambda c, *_: c.publish("bench/end", b"x", 1)
    wishes = Properties(PacketTypes.CONNECT)
    wishes.SessionExpiryInterval = 7 * 24 * 3600
    client.connect("127.0.0.1", port, 60, clean_start=False, properties=wishes)
    client.loop_start()
    assert done.wait(60)
    client.disconnect()
    client.loop_stop()
    return len(waited)


def run(variant, count):
    """Messages a second of one variant, and what else it tells."""
    script, kind = {
        "bare": ("intake_bare.py", "json"),
        "naive": ("intake_naive.py", "json"),
        "ours": ("intake_ours.py", "json"),
        "ours-plain": ("intake_ours.py", "plain"),
    }[variant]
    messages = list(json_messages(count) if kind == "json" else plain_messages(count))
    with Mosquitto(CONF) as broker, tempfile.TemporaryDirectory(dir=ARGS.folder) as folder:
        session(broker.port, check=False)
        publish(broker.port, messages)
        command = [sys.executable, HERE / script, str(broker.port), str(count), f"{folder}/kept.db", kind]
        told = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
        assert told["rows"] == count, told
        left = session(broker.port, check=True)
        # In the two scripts the goodbye, sent from the last message's callback, overtakes its acknowledgement.
        assert left <= (variant in ("bare", "naive")), f"{variant} left {left} messages unacknowledged"
    return {"rate": count / told["seconds"], "cpu_us": told["cpu"] / count * 1e6, **told}


def main():
    variants = ["ours", "bare"]
    runs = {name: [] for name in [*variants, "naive", "ours-plain"]}
    for pair in range(ARGS.pairs):
        for name in variants if pair % 2 else variants[::-1]:
            runs[name].append(run(name, ARGS.messages))
        runs["naive"].append(run("naive", ARGS.naive_messages))
    runs["ours-plain"] = [run("ours-plain", ARGS.messages) for _ in range(min(3, ARGS.pairs))]
    rate = {name: statistics.median(r["rate"] for r in many) for name, many in runs.items()}
    print(f"{'variant':12}{'messages/s':>12}{'least':>9}{'most':>9}{'CPU µs/msg':>12}{'runs':>6}")
    for name, many in runs.items():
        rates, cpu = [r["rate"] for r in many], statistics.median(r["cpu_us"] for r in many)
        print(f"{name:12}{rate[name]:12,.0f}{min(rates):9,.0f}{max(rates):9,.0f}{cpu:12.0f}{len(many):6}")
    pairs = zip(runs["ours"], runs["bare"], strict=True)
    print(
        json.dumps(
            {
                "bench": "intake",
                "messages": ARGS.messages,
                "ratio_to_bare": round(rate["ours"] / rate["bare"], 3),
                "ratio_to_bare_median_of_pairs": round(
                    statistics.median(o["rate"] / b["rate"] for o, b in pairs), 3
                ),
                "ratio_to_naive": round(rate["ours"] / rate["naive"], 2),
                "rates": {name: round(r) for name, r in rate.items()},
                "commits": statistics.median(r["commits"] for r in runs["ours"]),
            }
        )
    )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--messages", type=int, default=20_000)
    parser.add_argument("--naive-messages", type=int, default=5_000)
    parser.add_argument("--pairs", type=int, default=5)
    parser.add_argument("--folder", help="where the stores lie while they are filled (a temporary folder)")
    ARGS = parser.parse_args()
    main()
