"""Ending in order when asked once, and at once when asked twice."""

from __future__ import annotations

import contextlib
import os
import select
import signal
import threading
from typing import NoReturn

SIGNALS = frozenset({signal.SIGTERM, signal.SIGINT})
ONE = 0.5
"""Seconds within which a second signal is the first one once more: timeout(1) and some supervisors signal a process
and then its whole group (ours)."""
LAST_WORDS = b"vermistat: ended at once, because it was asked twice. What was not yet acknowledged comes again.\n"


def stop_on_signals() -> threading.Event:
    """Set when we are asked to end; asked again while that hangs, the process is gone, with exit code 130 (SIGINT) or
    143 (SIGTERM), as shells count.

    A thread waits for the signals: a handler would run in the main thread, which may be on its way into waiting for
    this very event, or may hang.
    """
    stop = threading.Event()

    def listen() -> None:
        signal.sigwait(SIGNALS)
        stop.set()
        signal.sigtimedwait(SIGNALS, ONE)
        _end(signal.sigwait(SIGNALS))

    signal.pthread_sigmask(signal.SIG_BLOCK, SIGNALS)
    threading.Thread(target=listen, name="signals", daemon=True).start()
    return stop


def _end(asked: int) -> NoReturn:
    """Without a lock, a buffer or a wait: any of them may be what hangs. Nothing is lost by it, as by a power cut."""
    with contextlib.suppress(OSError):
        if select.select([], [2], [], 0)[1]:
            os.write(2, LAST_WORDS)
    os._exit(128 + asked)
