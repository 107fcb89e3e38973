"""Real database servers on free ports, started by the tests.

Debian's InfluxDB is older than the write path that all newer versions share, so a small door before it takes
`/api/v2/write` for `/write` and a token `user:password` for basic authentication; everything else passes as it is.
"""

import base64
import contextlib
import shutil
import signal
import socket
import subprocess
import tempfile
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from monitor.addresses import Database, Secret
from parts.mosquitto import free_port

CONFIG = """
reporting-disabled = true
bind-address = "127.0.0.1:{rpc}"
[meta]
  dir = "{folder}/meta"
[data]
  dir = "{folder}/data"
  wal-dir = "{folder}/wal"
[monitor]
  store-enabled = false
[http]
  bind-address = "127.0.0.1:{port}"
  log-enabled = false
  auth-enabled = {auth}
"""


class _Process:
    """One server process on `port`, in a folder of its own."""

    def __init__(self):
        self.folder = Path(tempfile.mkdtemp(prefix="vermistat-database-"))
        self.port = free_port()
        self._process = None

    def command(self):
        raise NotImplementedError

    def start(self):
        with (self.folder / "log").open("ab") as log:
            self._process = subprocess.Popen(self.command(), stdout=log, stderr=log)
        until = time.monotonic() + 20
        while time.monotonic() < until and self._process.poll() is None:
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port), 1):
                return self
            time.sleep(0.01)
        raise RuntimeError("the database does not listen:\n" + (self.folder / "log").read_text(errors="replace"))

    def stop(self, how=signal.SIGTERM):
        if self._process is not None:
            self._process.send_signal(how)
            self._process.wait(30)
            self._process = None

    def freeze(self):
        """It holds its connections and answers nothing."""
        self._process.send_signal(signal.SIGSTOP)

    def thaw(self):
        self._process.send_signal(signal.SIGCONT)

    def url(self, path, **query):
        return f"http://127.0.0.1:{self.port}{path}?{urllib.parse.urlencode(query)}"

    def __enter__(self):
        return self.start()

    def __exit__(self, *_):
        if self._process is not None:
            self.thaw()
            self.stop(signal.SIGKILL)
        shutil.rmtree(self.folder, ignore_errors=True)


class Influx(_Process):
    """InfluxDB behind its door. `users` is (name, password) of an administrator, or None for no authentication."""

    def __init__(self, *, user=None):
        super().__init__()
        self._user = user
        self._door = None
        self.tells_version = True
        self.said = None
        """When set: (status, body) the door answers to every request instead of asking the server."""

    def command(self):
        text = CONFIG.format(
            rpc=free_port(), folder=self.folder, port=self.port, auth=str(bool(self._user)).lower()
        )
        (self.folder / "influx.conf").write_text(text)
        return ["influxd", "run", "-config", str(self.folder / "influx.conf")]

    def __enter__(self):
        super().__enter__()
        self._door = ThreadingHTTPServer(("127.0.0.1", 0), _door_of(self))
        self._door.daemon_threads = True
        threading.Thread(target=self._door.serve_forever, daemon=True).start()
        if self._user:
            self.query(f"CREATE USER {self._user[0]} WITH PASSWORD '{self._user[1]}' WITH ALL PRIVILEGES")
        return self

    def __exit__(self, *how):
        self._door.shutdown()
        self._door.server_close()
        super().__exit__(*how)

    @property
    def address(self):
        return f"http://127.0.0.1:{self._door.server_address[1]}"

    def database(self, name="worms", **more):
        """Make a database in it, and say where it is."""
        self.query(f'CREATE DATABASE "{name}"')
        token = Secret(":".join(self._user)) if self._user else None
        return Database(self.address, name, **({"token": token} | more))

    def query(self, text, name=""):
        """What the server itself answers, without our code."""
        import json

        request = urllib.request.Request(
            self.url("/query", db=name, epoch="ms"), data=urllib.parse.urlencode({"q": text}).encode()
        )
        if self._user and not text.startswith("CREATE USER"):
            request.add_header("Authorization", _basic(":".join(self._user)))
        with urllib.request.urlopen(request, timeout=20) as answer:
            (result,) = json.load(answer)["results"]
        assert "error" not in result, result
        return result.get("series", [])

    def write(self, name, lines):
        """Lines with times in milliseconds, without our code."""
        request = urllib.request.Request(self.url("/write", db=name, precision="ms"), data=lines)
        request.add_header("Content-Type", "text/plain")
        if lines[:2] == b"\x1f\x8b":
            request.add_header("Content-Encoding", "gzip")
        if self._user:
            request.add_header("Authorization", _basic(":".join(self._user)))
        urllib.request.urlopen(request, timeout=20).close()


def _basic(pair):
    return "Basic " + base64.b64encode(pair.encode()).decode()


def _door_of(server):
    class Door(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def do_POST(self):
            body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
            if server.said is not None:
                return self._answer(server.said[0], {}, server.said[1])
            path, _, query = self.path.partition("?")
            if path == "/api/v2/write":
                asked = dict(urllib.parse.parse_qsl(query))
                name, _, policy = asked["bucket"].partition("/")
                query = urllib.parse.urlencode({"db": name, "rp": policy, "precision": asked["precision"]})
                path = "/write"
            headers = {k: v for k, v in self.headers.items() if k.lower() in ("content-type", "content-encoding")}
            token = self.headers.get("Authorization", "")
            if token.startswith("Token ") and ":" in token:
                headers["Authorization"] = _basic(token.removeprefix("Token "))
            url = f"http://127.0.0.1:{server.port}{path}?{query}"
            try:
                request = urllib.request.Request(url, body or None, headers, method=self.command)
                with urllib.request.urlopen(request, timeout=60) as answer:
                    self._answer(answer.status, answer.headers, answer.read())
            except urllib.error.HTTPError as error:
                with error:
                    self._answer(error.code, error.headers, error.read())
            except OSError:
                self.close_connection = True

        do_GET = do_POST  # noqa: N815

        def _answer(self, status, headers, body):
            self.send_response(status)
            self.send_header("Content-Type", headers.get("Content-Type") or "application/json")
            if server.tells_version and headers.get("X-Influxdb-Version"):
                self.send_header("X-Influxdb-Version", headers["X-Influxdb-Version"])
            if status != 204:
                self.send_header("Content-Length", str(len(body)))
            self.end_headers()
            if status != 204:
                self.wfile.write(body)

        def log_message(self, *_):
            pass

    return Door


class Victoria(_Process):
    """VictoriaMetrics: takes the version-2 write path as it is. What it has answered is in its memory only, for seconds."""

    def command(self):
        return [
            "victoria-metrics", f"-storageDataPath={self.folder}/data", f"-httpListenAddr=127.0.0.1:{self.port}",
            "-retentionPeriod=100y", "-search.latencyOffset=0s",
        ]  # fmt: skip

    def database(self):
        return Database(f"http://127.0.0.1:{self.port}", "worms")

    def exported(self, series):
        """What it holds of a series, read back by its own export: {labels: [(at, value)]}."""
        import json

        urllib.request.urlopen(self.url("/internal/force_flush"), timeout=20).close()
        with urllib.request.urlopen(self.url("/api/v1/export", **{"match[]": series}), timeout=20) as answer:
            rows = [json.loads(line) for line in answer.read().splitlines()]
        return {
            tuple(sorted(row["metric"].items())): list(zip(row["timestamps"], row["values"], strict=True))
            for row in rows
        }
