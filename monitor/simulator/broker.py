"""A broker inside this process, for the demo only: MQTT 3.1.1, nothing kept over a restart."""

from __future__ import annotations

import asyncio
import errno
import logging
import os
import threading
from collections.abc import Awaitable, Callable
from typing import Any

from monitor.errors import WireError

LOOPBACK = "127.0.0.1"


class EmbeddedBroker:
    """An amqtt broker on 127.0.0.1 in a thread of its own. Port 0 takes a free one."""

    def __init__(self, port: int = 0) -> None:
        self._asked = port
        self._port = 0
        self._failure: Exception | None = None
        self._ready = threading.Event()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._leave: asyncio.Event | None = None
        self._thread = threading.Thread(target=self._run, name="embedded-broker", daemon=True)

    def start(self, timeout: float = 15.0) -> int:
        """Listen; the port. Raises WireError when that is not possible."""
        self._thread.start()
        if not self._ready.wait(timeout):
            raise WireError(f"the embedded broker did not start within {timeout:g} s")
        if self._failure is not None:
            raise WireError(_why_not(self._asked, self._failure))
        return self._port

    def stop(self, timeout: float = 5.0) -> bool:
        """Close every connection and end; true when that was done in `timeout` seconds. Twice is no error."""
        if self._loop is not None and self._leave is not None and self._thread.is_alive():
            self._loop.call_soon_threadsafe(self._leave.set)
            self._thread.join(timeout)
        return not self._thread.is_alive()

    def _run(self) -> None:
        for chatty in ("amqtt", "transitions"):
            logging.getLogger(chatty).setLevel(logging.CRITICAL)
        try:
            asyncio.run(self._serve())
        except Exception as error:
            self._failure = error
        finally:
            self._ready.set()

    async def _serve(self) -> None:
        from amqtt.broker import Broker

        self._loop, self._leave = asyncio.get_running_loop(), asyncio.Event()
        broker: Any = Broker(
            {
                "listeners": {"default": {"type": "tcp", "bind": f"{LOOPBACK}:{self._asked}"}},
                "plugins": {"amqtt.plugins.authentication.AnonymousAuthPlugin": {"allow_anonymous": True}},
            }
        )
        broker.stream_connected = _closed_afterwards(broker.stream_connected)
        await broker.start()
        self._port = _port_of(broker)
        self._ready.set()
        await self._leave.wait()
        await broker.shutdown()
        left = asyncio.all_tasks() - {asyncio.current_task()}
        for task in left:
            task.cancel()
        await asyncio.gather(*left, return_exceptions=True)


def _why_not(port: int, failure: Exception) -> str:
    """Why it does not listen, in words that help; amqtt puts the system's words into its own."""
    if os.strerror(errno.EADDRINUSE).lower() in str(failure).lower():
        return f"port {port} is taken by another program: name another, or leave it out for a free one"
    return f"the embedded broker cannot listen on port {port}: {failure}"


def _closed_afterwards(serve: Callable[..., Awaitable[None]]) -> Callable[..., Awaitable[None]]:
    """amqtt leaves a connection open that ends before it has said who it is."""

    async def connected(reader: Any, writer: Any, listener_name: str) -> None:
        try:
            await serve(reader, writer, listener_name)
        finally:
            writer.close()

    return connected


def _port_of(broker: Any) -> int:
    """The port that a listener asked for as 0 was given; amqtt has no public word for it."""
    port: int = broker._servers["default"].instance.sockets[0].getsockname()[1]
    return port
