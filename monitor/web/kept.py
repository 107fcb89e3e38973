"""What takes long to draw and changes slowly is kept for a while, so that many readers cost as much as one."""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

Thing = TypeVar("Thing")


class Kept(Generic[Thing]):
    """One thing for each name, made anew when what it was made of has changed. Safe from any thread."""

    def __init__(self, most: int = 100) -> None:
        self._lock, self._most = threading.Lock(), most
        self._things: dict[str, tuple[Hashable, Thing]] = {}

    def get(self, name: str, of: Hashable, make: Callable[[], Thing]) -> Thing:
        """What is kept under this name if it was made of the same, else what `make` makes."""
        with self._lock:
            known = self._things.get(name)
            if known is not None and known[0] == of:
                return known[1]
        thing = make()
        with self._lock:
            if len(self._things) >= self._most:
                self._things.clear()
            self._things[name] = of, thing
        return thing
