"""A web address that answers with a forecast, or fails to in every way that one can: a real server on 127.0.0.1."""

import json
import queue
import threading
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler

from monitor.readings import HOUR
from parts.webhook import SOON, QuietServer, drip_into


def body(start, warmth):
    """A document of hours from `start` (ms) on, one for each of `warmth` (°C)."""
    times = [
        datetime.fromtimestamp((start + n * HOUR) / 1000, UTC).isoformat().replace("+00:00", "Z")
        for n in range(len(warmth))
    ]
    return json.dumps({"hours": {"time": times, "celsius": list(warmth)}}).encode()


def says(text, status=200, **headers):
    """An answer with a length; `Retry_After` is the header Retry-After."""

    def behave(request):
        request.send_response(status)
        for name, value in headers.items():
            request.send_header(name.replace("_", "-"), value)
        request.send_header("Content-Length", str(len(text)))
        request.end_headers()
        request.wfile.write(text)

    return behave


def says_if_new(text, mark):
    """304 to whoever knows the mark already (RFC 9110 §15.4.5)."""

    def behave(request):
        known = request.headers.get("If-None-Match") == mark
        says(b"" if known else text, 304 if known else 200, ETag=mark)(request)

    return behave


def endless(request):
    """Zeros for ever, as fast as they are read."""
    request.send_response(200)
    request.end_headers()
    try:
        while not request.server.owner.released.is_set():
            request.wfile.write(b"0" * 65536)
    except OSError:
        pass  # the other side has had enough


def drips(request):
    """Byte after byte, for ever."""
    request.send_response(200)
    request.end_headers()
    drip_into(request.connection, request.server.owner.released)


def breaks_off(request):
    """A part of what it says is to come."""
    request.send_response(200)
    request.send_header("Content-Length", "5000")
    request.end_headers()
    request.wfile.write(b'{"hours": ')


class _Request(BaseHTTPRequestHandler):
    def do_GET(self):
        self.server.owner.asked.put((self.path, dict(self.headers)))
        self.close_connection = True
        self.server.owner.behave(self)

    def log_message(self, *_):
        pass


class WeatherService:
    """`asked` holds (path, headers) of each request; with `tls`, a context, it speaks https."""

    def __init__(self, behave=None, *, tls=None):
        self.behave = behave
        self.asked, self.released = queue.Queue(), threading.Event()
        self._server = QuietServer(("127.0.0.1", 0), _Request)
        self._server.owner = self
        if tls is not None:
            self._server.socket = tls.wrap_socket(self._server.socket, server_side=True)
        self.url = f"{'https' if tls else 'http'}://127.0.0.1:{self._server.server_address[1]}/next"
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.02,), daemon=True)

    def next(self):
        """The next request: (path, headers)."""
        return self.asked.get(timeout=SOON)

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *_):
        self.released.set()
        self._server.shutdown()
        self._server.server_close()
        self._thread.join(SOON)
