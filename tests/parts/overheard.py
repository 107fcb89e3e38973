"""A client that is not ours, hearing what the daemon tells other programs."""

import json
import secrets
import threading
from contextlib import contextmanager

import paho.mqtt.client as mqtt

from parts.harm_house import SOON, client
from parts.road import until

V5, V311 = mqtt.MQTTv5, mqtt.MQTTv311


class Heard:
    """What came, as (topic, payload, whether the broker had kept it), in order."""

    def __init__(self):
        self.messages = []

    def of(self, topic):
        """What came on a topic: dicts, and None for an empty payload."""
        return [json.loads(body) if body else None for t, body, _ in list(self.messages) if t == topic]

    def last(self, topic):
        return (self.of(topic) or [None])[-1]

    def wait(self, topic, fact, what):
        """Wait until `fact` holds of the last message of a topic; give that."""
        until(lambda: self.of(topic) and fact(self.last(topic)), what, SOON)
        return self.last(topic)


@contextmanager
def listening(broker, topics="vermistat/yard/#", *, protocol=V5):
    """Hear what is said on these topics from now on, and what the broker has kept of it. All of that is here when this
    begins: a word of our own comes behind it.
    """
    heard, there = Heard(), threading.Event()
    one = client(broker, f"listener-{secrets.token_hex(4)}", protocol=protocol)
    behind = topics.replace("#", "overheard").replace("+", "overheard")

    def on_message(_client, _data, message):
        if message.topic == behind:
            there.set()
        else:
            heard.messages.append((message.topic, message.payload, bool(message.retain)))

    one.on_connect = lambda *_: one.subscribe(topics, 1)
    one.on_subscribe = lambda *_: one.publish(behind, b"x", 1)
    one.on_message = on_message
    one.connect("localhost" if broker.ca_file else "127.0.0.1", broker.port)
    one.loop_start()
    try:
        assert there.wait(SOON), "the broker does not answer"
        yield heard
    finally:
        one.disconnect()
        one.loop_stop()


def kept(broker, topics="vermistat/yard/#", *, protocol=V5):
    """What the broker has kept, by topic."""
    with listening(broker, topics, protocol=protocol) as heard:
        return {topic: json.loads(body) for topic, body, retained in heard.messages if retained}
