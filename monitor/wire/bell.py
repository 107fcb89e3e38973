"""Wakes a thread that waits on sockets."""

from __future__ import annotations

import socket


class Bell:
    """To be waited on like a socket once it is open. `ring` may be called from any thread, at any time."""

    def __init__(self) -> None:
        self._ends: tuple[socket.socket, socket.socket] | None = None

    def open(self) -> None:
        """Begin to listen."""
        heard, struck = socket.socketpair()
        heard.setblocking(False)
        struck.setblocking(False)
        self._ends = heard, struck

    def fileno(self) -> int:
        """What `select` wants."""
        return self._ends[0].fileno() if self._ends else -1

    def ring(self) -> None:
        """Wake whoever waits."""
        ends = self._ends
        if ends is not None:
            try:
                ends[1].send(b"\0")
            except OSError:  # rung many times already, or closed
                return

    def hush(self) -> None:
        """Forget that it was rung."""
        ends = self._ends
        if ends is not None:
            try:
                while ends[0].recv(4096):
                    pass
            except BlockingIOError:
                return

    def close(self) -> None:
        """Listen no more."""
        ends, self._ends = self._ends, None
        for end in ends or ():
            end.close()
