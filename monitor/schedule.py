"""When a round is due: APScheduler, kept honest by a monotonic watcher.

APScheduler computes the next run by the wall clock. After a step back of an hour its own interval trigger runs
nothing for that hour, and after a step forward of ten years it computes millions of missed times. So the
trigger here only ever says "now plus the period", and a watcher that looks at monotonic time wakes
the scheduler when a round is overdue, whatever the wall says.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from apscheduler.events import EVENT_JOB_ERROR, JobExecutionEvent
from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.jobstores.base import JobLookupError
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.base import BaseTrigger

from monitor.clock import Patience

log = logging.getLogger(__name__)
# What it has to say of skipped and failed runs is said here, in our own words.
logging.getLogger("apscheduler").setLevel(logging.CRITICAL)

JOB = "round"


class PeriodFromNow(BaseTrigger):  # type: ignore[misc]
    """Fires one period after whatever time it is; it has no past to catch up with."""

    def __init__(self, period: timedelta) -> None:
        self.period = period

    def get_next_fire_time(self, previous_fire_time: datetime | None, now: datetime) -> datetime:
        """At once the first time, one period from now ever after."""
        return now if previous_fire_time is None else now + self.period


class Schedule:
    """Runs `round_` every `period` real seconds until stopped.

    `beat` is called by the watcher, so that a dead scheduler shows. `missed` is told the real seconds by which a
    round came late, when that is more than a period and more than `tolerated`: a clock that runs a thousand times as
    fast has periods shorter than a busy moment of the machine.
    """

    def __init__(
        self,
        round_: Callable[[], object],
        *,
        period: float,
        patience: Patience,
        beat: Callable[[], None],
        missed: Callable[[float], None],
        tolerated: float = 10.0,
    ) -> None:
        self._round = round_
        self._period = period
        self._patience = patience
        self._beat = beat
        self._missed = missed
        self._tolerated = max(period, tolerated)
        self._stop, self._wanted = threading.Event(), threading.Event()
        self._lock = threading.Lock()
        self._began = patience.now()
        self._running = False
        self._scheduler = BackgroundScheduler(
            timezone=UTC,
            executors={"default": ThreadPoolExecutor(1)},
            job_defaults={"coalesce": True, "misfire_grace_time": None, "max_instances": 1},
        )
        self._scheduler.add_listener(self._heard, EVENT_JOB_ERROR)
        self._watcher = threading.Thread(target=self._watch, name="schedule-watcher", daemon=True)

    def start(self) -> None:
        """Begin; the first round runs at once."""
        trigger = PeriodFromNow(timedelta(seconds=self._period))
        self._scheduler.add_job(self._turn, trigger, id=JOB, next_run_time=datetime.now(UTC))
        self._scheduler.start()
        self._watcher.start()

    def now(self) -> None:
        """A round within a second, or after the one that is running."""
        self._wanted.set()

    def stop(self) -> None:
        """No further round begins; a running one is waited for. Stopping twice is no error."""
        if self._stop.is_set():
            return
        self._stop.set()
        if self._scheduler.running:
            self._scheduler.shutdown(wait=True)
        if self._watcher.is_alive():
            self._watcher.join(timeout=5)

    def _turn(self) -> None:
        self._wanted.clear()
        with self._lock:
            late = self._patience.now() - self._began - self._period
            self._began = self._patience.now()
            self._running = True
        if late > self._tolerated:
            self._missed(late)
        try:
            self._round()
        finally:
            with self._lock:
                self._running = False

    def _watch(self) -> None:
        while not self._patience.wait(self._stop, min(1.0, self._period / 2)):
            with self._lock:
                late = self._patience.now() - self._began > 1.5 * self._period
                overdue = not self._running and (late or self._wanted.is_set())
            if overdue and not self._stop.is_set():
                self._wake()
            self._beat()

    def _wake(self) -> None:
        try:
            self._scheduler.modify_job(JOB, next_run_time=datetime.now(UTC))
        except JobLookupError:
            if not self._stop.is_set():  # when it ends, its job goes first
                raise

    def _heard(self, event: JobExecutionEvent) -> None:
        log.error("a round failed: %s", event.exception, exc_info=event.exception)
