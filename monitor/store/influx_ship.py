"""The thread that sends readings on to the database, and what is known of how that goes."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from monitor.errors import StoreError
from monitor.readings import DAY, Millis
from monitor.store.influx import AT_ONCE, InfluxStore

log = logging.getLogger(__name__)

PAUSE = 5.0
"""Seconds between looks for something to send; what comes in a minute goes in one write or two."""
BACKOFF, LONGEST_BACKOFF = 5.0, 300.0
"""Seconds before a failed write is tried again, doubled up to the longest."""


UNSURE = "the time is not known: what is sent under a false time stays there for ever"
"""Why nothing is sent although nothing fails."""


class Patience(Protocol):
    """Real, monotonic time for whatever waits."""

    def now(self) -> float:
        """Seconds since some fixed moment; never jumps."""

    def wait(self, event: threading.Event, seconds: float) -> bool:
        """Wait until the event is set or the seconds are over; true when it was set."""


@dataclass(frozen=True, slots=True)
class Standing:
    """How the sending stands: how many readings wait, since when in seconds of patience it fails, and why."""

    waiting: int
    failing_since: float | None = None
    error: str = ""


class Shipper:
    """Sends portion after portion, and once a day removes from the file what is older than `here` (milliseconds).

    `may` says whether times are certain enough to be sent: what is sent under a false time stays there for ever. `now` is
    the beds' clock.
    """

    def __init__(
        self,
        store: InfluxStore,
        *,
        here: int,
        now: Callable[[], Millis],
        may: Callable[[], bool],
        patience: Patience,
        beat: Callable[[], None],
    ) -> None:
        self._store, self._here = store, here
        self._now, self._may, self._patience, self._beat = now, may, patience, beat
        self._stop = threading.Event()
        self._backoff = BACKOFF
        self._failing: tuple[float, str] | None = None
        self._pruned_at: Millis | None = None
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin."""
        self._thread = threading.Thread(target=self._run, name="shipper", daemon=True)
        self._thread.start()

    def stop(self, timeout: float) -> None:
        """End after the write that is under way; what was not sent is sent after the next start."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join(timeout)

    def standing(self) -> Standing:
        """How it stands."""
        failing = self._failing
        return Standing(self._store.unshipped(), *(failing or (None, "")))

    def _run(self) -> None:
        pause = 0.0
        while not self._patience.wait(self._stop, pause):
            self._beat()
            try:
                pause = self._turn()
            except Exception:
                log.exception("sending on to the database stumbled")
                pause = PAUSE

    def _turn(self) -> float:
        """One portion; seconds until the next."""
        if not self._may():
            self._hold()
            return PAUSE
        if self._failing is not None and self._failing[1] == UNSURE:
            self._well()
        try:
            shipped = self._store.ship()
            self._well()
            if shipped.other:
                log.warning("the database held another value for %d late readings: the first stays", shipped.other)
            if shipped.sent + shipped.same + shipped.other >= AT_ONCE:
                return 0.0
            self._prune()
        except StoreError as error:
            return self._failed(str(error))
        return PAUSE

    def _hold(self) -> None:
        if self._failing is None:
            self._failing = self._patience.now(), UNSURE

    def _well(self) -> None:
        if self._failing is not None:
            log.warning("the database takes readings again")
        self._failing, self._backoff = None, BACKOFF

    def _failed(self, said: str) -> float:
        if self._failing is None or self._failing[1] != said:
            log.error("readings wait here, nothing is lost: %s", said)
        since = self._failing[0] if self._failing else self._patience.now()
        self._failing = since, said
        pause, self._backoff = self._backoff, min(2 * self._backoff, LONGEST_BACKOFF)
        return pause

    def _prune(self) -> None:
        now = self._now()
        if self._pruned_at is None or now - self._pruned_at >= DAY:
            removed = self._store.prune(now - self._here)
            log.info("%d readings older than %d days now lie in the database only", removed, self._here // DAY)
            self._pruned_at = now
