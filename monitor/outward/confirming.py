"""What our own publishers are told after a commit: how far their readings are on disk (`vermistat/<site>/durable/<probe>`).

Not retained: a mark says all that one before it said, and the next reading asks for the next.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Sequence
from typing import Protocol

from monitor.intake.marks import EVERY, SOON, Marks
from monitor.intake.payloads.numbered import Mark, Numbered, mark_payload
from monitor.outward.messages import topic_of

log = logging.getLogger(__name__)


class Publish(Protocol):
    """How a message leaves."""

    def __call__(self, topic: str, payload: bytes) -> bool:
        """False when it could not be handed over."""


class Confirming:
    """Safe from the pump's thread and from whoever stops us."""

    def __init__(
        self,
        site: str,
        *,
        publish: Publish,
        patience: Callable[[], float],
        every: float = EVERY,
        soon: float = SOON,
    ) -> None:
        self._site = site
        self._publish = publish
        self._marks = Marks(patience, every=every, soon=soon)
        self._lock = threading.Lock()

    def kept(self, told: Sequence[tuple[str, Numbered]]) -> None:
        """These are durable. Never raises: what is stored is stored, whether or not anybody hears of it."""
        try:
            with self._lock:
                self._say(self._marks.kept(told))
        except Exception:
            log.exception("a publisher could not be told what is durable")

    def last(self) -> None:
        """We stop: whatever was not said yet."""
        with self._lock:
            self._say(self._marks.due(last=True))

    def _say(self, marks: Sequence[Mark]) -> None:
        for mark in marks:
            self._publish(topic_of(self._site, "durable", mark.probe), mark_payload(mark))
