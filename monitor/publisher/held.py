"""What was read, numbered, and kept until the daemon says that it has it on disk.

Each probe's readings are numbered from 1, in a life that begins with this process: nothing of numbers has to outlive a restart,
and what a file brought back is numbered anew. The daemon answers with a mark: everything of this life up to a number is on its
disk; and with the highest number it has heard, which shows a gap. So nothing is ever lost between us by a broker that forgets:

- a broker that was killed loses what it had taken from us: the next reading that comes through shows the gap, and what is
  missing is sent again, with the time it was read at. The daemon knows it by probe and time, should it have come after all.
- the daemon was restarted and knows nothing of us: each message tells our oldest number, from which it counts on.
- it knows of no marks (too old): then what the broker has taken is let go when there is no more room.
- two publishers of one probe: each has a life of its own, and hears only marks of that.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from monitor.readings import Millis

LOOKS = 5.0
"""Seconds from one look at what was answered by nobody to the next."""
PACK = 100
"""Readings in one message, at most (ours): some 3 kB, so that a day that waited is fifteen of them."""
AGAIN = 20.0
"""Seconds within which the same reading is not sent twice, whatever a mark says: the mark may have crossed it."""
UNANSWERED = 60.0
"""Seconds after which what the broker has not confirmed is sent again: it may have refused it."""
PATIENCE, LONGEST = 15 * 60.0, 3600.0
"""Seconds without a mark after which the oldest readings are sent again, doubled each time up to the longest: more than the
daemon takes from one mark to the next."""
BYTES = 250
"""What one held reading takes in memory, about; in a file it takes less (measured, see DEVELOPERS.md)."""


@dataclass(slots=True, eq=False)
class Reading:
    """One value, on its way."""

    number: int
    at: Millis
    value: float
    added: float
    """When it was added, by seconds that never jump."""
    timed: bool | None = True
    """Whether `at` is believed. None: the clock was not known when it was read, and it has not been sent yet. False: it was sent
    by its age, and stays so.
    """
    sent: float | None = None
    """When it was handed to the broker last; None while it waits."""
    taken: bool = False
    """Whether the broker has confirmed it since."""
    written: bool = False
    """Whether it is in the file."""


class Pack(NamedTuple):
    """Readings of one probe that follow each other by number, for one message. `oldest` is the lowest number still held."""

    probe: str
    oldest: int
    readings: tuple[Reading, ...]

    @property
    def key(self) -> tuple[str, int]:
        """What tells it from every other of this life that is on its way."""
        return self.probe, self.readings[0].number


@dataclass(slots=True)
class _Line:
    """One probe's."""

    readings: deque[Reading] = field(default_factory=deque)
    next: int = 1
    waiting: int = 0
    """How many of them are to be sent."""
    unmarked_since: float | None = None
    patience: float = PATIENCE


class Held:
    """All probes' readings of one life. Not safe from two threads at once."""

    def __init__(self, life: str, *, at_most: int) -> None:
        self.life = life
        self.marked = False
        """Whether a daemon has ever answered in this life."""
        self.dropped = 0
        """Readings that were lost because there was no more room."""
        self.let_go = 0
        """Readings the broker had taken and no daemon has confirmed, let go for the same reason."""
        self._most = max(at_most // BYTES, 1)
        self._lines: dict[str, _Line] = {}
        self._count = 0
        self._looked = float("-inf")

    def __len__(self) -> int:
        return self._count

    def __iter__(self) -> Iterator[tuple[str, Reading]]:
        for probe, line in self._lines.items():
            for reading in line.readings:
                yield probe, reading

    def add(
        self, probe: str, at: Millis, value: float, *, now: float, timed: bool = True, written: bool = False
    ) -> None:
        """A reading to be sent, `timed` by a clock that is known. Without room for it the oldest of the probe that has most is
        let go.
        """
        line = self._lines.setdefault(probe, _Line())
        line.readings.append(Reading(line.next, at, value, now, timed or None, written=written))
        line.next += 1
        line.waiting += 1
        self._count += 1
        if line.unmarked_since is None:
            line.unmarked_since = now
        while self._count > self._most:
            self._drop()

    def _drop(self) -> None:
        line = max(self._lines.values(), key=lambda one: len(one.readings))
        oldest = line.readings.popleft()
        self._count -= 1
        line.waiting -= oldest.sent is None
        if oldest.taken and not self.marked:
            self.let_go += 1
        else:
            self.dropped += 1

    def packs(self, now: float, *, most: int) -> list[Pack]:
        """At most so many messages that are to be sent now, oldest first; they count as sent."""
        found: list[Pack] = []
        if now - self._looked >= LOOKS:
            self._looked = now
            for line in self._lines.values():
                self._look_again(line, now)
        for probe, line in self._lines.items():
            while line.waiting and len(found) < most:
                run = _run(line.readings)
                for reading in run:
                    reading.sent, reading.taken = now, False
                line.waiting -= len(run)
                found.append(Pack(probe, line.readings[0].number, tuple(run)))
        return found

    def _look_again(self, line: _Line, now: float) -> None:
        """What was answered by nobody for too long is to be sent again."""
        for reading in line.readings:
            if reading.sent is not None and not reading.taken and now - reading.sent >= UNANSWERED:
                self._again(line, reading)
        since = line.unmarked_since
        if self.marked and line.readings and since is not None and now - since >= line.patience:
            line.unmarked_since, line.patience = now, min(2 * line.patience, LONGEST)
            for reading in list(line.readings)[:PACK]:
                self._again(line, reading)

    @staticmethod
    def _again(line: _Line, reading: Reading) -> None:
        if reading.sent is not None:
            reading.sent, reading.taken = None, False
            line.waiting += 1

    def taken(self, pack: Pack) -> None:
        """The broker has confirmed this message."""
        for reading in pack.readings:
            reading.taken = reading.sent is not None

    def refused(self, pack: Pack) -> None:
        """It could not even be handed over: it waits again."""
        line = self._lines[pack.probe]
        first = line.readings[0].number if line.readings else line.next
        for reading in pack.readings:
            if reading.number >= first:
                self._again(line, reading)

    def connected(self) -> None:
        """A connection has come up: whatever the last one had not confirmed is to be sent again."""
        for line in self._lines.values():
            for reading in line.readings:
                if not reading.taken:
                    self._again(line, reading)

    def mark(self, probe: str, life: str, *, through: int, heard: int, now: float) -> int:
        """The daemon has everything of this life `through` a number on disk, and has heard of one up to `heard`. How many were
        let go for that. A mark of another life, or beyond what was ever sent, is none of ours.
        """
        line = self._lines.get(probe)
        if line is None or life != self.life or through >= line.next or heard >= line.next:
            return 0
        self.marked = True
        done = 0
        while line.readings and line.readings[0].number <= through:
            reading = line.readings.popleft()
            line.waiting -= reading.sent is None
            done += 1
        self._count -= done
        if done:
            line.unmarked_since, line.patience = now if line.readings else None, PATIENCE
        for reading in line.readings:
            if reading.number > heard:
                break
            if reading.sent is not None and now - reading.sent >= AGAIN:
                self._again(line, reading)
        return done


def _run(readings: deque[Reading]) -> list[Reading]:
    """The first readings that wait, as many as follow each other, have times of one kind, and fit into one message."""
    run: list[Reading] = []
    for reading in readings:
        if reading.sent is None and (not run or reading.timed is run[0].timed):
            run.append(reading)
            if len(run) == PACK:
                break
        elif run:
            break
    return run
