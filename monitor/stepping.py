"""Lives that are lived in steps: wait until what simulated probes said is durable, then the clock may be moved."""

from __future__ import annotations

import threading
from collections.abc import Callable

from monitor.app import Daemon
from monitor.clock import Patience
from monitor.errors import WireError

PATIENCE = 30.0


def wait_for(happened: Callable[[], bool], otherwise: str, *, pause: float) -> None:
    """Until it has happened, in real time. Raises WireError when it takes too long."""
    patience, never = Patience(), threading.Event()
    end = patience.now() + PATIENCE
    while not happened():
        if patience.now() > end:
            raise WireError(otherwise)
        patience.wait(never, pause)


def linked(running: Daemon) -> None:
    """Until the daemon's broker answers. Raises WireError when it does not."""
    wait_for(lambda: running.wire.link().up, "the demo's own broker does not answer", pause=0.005)


def settled(running: Daemon, readings: int) -> None:
    """Until so many readings in all are durable. Raises WireError when they are not heard."""

    def heard() -> bool:
        running.pump.flush(PATIENCE)
        return running.store.last_arrival() >= readings

    wait_for(heard, "what the simulated probes said was not heard", pause=0.003)
