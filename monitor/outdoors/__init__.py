"""An outdoor forecast out of a web address, asked for politely on a thread of its own; a round never waits for it."""

from __future__ import annotations

import json
import logging
import threading
import zlib
from collections.abc import Callable
from contextlib import ExitStack
from typing import TYPE_CHECKING

from monitor.addresses import ASKED_EVERY, ASKED_LEAST, Outdoors
from monitor.bed.outside import KIND, TROUBLE
from monitor.clock import Patience
from monitor.errors import BadValue, StoreError
from monitor.intake.outdoors import keep
from monitor.readings import HOUR, MINUTE, SECOND, Millis
from monitor.store.promises import Standing, Store

if TYPE_CHECKING:
    from monitor.outdoors.asking import Answer

log = logging.getLogger(__name__)

FIRST_AGAIN: Millis = 5 * MINUTE
LONGEST_PAUSE: Millis = 6 * HOUR


def pause(every: Millis, failed: int, after: Millis | None, who: str) -> Millis:
    """How long until the next request: the settings' interval and up to a twentieth of it more, always the same for one site, so
    that not all ask in the same second; after failures five minutes, doubling; never sooner than we are asked to wait.
    """
    usual = max(ASKED_LEAST, every)
    spread = usual // 20 * (zlib.crc32(who.encode()) % 1000) // 1000
    wait = usual + spread if not failed else min(FIRST_AGAIN * 2 ** min(failed - 1, 10) + spread, LONGEST_PAUSE)
    return max(wait, after or 0)


class Fetching:
    """Nothing at all while the settings name no address."""

    def __init__(
        self, where: Outdoors | None, *, site: str, store: Store, now: Callable[[], Millis], patience: Patience
    ) -> None:
        self._site, self._store, self._now, self._patience = site, store, now, patience
        self._where = where
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin, where there is anything to ask; what was kept of a forecast that nobody wants any more goes."""
        if self._where is None:
            self._forget()
        if self._where is None or self._where.url is None:
            return
        self._stop = threading.Event()
        self._thread = threading.Thread(
            target=self._run, args=(self._where, self._stop), name="outdoors", daemon=True
        )
        self._thread.start()

    def _forget(self) -> None:
        try:
            known = self._store.standing(KIND)
            if known:
                self._store.settle([Standing(KIND, key, None) for key in known])
        except StoreError as error:
            log.warning("an outdoor forecast that nobody wants any more is still kept: %s", error)

    def stop(self) -> None:
        """End. A request under way is left alone: nothing that comes of it is kept."""
        self._stop.set()
        if self._thread is not None:
            self._thread.join(1.0)
            self._thread = None

    def use(self, where: Outdoors | None) -> None:
        """Other settings."""
        if where != self._where:
            self.stop()
            self._where = where
            self.start()

    def _run(self, where: Outdoors, stop: threading.Event) -> None:
        from monitor.outdoors.asking import Asker

        asker, failed = Asker(where, self._patience.now), 0
        while not stop.is_set():
            answer = asker.ask(self._now())
            if stop.is_set():
                return
            wrong = answer.wrong or self._kept(answer)
            if wrong and not answer.wrong:
                asker.forget()
            failed = failed + 1 if wrong else 0
            if wrong:
                self._failing(wrong, failed)
            wait = pause(where.every or ASKED_EVERY, failed, answer.after, self._site)
            self._patience.wait(stop, wait / SECOND)

    def _kept(self, answer: Answer) -> str:
        """Keep what came; what went wrong."""
        try:
            if answer.hours is not None:
                keep(self._store, answer.hours, self._now())
            elif TROUBLE in self._store.standing(KIND):
                self._store.settle([Standing(KIND, TROUBLE, None)])
        except BadValue as wrong:
            return f"it cannot be used: {wrong}"
        except StoreError as error:
            log.warning("an outdoor forecast could not be kept: %s", error)
            return "it could not be kept"
        return ""

    def _failing(self, what: str, failed: int) -> None:
        if failed == 1:
            log.warning("no outdoor forecast: %s", what)
        try:
            known = self._store.standing(KIND).get(TROUBLE)
            since = json.loads(known)["since"] if known else self._now()
            self._store.settle([Standing(KIND, TROUBLE, json.dumps({"since": since, "what": what}))])
        except StoreError as error:
            log.warning("what is wrong with the outdoor forecast could not be kept: %s", error)


def fetching(
    where: Outdoors | None,
    opened: ExitStack,
    *,
    site: str,
    store: Store,
    now: Callable[[], Millis],
    patience: Patience,
) -> Fetching:
    """What asks, begun; `opened` ends it."""
    found = Fetching(where, site=site, store=store, now=now, patience=patience)
    found.start()
    opened.callback(found.stop)
    return found
