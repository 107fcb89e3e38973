"""A switch that follows, written as config/how-to/other-programs.md says that one has to be."""

import json
import threading
import time
from datetime import datetime

from parts.harm_house import client

AT_MOST = 600.0


class Follower:
    """`on` is whether its contact is closed now. `at_most` are the seconds after which it opens whatever was said."""

    def __init__(self, broker, topic, alive, *, at_most=AT_MOST):
        self._topic, self._alive, self._at_most = topic, alive, at_most
        self._until = 0.0
        self._lock = threading.Lock()
        self._client = client(broker, "follower")
        self._client.on_connect = lambda *_: self._client.subscribe([(topic, 1), (alive, 1)])
        self._client.on_message = self._heard
        self._client.connect("127.0.0.1", broker.port, keepalive=5)
        self._client.loop_start()

    @property
    def on(self):
        with self._lock:
            return time.time() < self._until

    def _heard(self, _client, _data, message):
        until = 0.0
        try:
            said = json.loads(message.payload)
            if message.topic == self._alive:
                if said["alive"] is True:
                    return
            elif said["on"] is True:
                end = datetime.fromisoformat(said["valid_until"]).timestamp()
                until = min(end, time.time() + self._at_most)
        except (ValueError, KeyError, TypeError):
            pass  # off for whatever is not understood
        with self._lock:
            self._until = until

    def close(self):
        self._client.loop_stop()
        self._client.disconnect()
