"""The web server, in a thread of its own. It never keeps the daemon from watching: what it cannot do is logged."""

from __future__ import annotations

import logging
import socket
import threading
from typing import TYPE_CHECKING

import uvicorn
from anyio import to_thread

from monitor.addresses import Page
from monitor.clock import Patience
from monitor.web.desk import Desk

if TYPE_CHECKING:
    from starlette.applications import Starlette

log = logging.getLogger(__name__)

BACKLOG = 64
AT_ONCE = 64
"""Connections that are open at once; more are refused with 503 until some end."""
AT_WORK = 4
"""Pages that are made at a time; each thread keeps a connection to the store with pages of its own."""
LEAVES_WITHIN = 1.0
"""Seconds that answers under way may take when we end."""


class _Server(uvicorn.Server):
    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        to_thread.current_default_thread_limiter().total_tokens = AT_WORK
        await super().startup(sockets)


class Serving:
    """Serves the page at `where` until it is stopped. `trouble` is why it does not, None when it does."""

    def __init__(self, app: Starlette, desk: Desk, where: Page) -> None:
        self._desk, self._where = desk, where
        self.trouble: str | None = None
        self.port = where.port
        """Where it listens; of port 0 the one that was free."""
        self._server = _Server(
            uvicorn.Config(
                app,
                http="h11",
                ws="none",
                lifespan="off",
                log_config=None,
                access_log=False,
                server_header=False,
                date_header=True,
                proxy_headers=False,
                limit_concurrency=AT_ONCE,
                timeout_graceful_shutdown=1,
                timeout_keep_alive=10,
            )
        )
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Listen. What is in the way is logged and stands in `trouble`."""
        try:
            listens = self._bound()
        except OSError as error:
            reason = (error.strerror or str(error)).lower()
            self.trouble = f"{self._where.host}:{self._where.port}: {reason}"
            log.error("the page cannot be served at %s; Vermistat watches on without it", self.trouble)
            return
        self.port = listens.getsockname()[1]
        self._thread = threading.Thread(target=self._serve, args=(listens,), name="page", daemon=True)
        self._thread.start()

    def _bound(self) -> socket.socket:
        [(family, kind, protocol, _, address), *_] = socket.getaddrinfo(
            self._where.host, self._where.port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )
        listens = socket.socket(family, kind, protocol)
        try:
            listens.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            listens.bind(address)
            listens.listen(BACKLOG)
        except OSError:
            listens.close()
            raise
        return listens

    def _serve(self, listens: socket.socket) -> None:
        with listens:
            try:
                self._server.run(sockets=[listens])
            except Exception:
                self.trouble = "the server broke down"
                log.exception("the page is no longer served; Vermistat watches on without it")

    def started(self, within: float = 10.0) -> bool:
        """Whether it answers by now, waiting a little for it."""
        patience, never = Patience(), threading.Event()
        end = patience.now() + within
        while self._thread is not None and self._thread.is_alive() and patience.now() < end:
            if self._server.started:
                return True
            patience.wait(never, 0.01)
        return False

    def stop(self, timeout: float = LEAVES_WITHIN) -> None:
        """Answer nothing new and end; open live pages end first. Stopping twice is no error."""
        if self._thread is None:
            return
        self._desk.close()
        self._server.should_exit = True
        self._thread.join(timeout)
        if self._thread.is_alive():
            self._server.force_exit = True
            self._thread.join(timeout)
