"""The nightly backup, as the daemon looks after it: made when it is due, tried again when it fails, told of when that goes on."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from contextlib import ExitStack
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from monitor import __version__, words
from monitor.clock import Clock, Patience
from monitor.errors import VermistatError
from monitor.readings import DAY, HOUR, SECOND, Millis
from monitor.settings import Settings
from monitor.site import store_path

if TYPE_CHECKING:
    from monitor.backups import Made

log = logging.getLogger(__name__)

LOOKS_EVERY = 60.0
"""Real seconds between two looks whether one is due."""
AGAIN_AFTER = 3600.0
"""Real seconds after which one that failed is tried again (proposal)."""
LONGEST: Millis = 2 * HOUR
"""A backup that takes longer counts as failing: a place that hangs never answers (proposal)."""
RESTS_AT_MOST = 1.0
ENDS_WITHIN = 1.0


def due(now: Millis, newest: Millis | None, *, nightly: int, zone: str) -> bool:
    """Whether a backup is due: there is none, or none since the last time that the local clock showed the minute `nightly`.

    One that says it was made later than a day from now was made under a wrong clock, and counts for nothing.
    """
    if newest is None or newest > now + DAY:
        return True
    here = words.local(now, zone)
    moment = here.replace(hour=nightly // 60, minute=nightly % 60, second=0, microsecond=0)
    if moment > here:
        moment -= timedelta(days=1)
    return newest < round(moment.timestamp()) * SECOND


class Nightly:
    """Nothing at all while the settings ask for none."""

    def __init__(
        self,
        settings: Settings,
        *,
        now: Callable[[], Millis],
        patience: Patience,
        make: Callable[..., Made] | None = None,
        looks_every: float | None = None,
    ) -> None:
        self._settings, self._now, self._patience, self._make = settings, now, patience, make
        self._looks_every = LOOKS_EVERY if looks_every is None else looks_every
        self._stopping = threading.Event()
        self._lock = threading.Lock()
        self._failing: tuple[Millis, str] | None = None
        self._begun: Millis | None = None
        self._decided = settings.backup is None
        self._again = 0.0
        self._thread = threading.Thread(target=self._run, name="nightly", daemon=True)

    def start(self) -> None:
        """Begin to look."""
        self._thread.start()

    def stop(self, timeout: float = ENDS_WITHIN) -> None:
        """End; a backup that is being made is given up, and what was begun of it removed."""
        self._stopping.set()
        self._thread.join(timeout)

    def use(self, settings: Settings) -> None:
        """Go by these settings from the next look on."""
        with self._lock:
            if settings.backup != self._settings.backup:
                self._failing, self._again, self._decided = None, 0.0, settings.backup is None
            self._settings = settings

    def failing(self) -> tuple[Millis, str] | None:
        """Since when no backup could be made, and why; None while they can."""
        with self._lock:
            if self._begun is not None and self._now() - self._begun > LONGEST:
                return self._begun, "the one that was begun then does not end: does the place answer?"
            return self._failing

    @property
    def undecided(self) -> bool:
        """Whether it is not known yet, since we began, if one can be made."""
        return not self._decided

    def _run(self) -> None:
        while not self._patience.wait(self._stopping, self._looks_every):
            with self._lock:
                settings = self._settings
            if settings.backup is not None and self._patience.now() >= self._again:
                try:
                    self._look(settings)
                except Exception as fault:
                    log.exception("a backup could not be made")
                    self._failed(f"a fault of this program ({type(fault).__name__})")

    def _look(self, settings: Settings) -> None:
        # a megabyte and a quarter of a daemon that makes none is not worth it
        from monitor.backing_up import back_up, folders, megabytes
        from monitor.backups import of_site
        from monitor.store.copying import Ended

        wish, site, now = settings.backup, settings.rules.site, self._now()
        assert wish is not None and wish.to is not None  # noqa: S101
        found = of_site(folders(Path(wish.to)), site.id) if Path(wish.to).is_dir() else []
        past = [one.at for one in found if one.at <= now + DAY]
        if not due(now, max(past, default=None), nightly=wish.nightly, zone=site.timezone):
            self._succeeded()
            return
        with self._lock:
            self._begun = now
        try:
            made = (self._make or back_up)(
                settings,
                store_path(settings),
                wish,
                at=now,
                program=__version__,
                going_on=lambda: not self._stopping.is_set(),
                rest=self._rests(),
            )
        except Ended:
            return
        except VermistatError as error:
            self._failed(str(error))
        except OSError as error:
            self._failed(f"{error.filename or wish.to}: {(error.strerror or 'no reason given').lower()}")
        else:
            log.info("backed up to %s (%s)", made.folder, megabytes(made.manifest.bytes))
            self._succeeded()
        finally:
            with self._lock:
                self._begun = None

    def _rests(self) -> Callable[[], None]:
        """Half of the time is left to whoever writes to the same card."""
        last = [self._patience.now()]

        def rest() -> None:
            spent = self._patience.now() - last[0]
            self._patience.wait(self._stopping, min(spent, RESTS_AT_MOST))
            last[0] = self._patience.now()

        return rest

    def _failed(self, why: str) -> None:
        log.warning("no backup could be made: %s", why)
        with self._lock:
            self._failing = (self._failing[0] if self._failing else self._now(), why)
            self._again = self._patience.now() + AGAIN_AFTER
            self._decided = self._decided or self._now() - self._failing[0] >= LONGEST

    def _succeeded(self) -> None:
        with self._lock:
            self._failing, self._decided = None, True


def nightly(settings: Settings, opened: ExitStack, *, clock: Clock, patience: Patience) -> Nightly:
    """What makes them, begun; `opened` ends it."""
    found = Nightly(settings, now=clock.now, patience=patience)
    found.start()
    opened.callback(found.stop)
    return found
