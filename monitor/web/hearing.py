"""Listening for a while, at somebody's wish, to everything that is published: what nobody reads is shown with its lines."""

from __future__ import annotations

import math
import threading
from dataclasses import dataclass

from starlette.requests import Request

from monitor.clock import Patience
from monitor.errors import VermistatError
from monitor.reports.discovered import Ears
from monitor.web.desk import Desk
from monitor.web.showing import desk_of
from monitor.wire.listening import listen

LENGTHS = {60: "a minute", 600: "ten minutes", 3600: "an hour"}
"""Real seconds that can be listened; a probe on a battery may speak every half hour."""
_LOCK = threading.Lock()


@dataclass(frozen=True, slots=True)
class HeardSoFar:
    """What has been heard, for how many seconds, whether it goes on, and what stands in the way."""

    ears: Ears
    seconds: float
    going: bool
    trouble: str


class Hearing:
    """One listening at a time. Safe from any thread."""

    def __init__(self, desk: Desk) -> None:
        self._desk, self._patience = desk, Patience()
        self._lock = threading.Lock()
        self._ears = Ears()
        self._began: float | None = None
        self._ends = 0.0
        self._going = False
        self._trouble = ""

    def begin(self, seconds: float) -> None:
        """Listen for so long; nothing when we listen already."""
        with self._lock:
            if self._going:
                return
            self._going, self._trouble, self._ears = True, "", Ears()
            self._began = self._patience.now()
            self._ends = self._began + seconds
        threading.Thread(target=self._listen, args=(seconds,), name="hearing", daemon=True).start()

    def so_far(self) -> HeardSoFar | None:
        """None when nobody has asked to listen since the daemon began."""
        with self._lock:
            if self._began is None:
                return None
            spent = min(self._patience.now(), self._ends) - self._began
            return HeardSoFar(Ears(dict(self._ears.topics), self._ears.more), spent, self._going, self._trouble)

    def _listen(self, seconds: float) -> None:
        trouble = ""
        try:
            broker = self._desk.settings().broker
            listen(broker, "#", seconds=seconds, heard=self._hear, patience=self._now)
        except VermistatError as error:
            trouble = str(error)
        except Exception:
            trouble = "Listening broke down; the watching goes on."
        with self._lock:
            self._going, self._trouble = False, trouble
            self._ends = min(self._ends, self._patience.now())
        self._desk.changed()

    def _now(self) -> float:
        """The time that is left: none when the daemon ends."""
        return math.inf if self._desk.closing else self._patience.now()

    def _hear(self, topic: str, payload: bytes, retained: bool) -> None:
        with self._lock:
            self._ears.hear(topic, payload, retained)


def hearing_of(request: Request) -> Hearing:
    """The one of this daemon, made when it is first asked for."""
    with _LOCK:
        found: Hearing | None = getattr(request.app.state, "hearing", None)
        if found is None:
            found = request.app.state.hearing = Hearing(desk_of(request))
        return found
