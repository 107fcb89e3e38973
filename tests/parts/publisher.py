"""A publisher that speaks just enough MQTT 3.1.1 over a bare socket: fast, QoS 1, every PUBACK awaited."""

import socket
import struct


def _length(n):
    out = bytearray()
    while True:
        n, digit = divmod(n, 128)
        out.append(digit | (0x80 if n else 0))
        if not n:
            return bytes(out)


def _text(text):
    raw = text.encode()
    return struct.pack("!H", len(raw)) + raw


def publish(port, messages, *, qos=1, retain=False, client="tests-publisher", host="127.0.0.1"):
    """Publish (topic, payload bytes) pairs in order and return when the broker has acknowledged them all."""
    body = _text("MQTT") + bytes([4, 2]) + struct.pack("!H", 60) + _text(client)
    with socket.create_connection((host, port), 10) as s:
        s.sendall(b"\x10" + _length(len(body)) + body)
        assert s.recv(4)[3] == 0, "the broker refuses the publisher"
        messages = list(messages)
        for start in range(0, len(messages), 500):
            _burst(s, messages[start : start + 500], qos, retain)
        s.sendall(b"\xe0\x00")


def _burst(s, messages, qos, retain):
    out = bytearray()
    for packet, (topic, payload) in enumerate(messages, 1):
        body = _text(topic) + (struct.pack("!H", packet) if qos else b"") + payload
        out += bytes([0x30 | qos << 1 | retain]) + _length(len(body)) + body
    s.sendall(out)
    due = 4 * len(messages) if qos else 0
    while due:
        got = len(s.recv(min(due, 65536)))
        assert got, "the broker closed the publisher's connection"
        due -= got
