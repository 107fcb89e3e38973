"""What the pages know of the running daemon, and how they ask something of it."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

from monitor.clock import Patience
from monitor.readings import Millis
from monitor.rules import Rules
from monitor.settings import Settings
from monitor.store.promises import Store

if TYPE_CHECKING:
    from monitor.reports.replaying import Twice

TAKEN_UP_WITHIN = 3.0
"""Real seconds that an action waits for the round that takes it up, so that the next page shows what became of it."""


class Desk:
    """Safe from any thread. `store` is the daemon's own, `now` the beds' clock; settings are those in force."""

    def __init__(self, settings: Settings, *, store: Store, now: Callable[[], Millis]) -> None:
        self.store, self.now = store, now
        self._patience = Patience()
        self.hurry: Callable[[], None] = lambda: None
        """Makes a round come at once, for whoever has asked for something."""
        self.twice: Callable[[Rules, int, Sequence[str]], Twice] = self._twice_here
        """So many days of some bins judged by the rules in force and by others; the daemon has it done where no round waits."""
        self._settings = settings
        self._lock = threading.Lock()
        self._listeners: list[tuple[asyncio.AbstractEventLoop, asyncio.Event]] = []
        self._never = threading.Event()
        self._closing = False

    def settings(self) -> Settings:
        """The settings in force."""
        return self._settings

    def rules(self) -> Rules:
        """The rules in force."""
        return self._settings.rules

    def use(self, settings: Settings) -> None:
        """Show what other settings say from now on."""
        self._settings = settings

    def soon(self, request: int, within: float = TAKEN_UP_WITHIN) -> bool:
        """Have a round take up what was asked for; false when that takes longer than `within` real seconds."""
        self.hurry()
        end = self._patience.now() + within
        while any(one.id == request for one in self.store.asked()):
            if self._patience.now() > end:
                return False
            self._patience.wait(self._never, 0.02)
        return True

    def _twice_here(self, others: Rules, days: int, beds: Sequence[str]) -> Twice:
        from monitor.reports.replaying import twice  # heavy, and the daemon does without

        return twice(self.store, self.rules(), others, at=self.now(), days=days, beds=beds)

    # Live pages

    def changed(self) -> None:
        """A round is over: whoever has a page open may want to see it."""
        self._wake()

    def close(self) -> None:
        """Open pages are told to end, so that the server can."""
        self._closing = True
        self._wake()

    @property
    def closing(self) -> bool:
        """Whether live pages are to end."""
        return self._closing

    @contextmanager
    def listening(self) -> Iterator[asyncio.Event]:
        """An event of the running loop that is set when something changed, or when it is time to end."""
        one = asyncio.get_running_loop(), asyncio.Event()
        with self._lock:
            self._listeners.append(one)
        try:
            yield one[1]
        finally:
            with self._lock:
                self._listeners.remove(one)

    def _wake(self) -> None:
        with self._lock:
            for loop, event in self._listeners:
                if not loop.is_closed():
                    loop.call_soon_threadsafe(event.set)
