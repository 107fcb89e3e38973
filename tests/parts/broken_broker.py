"""A broker that answers as it is told: for what a real one does only with another configuration or version.

Speaks MQTT 5 framing just far enough to accept or refuse a connection and its subscriptions.
"""

import socket
import threading


class BrokenBroker:
    """`connack` is the code of CONNACK and `suback` that of every subscription, None never answers. `to_v5` is
    what a client of MQTT 5 gets instead (empty: the connection is closed, None: nothing), so that only 3.1.1 gets
    in; `goodbye` is sent after the last SUBACK. With `hangs_up` every other connection is closed after its greeting
    and the rest once our marker shows that they are up. Use it in a `with`.
    """

    def __init__(self, *, connack=0, suback=1, properties=b"", to_v5=False, goodbye=b"", v5=True, hangs_up=False):
        self.hangs_up = hangs_up
        self.connack, self.suback, self.properties = connack, suback, properties
        self.to_v5, self.goodbye, self.v5 = to_v5, goodbye, v5 and to_v5 is False
        self.connections = 0
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port = self._server.getsockname()[1]
        threading.Thread(target=self._serve, daemon=True).start()

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self._server.close()

    def _serve(self):
        while True:
            try:
                client, _ = self._server.accept()
            except OSError:
                return
            self.connections += 1
            hangs_up = (0x10 if self.connections % 2 else 0x30) if self.hangs_up else None
            threading.Thread(target=self._talk, args=(client, hangs_up), daemon=True).start()

    def _talk(self, client, hangs_up):
        with client:
            try:
                while True:
                    kind, body = self._packet(client)
                    if kind == 0x10 and body[6] == 5 and self.to_v5 is not False:
                        if self.to_v5 is None:
                            continue
                        client.sendall(self.to_v5)
                        return
                    if kind == 0x10:
                        rest = bytes([0, self.connack])
                        if self.v5:
                            rest += bytes([len(self.properties)]) + self.properties
                        client.sendall(bytes([0x20, len(rest)]) + rest)
                        if self.connack:
                            return
                    elif kind == 0x80 and self.suback is not None:
                        client.sendall(self._granted(body) + self.goodbye)
                    elif kind == 0xA0:
                        answer = body[:2] + (b"\x00\x00" if self.v5 else b"")
                        client.sendall(bytes([0xB0, len(answer)]) + answer)
                    elif kind == 0xC0:
                        client.sendall(b"\xd0\x00")
                    if kind == hangs_up:
                        return
            except (OSError, EOFError):
                return

    def _granted(self, body):
        topics, rest = 0, body[3 if self.v5 else 2 :]  # packet identifier, no properties
        while rest:
            size = int.from_bytes(rest[:2])
            rest = rest[2 + size + 1 :]
            topics += 1
        answer = body[:2] + (b"\x00" if self.v5 else b"") + bytes([self.suback]) * topics
        return bytes([0x90, len(answer)]) + answer

    def _packet(self, client):
        kind = self._exactly(client, 1)[0] & 0xF0
        length = shift = 0
        while True:
            digit = self._exactly(client, 1)[0]
            length |= (digit & 127) << shift
            shift += 7
            if digit < 128:
                return kind, self._exactly(client, length)

    def _exactly(self, client, count):
        found = b""
        while len(found) < count:
            more = client.recv(count - len(found))
            if not more:
                raise EOFError
            found += more
        return found
