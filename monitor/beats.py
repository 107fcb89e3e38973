"""Signs of life of our own threads: each stamps itself, the round asks who is late."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping


class Beats:
    """The last stamp of each thread, by real monotonic seconds. Safe from any thread."""

    def __init__(self, now: Callable[[], float], bounds: Mapping[str, float]) -> None:
        self._now = now
        self._bounds = dict(bounds)
        self._lock = threading.Lock()
        began = now()
        self._last = dict.fromkeys(bounds, began)

    def stamp(self, name: str) -> None:
        """Say that the thread `name` is alive."""
        with self._lock:
            self._last[name] = self._now()

    def late(self) -> dict[str, float]:
        """Seconds since the last stamp of every thread that is beyond its bound."""
        with self._lock:
            now = self._now()
            return {n: now - at for n, at in self._last.items() if now - at > self._bounds[n]}
