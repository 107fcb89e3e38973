"""SIGHUP: look at the settings now, as a service is asked to by `systemctl reload`."""

from __future__ import annotations

import signal
import sys
import threading
from collections.abc import Callable

ASKED = frozenset({signal.SIGHUP})


def on_hangup() -> Callable[[Callable[[], None]], None]:
    """What hands us the thing to do; until then the signal waits. Not for a run in a terminal, which ends when that is
    closed. To be called before any thread begins.
    """
    if sys.stdin is not None and sys.stdin.isatty():
        return lambda _: None
    signal.pthread_sigmask(signal.SIG_BLOCK, ASKED)
    return _listen


def _listen(do: Callable[[], None]) -> None:
    def forever() -> None:
        while True:
            signal.sigwait(ASKED)
            do()

    threading.Thread(target=forever, name="hangup", daemon=True).start()
