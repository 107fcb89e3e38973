"""How long to wait between tries, and when a notice is not worth another."""

from __future__ import annotations

import random

from monitor.notify.notices import Post
from monitor.readings import DAY, Millis

FIRST_PAUSE, LONGEST_PAUSE = 60.0, 1800.0
"""Seconds: 1, 2, 4, 8, 16 and then every 30 minutes (common practice: doubling back-off with a cap)."""

FEWEST_TRIES = 10
"""Nothing is given up before so many tries (about 2.5 hours), however old a clock that jumped makes it look."""


def pause_after(tries: int) -> float:
    """Seconds to wait after so many failed tries; a fifth more or less, so that many do not march in step."""
    spread: float = random.uniform(0.8, 1.2)  # noqa: S311 (no secret hangs on it)
    return min(FIRST_PAUSE * 2.0 ** min(tries - 1, 20), LONGEST_PAUSE) * spread


def worth_trying_for(post: Post) -> Millis:
    """How old a notice may grow before it is given up: a day, three when it was worth waking somebody."""
    return 3 * DAY if post.notice.woke else DAY
