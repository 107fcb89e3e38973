"""What was just done, said on the next page of the same visit, once."""

from __future__ import annotations

import threading
from collections import OrderedDict

MOST = 100
"""Visits that something is kept for; the oldest gives way."""


class Told:
    """Safe from any thread."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: OrderedDict[str, str] = OrderedDict()

    def say(self, visit: str, sentence: str) -> None:
        """Keep a sentence for the next page of this visit."""
        with self._lock:
            self._kept[visit] = sentence
            while len(self._kept) > MOST:
                self._kept.popitem(last=False)

    def hear(self, visit: str) -> str:
        """What is kept for it, which is then forgotten; empty when nothing is."""
        with self._lock:
            return self._kept.pop(visit, "")
