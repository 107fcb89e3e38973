"""Tells the story in the time of the clock it is handed."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable

from monitor.clock import Clock
from monitor.readings import Millis
from monitor.simulator.story import Message, Story, Yard

log = logging.getLogger(__name__)

LONGEST_WAIT = 0.5


class Life:
    """Publishes what the story's probes say when the clock says so: `publish(topic, payload)`, in one thread.

    The story begins at the clock's time when `start` is called, and calls that 17:00; with a `yard` it goes on as that is.
    `meanwhile` is called with the time whenever the beds have been lived forward, and may do something in them.
    """

    def __init__(
        self,
        *,
        clock: Clock,
        publish: Callable[[str, bytes], None],
        seed: int = 1,
        yard: Yard | None = None,
        meanwhile: Callable[[Millis], None] | None = None,
    ) -> None:
        self._clock, self._publish, self._seed = clock, publish, seed
        self._yard, self._meanwhile = yard, meanwhile
        self._leave = threading.Event()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin to live and to speak."""
        start = self._clock.now() if self._yard is None else self._yard.at
        story = Story(start, self._seed, yard=self._yard)
        self._thread = threading.Thread(target=self._run, args=(story,), name="life", daemon=True)
        self._thread.start()

    def stop(self, timeout: float = 5.0) -> bool:
        """Fall silent; true when the thread ended in `timeout` seconds. Twice is no error."""
        self._leave.set()
        if self._thread is None:
            return True
        self._thread.join(timeout)
        return not self._thread.is_alive()

    def _run(self, story: Story) -> None:
        while not self._leave.is_set():
            for message in story.until(self._clock.now()):
                if self._leave.is_set():
                    return
                self._say(message)
            if self._meanwhile is not None:
                self._meanwhile(self._clock.now())
            self._leave.wait(self._until(story.at))

    def _say(self, message: Message) -> None:
        try:
            self._publish(message.topic, message.payload)
        except Exception:
            log.exception("a simulated probe could not speak; the next goes on")

    def _until(self, at: Millis) -> float:
        """Real seconds until the clock reaches `at`, in bites short enough for a clock that is moved by hand."""
        seconds = (at - self._clock.now()) / 1000 / self._clock.speed
        return min(LONGEST_WAIT, max(0.001, seconds))
