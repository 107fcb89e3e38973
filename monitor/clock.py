"""The only reader of time.

`Clock` tells what time it is for beds and people (wall, scaled or stepped); `Patience` is monotonic and
real and serves whatever waits: timeouts, back-off, keep-alive, watchdog. Nothing else in the program
asks the machine for the time.
"""

from __future__ import annotations

import threading
import time
from typing import Protocol

from monitor.errors import BadValue
from monitor.readings import Millis


class Clock(Protocol):
    """What time it is for beds and people."""

    speed: float
    """How many of this clock's seconds pass in a real one (1 for the wall)."""

    def now(self) -> Millis:
        """UTC in whole milliseconds."""


class WallClock:
    """The machine's own clock."""

    speed = 1.0

    def now(self) -> Millis:
        """UTC in whole milliseconds."""
        return time.time_ns() // 1_000_000


class ScaledClock:
    """Starts at `start` and runs `speed` times as fast as real time; never steps."""

    def __init__(self, start: Millis, speed: float) -> None:
        if speed <= 0:
            raise BadValue(f"a clock needs a speed above 0, not {speed}")
        self.speed = float(speed)
        self._start = start
        self._began = time.monotonic_ns()

    def now(self) -> Millis:
        """UTC in whole milliseconds."""
        return self._start + int((time.monotonic_ns() - self._began) * self.speed) // 1_000_000


class SteppedClock:
    """Stands still until it is moved forward; for lives lived in seconds. Safe to read from any thread."""

    speed = 1.0

    def __init__(self, start: Millis) -> None:
        self._now = start
        self._lock = threading.Lock()

    def now(self) -> Millis:
        """UTC in whole milliseconds."""
        with self._lock:
            return self._now

    def move_to(self, at: Millis) -> None:
        """Jump forward to `at`. Raises BadValue backwards: a bed never gets younger."""
        with self._lock:
            if at < self._now:
                raise BadValue(f"the clock cannot go back from {self._now} to {at}")
            self._now = at


class Patience:
    """Real, monotonic time for whatever waits. Seconds as float."""

    def now(self) -> float:
        """Seconds since some fixed moment; never jumps."""
        return time.monotonic()

    def wait(self, event: threading.Event, seconds: float) -> bool:
        """Wait until the event is set or the seconds are over; true when it was set."""
        return event.wait(seconds)
