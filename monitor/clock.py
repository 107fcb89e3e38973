"""The only reader of time.

`Clock` tells what time it is for beds and people (wall, scaled or stepped); `Patience` is monotonic and
real and serves whatever waits: timeouts, back-off, keep-alive, watchdog. Nothing else in the program
asks the machine for the time.
"""

from __future__ import annotations

import ctypes
import os
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from monitor.errors import BadValue
from monitor.readings import Millis
from monitor.reckoning import LEAST, Belief, Reckoning, Seen


class Clock(Protocol):
    """What time it is for beds and people."""

    speed: float
    """How many of this clock's seconds pass in a real one (1 for the wall)."""

    def now(self) -> Millis:
        """UTC in whole milliseconds."""


def _wall() -> Millis:
    return time.time_ns() // 1_000_000


class WallClock:
    """The machine's own clock."""

    speed = 1.0

    def now(self) -> Millis:
        """UTC in whole milliseconds."""
        return _wall()


def time_since_boot() -> Millis:
    """Milliseconds since this machine booted, suspended or not; no step of the wall changes it."""
    return time.clock_gettime_ns(time.CLOCK_BOOTTIME) // 1_000_000


def boot_id() -> str:
    """What the kernel calls this boot (random(4)); another after each. Empty where nobody says.

    A service from which that file is hidden is told by its unit (systemd.unit(5), `%b`: the same without hyphens).
    """
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text().strip()
    except OSError:
        told = os.environ.get("VERMISTAT_BOOT", "")
        if not told:
            return ""
        import uuid

        return str(uuid.UUID(told))


class _Timex(ctypes.Structure):
    """The beginning of `struct timex` (adjtimex(2)), with room for the rest of it."""

    _fields_ = [
        ("modes", ctypes.c_uint),
        ("offset", ctypes.c_long),
        ("freq", ctypes.c_long),
        ("maxerror", ctypes.c_long),
        ("esterror", ctypes.c_long),
        ("status", ctypes.c_int),
        ("_rest", ctypes.c_long * 64),
    ]


STA_UNSYNC = 0x0040
TIME_ERROR = 5


def kernel_synchronised() -> bool:
    """Whether something disciplines the kernel's clock: adjtimex(2) that only asks. False where it cannot be asked.

    Not by /run/systemd/timesync/synchronized: that file stays when the clock is set by hand afterwards.
    """
    asked = _Timex()
    try:
        state = ctypes.CDLL(None).adjtimex(ctypes.byref(asked))
    except (OSError, AttributeError):
        return False
    return 0 <= state < TIME_ERROR and not asked.status & STA_UNSYNC


def set_by_hardware() -> bool:
    """Whether the kernel took its time from a hardware clock when it booted (/sys/class/rtc/*/hctosys, rtc(4))."""
    return any(_reads(told, "1") for told in Path("/sys/class/rtc").glob("*/hctosys"))


def _reads(file: Path, word: str) -> bool:
    try:
        return file.read_text().strip() == word
    except OSError:
        return False


class Machine:
    """The machine's clocks; each can be another for a test."""

    def __init__(
        self,
        *,
        wall: Callable[[], Millis] | None = None,
        ran: Callable[[], Millis] | None = None,
        synced: Callable[[], bool] | None = None,
        boot: Callable[[], str] | None = None,
        hardware: Callable[[], bool] | None = None,
    ) -> None:
        self.wall, self.ran = wall or _wall, ran or time_since_boot
        self.synced, self.boot = synced or kernel_synchronised, boot or boot_id
        self.hardware = hardware or set_by_hardware

    def seen(self) -> Seen:
        """All of them at one moment."""
        return Seen(self.wall(), self.ran(), self.synced(), self.hardware())


class KnownClock:
    """The wall as long as it can be believed; else, and from a step until somebody has looked at it, the time is
    reckoned. So between two `adopt`s no stamp jumps. Safe to read from any thread.
    """

    speed = 1.0

    def __init__(self, machine: Machine, stretch: Reckoning) -> None:
        self.machine = machine
        self._stretch = stretch

    @property
    def stretch(self) -> Reckoning:
        """By what the time is told now."""
        return self._stretch

    def adopt(self, stretch: Reckoning) -> None:
        """Tell the time by this from now on."""
        self._stretch = stretch

    def now(self) -> Millis:
        """UTC in whole milliseconds, as far as it is known."""
        stretch, wall = self._stretch, self.machine.wall()
        reckoned = stretch.now(self.machine.ran())
        return reckoned if stretch.belief is Belief.UNSURE or abs(wall - reckoned) > LEAST else wall


class ScaledClock:
    """Stands at `start` until it is begun, at once unless it `waits`; then runs `speed` times as fast as real time. Never
    steps.
    """

    def __init__(self, start: Millis, speed: float, *, waits: bool = False) -> None:
        if speed <= 0:
            raise BadValue(f"a clock needs a speed above 0, not {speed}")
        self.speed = float(speed)
        self._start = start
        self._began: int | None = None
        if not waits:
            self.begin()

    def begin(self) -> None:
        """Run from now on; a second time is no error and changes nothing."""
        if self._began is None:
            self._began = time.monotonic_ns()

    def now(self) -> Millis:
        """UTC in whole milliseconds."""
        if self._began is None:
            return self._start
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
