"""Speaks to a broker as real probes do."""

from __future__ import annotations

import threading
from typing import Any

from paho.mqtt.client import Client, ConnectFlags
from paho.mqtt.enums import CallbackAPIVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from monitor.errors import WireError


class Radio:
    """One MQTT 3.1.1 client for all simulated probes, QoS 1. What is said while the broker is away is kept."""

    def __init__(self, port: int, host: str = "127.0.0.1") -> None:
        self._host, self._port = host, port
        self._connected = threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2, client_id="simulated-probes")
        self._client.on_connect = self._on_connect
        self._client.reconnect_delay_set(min_delay=1, max_delay=4)

    def _on_connect(
        self, _client: Client, _data: Any, _flags: ConnectFlags, code: ReasonCode, _properties: Properties | None
    ) -> None:
        if not code.is_failure:
            self._connected.set()

    def open(self, timeout: float = 10.0) -> None:
        """Connect and wait for the broker's word. Raises WireError when it does not come in `timeout` seconds."""
        self._client.connect_async(self._host, self._port)
        self._client.loop_start()
        if not self._connected.wait(timeout):
            self.close()
            raise WireError(f"no broker answered on {self._host}:{self._port} within {timeout:g} s")

    def publish(self, topic: str, payload: bytes) -> None:
        """Say one thing; returns at once."""
        self._client.publish(topic, payload, qos=1)

    def close(self) -> None:
        """Leave the broker; closing twice is no error."""
        self._client.disconnect()
        self._client.loop_stop()
