"""What takes long to draw and changes slowly is kept for a while, so that many readers cost as much as one."""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

from monitor.diary import EVERY
from monitor.store.promises import Journal

Thing = TypeVar("Thing")


class Kept(Generic[Thing]):
    """One thing for each name, made anew when what it was made of has changed. Safe from any thread; one is made at a time, so
    that who comes meanwhile waits for it instead of making the same.
    """

    def __init__(self, most: int = 100) -> None:
        self._lock, self._making, self._most = threading.Lock(), threading.Lock(), most
        self._things: dict[str, tuple[Hashable, Thing]] = {}

    def get(self, name: str, of: Hashable, make: Callable[[], Thing]) -> Thing:
        """What is kept under this name if it was made of the same, else what `make` makes."""
        known = self._known(name, of)
        if known is not None:
            return known[1]
        with self._making:
            known = self._known(name, of)
            if known is not None:
                return known[1]
            thing = make()
            with self._lock:
                if len(self._things) >= self._most:
                    self._things.clear()
                self._things[name] = of, thing
            return thing

    def _known(self, name: str, of: Hashable) -> tuple[Hashable, Thing] | None:
        with self._lock:
            known = self._things.get(name)
        return known if known is not None and known[0] == of else None


def diary_stands(store: Journal) -> Hashable:
    """Another whenever something was written into the diary or put right there."""
    entries = store.diary(EVERY)
    return len(entries), max((entry.number for entry in entries), default=0)
