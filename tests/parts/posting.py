"""Notices that wait in a real store, and a patience that is moved by hand."""

import threading
import time

from monitor.notify.notices import Notice
from monitor.store.promises import Round, RoundRow

NOW = 1_768_400_000_000
SOON = 20.0


def letter(number, *channels, woke=False, at=NOW):
    lines = (
        f"Tub: mat on by 21:00 (notice {number})",
        f"near 20.4 °C, below 21 °C [{number}]",
        "Unplug before hands.",
    )
    return Notice(
        number=number,
        person="keeper",
        place="shed",
        channels=channels,
        at=at,
        lines=lines,
        more=(),
        alarms=(),
        woke=woke,
    )


def leave(store, *letters):
    """As a round does: one commit."""
    store.commit(Round(RoundRow(letters[0].number, NOW, "1", 0), notices=letters))


def states(store):
    """(notice, channel) → state, for everything ever posted."""
    return {(p.notice.number, p.channel): str(p.state) for p in store.notices(1000)}


def until(fact, what="it"):
    """Wait for a fact to become true."""
    end = time.monotonic() + SOON
    while not fact():
        assert time.monotonic() < end, f"{what} never happened"
        time.sleep(0.002)


class Hand:
    """Patience that passes only when it is moved; waiting ends when the event is set or after a blink."""

    def __init__(self):
        self._seconds = 0.0
        self._lock = threading.Lock()

    def now(self):
        with self._lock:
            return self._seconds

    def wait(self, event, _seconds):
        return event.wait(0.002)

    def pass_by(self, seconds):
        with self._lock:
            self._seconds += seconds
