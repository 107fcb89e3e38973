"""Telling systemd that we are ready, alive, or stopping (sd_notify(3))."""

from __future__ import annotations

import os
import socket


def tell(message: str) -> bool:
    """Send `READY=1`, `WATCHDOG=1`, `STOPPING=1`, `STATUS=…`; false when nobody listens.

    The watchdog is to be fed from the round, the thing that must not die. Raises OSError when systemd's
    socket is named but cannot be written.
    """
    path = os.environ.get("NOTIFY_SOCKET")
    if not path:
        return False
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as out:
        out.sendto(message.encode(), "\0" + path[1:] if path.startswith("@") else path)
    return True
