"""The past judged twice in a process of its own: what takes a core for seconds keeps no round, reading or page waiting.

A thread would: whoever reckons holds Python's lock for 5 ms at a time, and a round that writes to its file asks for it again at
every write (`sys.setswitchinterval`, Python documentation). The other process reads the same store, as the commands do, and is
the last to be given the processor.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from collections.abc import Callable, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from signal import SIGKILL

from monitor.clock import Patience
from monitor.errors import StoreError, VermistatError
from monitor.readings import Millis
from monitor.reports.replaying import Twice, twice
from monitor.rules import Rules
from monitor.settings import Settings
from monitor.site import open_to_read

WITHIN = 600.0
"""s after which it is given up (proposal: 90 days of one bin took 4 s where it was measured, and no small board was at hand)."""
LOOKS = 0.2
"""s between two looks whether anybody still waits."""
LAST_IN_TURN = 10
"""By so much it stands back (nice(2))."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What the other process has to know."""

    settings: Settings
    others: Rules
    at: Millis
    days: int
    beds: Sequence[str]


def twice_apart(
    settings: Settings,
    others: Rules,
    *,
    at: Millis,
    days: int,
    beds: Sequence[str],
    over: Callable[[], bool] = lambda: False,
) -> Twice:
    """`reports.replaying.twice`, elsewhere. `over` says that nobody waits any more. Raises StoreError if nothing comes of it."""
    # no address of a channel leaves this process: nothing is sent from there
    asked = Asked(replace(settings, channels={}), others, at, days, tuple(beds))
    return _answer(pickle.dumps(asked), over)


def _answer(asked: bytes, over: Callable[[], bool]) -> Twice:
    paths = os.pathsep.join(path for path in sys.path if path)
    patience = Patience()
    with subprocess.Popen(
        [sys.executable, "-P", "-c", "from monitor.apart import answer; answer()"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": paths},
    ) as other:
        end, given = patience.now() + WITHIN, False
        while True:
            try:
                said, errors = other.communicate(None if given else asked, timeout=LOOKS)
                break
            except subprocess.TimeoutExpired:
                given = True
                if over() or patience.now() > end:
                    other.kill()
                    raise StoreError("the past could not be judged once more: it took too long") from None
    if other.returncode:
        last = (errors.decode(errors="replace").strip().splitlines() or ["it was ended"])[-1]
        why = "so many days need more memory than there is, try fewer" if other.returncode == -SIGKILL else last
        raise StoreError(f"the past could not be judged once more: {why}")
    found = pickle.loads(said)  # noqa: S301 - from our own process, over a pipe that nobody else has
    if isinstance(found, VermistatError):
        raise found
    assert isinstance(found, Twice)  # noqa: S101
    return found


def answer() -> None:
    """What the other process does: read what was asked, and say what became of it."""
    with suppress(OSError):  # where that is not allowed, it stays as it is
        os.nice(LAST_IN_TURN)
    with suppress(OSError):  # where memory ends, this one goes and not the daemon (proc(5))
        Path("/proc/self/oom_score_adj").write_text("1000", encoding="ascii")
    asked: Asked = pickle.load(sys.stdin.buffer)  # noqa: S301 - from the process that began this one
    found: Twice | VermistatError
    try:
        with closing(open_to_read(asked.settings)) as store:
            found = twice(store, asked.settings.rules, asked.others, at=asked.at, days=asked.days, beds=asked.beds)
    except VermistatError as error:
        found = error
    sys.stdout.buffer.write(pickle.dumps(found))
