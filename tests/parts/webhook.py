"""Receivers that take, refuse, keep silent, drip, or die: real sockets on 127.0.0.1.

What arrived is told as plain text (every word of the message, whatever form it was packed in).
"""

import json
import queue
import socket
import socketserver
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

SOON = 20.0


def take(request, text):
    request.answer(200)
    request.server.owner.arrived.put(text)


def refuse(status, **headers):
    def behave(request, _text):
        request.answer(status, **headers)

    return behave


def keep_silent(request, _text):
    request.server.owner.released.wait(SOON * 3)


def slow_but_sure(request, text):
    """Answers when it is released, and then well."""
    request.server.owner.released.wait(SOON * 3)
    take(request, text)


def drip(request, _text):
    """A good beginning of an answer, and then byte after byte for ever."""
    request.wfile.write(b"HTTP/1.1 200 OK\r\nX-So-Far: ")
    drip_into(request.connection, request.server.owner.released)


def die_midway(request, _text):
    """In the middle of its first line: nobody can know whether it would have been a yes."""
    request.wfile.write(b"HTTP/1.1 2")
    request.connection.shutdown(socket.SHUT_RDWR)


def garble(request, text):
    """Takes the message and says so, in an answer that breaks off."""
    request.wfile.write(b"HTTP/1.1 200 OK\r\nContent-Le")
    request.server.owner.arrived.put(text)
    request.connection.shutdown(socket.SHUT_RDWR)


def drip_into(connection, released):
    try:
        while not released.wait(0.02):
            connection.sendall(b"x")
    except OSError:
        pass  # the other side has had enough


class _Request(BaseHTTPRequestHandler):
    def do_POST(self):
        payload = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
        text = "\n".join(str(v) for v in payload.values())
        self.server.owner.tried.put(text)
        self.close_connection = True
        self.server.owner.behave(self, text)

    def do_GET(self):
        self.server.owner.tried.put("")
        self.close_connection = True
        self.answer(200)

    def answer(self, status, **headers):
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name, value)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, *_):
        pass


class QuietServer(ThreadingHTTPServer):
    daemon_threads = True

    def handle_error(self, *_):
        pass  # the caller went away in the middle; that is what many tests do


class Webhook:
    """`tried` is every request that came, `arrived` those that were taken, as text; both are queues."""

    def __init__(self, behave=take):
        self.behave = behave
        self.tried, self.arrived = queue.Queue(), queue.Queue()
        self.released = threading.Event()
        self._server = QuietServer(("127.0.0.1", 0), _Request)
        self._server.owner = self
        self.port = self._server.server_address[1]
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.02,), daemon=True)

    def url(self, path="hook", login=""):
        return f"json://{login}127.0.0.1:{self.port}/{path}"

    def texts(self, count):
        """The next so many that were taken."""
        return [self.arrived.get(timeout=SOON) for _ in range(count)]

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *_):
        self.released.set()
        self._server.shutdown()
        self._server.server_close()
        self._thread.join(SOON)


class _Caller(socketserver.BaseRequestHandler):
    def handle(self):
        self.server.called.set()
        self.request.sendall(self.server.greeting)
        drip_into(self.request, self.server.released)


class _Drips(socketserver.ThreadingTCPServer):
    daemon_threads = True

    def handle_error(self, *_):
        pass


class Dripper:
    """Greets, then sends byte after byte for ever, whatever the caller says; for any protocol by lines."""

    def __init__(self, greeting=b""):
        self._server = _Drips(("127.0.0.1", 0), _Caller)
        self._server.greeting = greeting
        self._server.called, self._server.released = threading.Event(), threading.Event()
        self.port = self._server.server_address[1]
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.02,), daemon=True)

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *_):
        self._server.released.set()
        self._server.shutdown()
        self._server.server_close()
        self._thread.join(SOON)


class Wall:
    """A port where connecting hangs: its queue of callers is full and nobody takes them off it."""

    def __enter__(self):
        self._listening = socket.socket()
        self._listening.bind(("127.0.0.1", 0))
        self._listening.listen(0)
        self.port = self._listening.getsockname()[1]
        self._callers = [socket.socket() for _ in range(4)]
        for caller in self._callers:
            caller.setblocking(False)
            caller.connect_ex(("127.0.0.1", self.port))
        return self

    def __exit__(self, *_):
        for held in (*self._callers, self._listening):
            held.close()


def closed_port():
    """A port on which nobody listens."""
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]
