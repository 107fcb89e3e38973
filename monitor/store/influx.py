"""Readings in a time-series database, everything else in the site's file.

A reading is durable in the file before it is acknowledged, goes on to the server from there, in the order of arrival,
and is removed from the file days after the server has answered that it holds it. So a server that is down, slow, full or
gone costs nothing: the site goes on judging from its own file, where the newest days always lie, and the server gets what
it missed when it is back. (The other way, to let the broker hold everything until the server answers, would make a site
blind as soon as the broker's window is full.)

First value wins, as everywhere; the server by itself would take the last. What comes for a time whose readings have left
the file is compared with the server's before it is sent.
"""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from monitor.errors import StoreError
from monitor.readings import DAY, HOUR, Millis, Reading
from monitor.store.connections import transaction
from monitor.store.influx_lines import (
    EARLIEST,
    LATEST,
    line_of,
    refuse_name,
    sendable,
)
from monitor.store.influx_readings import Server, readings_of
from monitor.store.influx_shift import InfluxShift
from monitor.store.promises import Batch, Kept
from monitor.store.rows import LARGEST, steps_of
from monitor.store.sqlite import SqliteStore

AT_ONCE = 5000
"""Lines in one write."""
APART: Millis = DAY // 4
"""Late readings of one probe that lie closer than this are compared by one question."""
NEWEST = 32
"""Readings of each probe that stay in the file however old they are: what its memory begins with after a restart."""
NOTED = 2000
"""Readings after which it is noted how far the shipping has come; what was not noted is sent twice, which changes nothing."""


@dataclass(frozen=True, slots=True)
class Shipped:
    """What one portion came to: readings sent, found to be there already, and contradicted by what is there."""

    sent: int = 0
    same: int = 0
    other: int = 0


class InfluxStore(InfluxShift):
    """`promises.Store` whose readings go on to a database. Nothing is sent by itself: `ship` sends one portion."""

    def __init__(
        self, path: str | Path, server: Server, site: str, *, read_only: bool = False, now: Millis = 0
    ) -> None:
        """As `InfluxReadings`."""
        super().__init__(path, server, site, read_only=read_only, now=now)
        ((next_one,),) = self._all("SELECT next FROM counter WHERE name = 'ship'")
        self._next = self._noted = int(next_one)
        self._answers = True

    # What goes in

    def keep(self, batch: Batch) -> Kept:
        """As promised. Raises BadValue for a probe that could not be written in a line. What is known at the server is
        found now, or when it is shipped while the server cannot be asked.
        """
        for name in {r.probe for r in batch.readings}:
            refuse_name(name)
        before = self._before
        late = [r for r in batch.readings if r.at < before.get(r.probe, -LARGEST)]
        known = self._known_softly(late) if late else {}
        if not known:
            return super().keep(batch)
        fresh = [r for r in batch.readings if (r.probe, r.at) not in known]
        old = [r for r in late if (r.probe, r.at) in known]
        other = [r for r in old if known[r.probe, r.at] != steps_of(r.value)]
        kept = super().keep(replace(batch, readings=fresh))
        if other:
            self._write(lambda file: self._contradicted(file, other))
        return replace(kept, same=kept.same + len(old) - len(other), other=kept.other + len(other))

    def unshipped(self) -> int:
        """How many arrival numbers the server has still to get."""
        return max(self.last_arrival() + 1 - self._next, 0)

    def ship(self, limit: int = AT_ONCE) -> Shipped:
        """Send the next portion. Raises StoreError when the server does not take it; the same portion goes again next
        time. To be called by one thread.
        """
        try:
            with self._one_at_a_time:
                shipped = self._ship(limit)
        except StoreError:
            self._answers = False
            raise
        self._answers = True
        return shipped

    def _ship(self, limit: int) -> Shipped:
        upto = self.last_arrival()  # before the look: what is undated has a number too, and is not sent
        portion = SqliteStore.after(self, self._next - 1, limit)  # what lies here
        before = self._before
        late = [r for r in portion if r.at < before.get(r.probe, -LARGEST)]
        known = self._known_there(late) if late else {}
        fresh = [r for r in portion if (r.probe, r.at) not in known and sendable(r)]
        if fresh:
            tags = self._tagged(fresh)
            self._server.write([line_of(self._site, tags[r.probe], r) for r in fresh])
        other = [r for r in late if known.get((r.probe, r.at), steps_of(r.value)) != steps_of(r.value)]
        if known:
            self._on_writer(lambda file: self._settle(file, [r for r in late if (r.probe, r.at) in known], other))
        self._next = 1 + (portion[-1].arrival if len(portion) == limit else max(upto, self._next - 1))
        if self._next - self._noted >= NOTED:
            self.note()
        return Shipped(len(fresh), len(known) - len(other), len(other))

    def note(self) -> None:
        """Note how far the shipping has come."""
        mark = self._next
        if mark != self._noted:
            self._write(lambda file: file.execute("UPDATE counter SET next = ? WHERE name = 'ship'", (mark,)))
            self._noted = mark

    def prune(self, before: Millis, *, newest: int = NEWEST) -> int:
        """Remove from the file what is older than `before` and lies at the server; how many. The `newest` readings of each
        probe stay, and what the server's clock cannot hold.
        """
        self.note()
        removed = 0
        for (number,) in self._all("SELECT number FROM probe"):
            removed += self._on_writer(
                partial(_prune, number=number, before=before, mark=self._noted, newest=newest)
            )
        self._before = self._pruned()
        return removed

    def close(self) -> None:
        """As promised."""
        if not self._closed and not self.read_only:
            self.note()
        super().close()

    def _known_there(self, late: Sequence[Reading]) -> dict[tuple[str, Millis], int]:
        """The values at the server for the times of late readings, those that are there."""
        spans = list(_spans(late))
        answers = self._server.ask([self._question(probe, start, end + 1) for probe, start, end in spans])
        wanted = {(r.probe, r.at): r.arrival for r in late}
        found: dict[tuple[str, Millis], int] = {}
        for (probe, _, _), answer in zip(spans, answers, strict=True):
            for reading in self._real(probe, readings_of(probe, answer)):
                key = (probe, reading.at)
                if key in wanted and reading.arrival != wanted[key]:  # else it is this very one, sent before
                    found[key] = steps_of(reading.value)
        return found

    def _known_softly(self, late: Sequence[Reading]) -> dict[tuple[str, Millis], int]:
        if not self._answers:
            return {}
        try:
            return self._known_there(late)
        except StoreError:
            return {}

    def _settle(self, file: sqlite3.Connection, known: Sequence[Reading], other: Sequence[Reading]) -> None:
        """Take back late readings for whose time the server already has one."""
        with transaction(file):
            for reading in known:
                file.execute(
                    "INSERT INTO unsummed VALUES (?, ?, ?) ON CONFLICT DO UPDATE SET arrival = excluded.arrival",
                    (self._tails[reading.probe].number, reading.at // HOUR, self._last),
                )
                tail = self._tails[reading.probe]
                key = (tail.number, reading.at, reading.arrival)
                gone = file.execute("DELETE FROM arrived WHERE probe = ? AND at = ? AND arrival = ?", key).rowcount
                if not gone:
                    file.execute("DELETE FROM reading WHERE probe = ? AND at = ? AND arrival = ?", key)
                    file.execute(
                        "UPDATE moved SET count = count - 1 WHERE probe = ? AND last_arrival ="
                        " (SELECT min(last_arrival) FROM moved WHERE probe = ? AND last_arrival >= ?)",
                        (tail.number, tail.number, reading.arrival),
                    )
            self._contradicted(file, other)
        with self._tails_lock:
            for reading in known:
                if self._tails[reading.probe].staged.take_out(reading.at):
                    self._staged -= 1

    def _contradicted(self, file: sqlite3.Connection, other: Sequence[Reading]) -> None:
        file.executemany(
            "INSERT INTO contradiction VALUES (?, 1) ON CONFLICT DO UPDATE SET count = count + 1",
            [(self._tails[reading.probe].number,) for reading in other],
        )


def _prune(file: sqlite3.Connection, *, number: int, before: Millis, mark: int, newest: int) -> int:
    found = file.execute(
        "SELECT at FROM reading WHERE probe = ? ORDER BY at DESC LIMIT 1 OFFSET ?", (number, max(newest - 1, 0))
    ).fetchone()
    cut = before if newest == 0 else min(before, found[0] if found else -LARGEST)
    old = "probe = ? AND at < ? AND arrival < ? AND at BETWEEN ? AND ?"
    values = (number, cut, mark, EARLIEST, LATEST)
    if file.execute(f"SELECT 1 FROM reading WHERE {old} LIMIT 1", values).fetchone() is None:
        return 0
    with transaction(file):
        file.execute(
            "INSERT INTO pruned VALUES (?, ?) ON CONFLICT DO UPDATE SET before = max(before, excluded.before)",
            (number, cut),
        )
        return file.execute(f"DELETE FROM reading WHERE {old}", values).rowcount


def _spans(late: Sequence[Reading]) -> Iterable[tuple[str, Millis, Millis]]:
    """Where late readings lie: probe, first and last time of each run of them."""
    times: dict[str, list[Millis]] = defaultdict(list)
    for reading in late:
        times[reading.probe].append(reading.at)
    for probe, found in times.items():
        found.sort()
        start = end = found[0]
        for at in found[1:]:
            if at - end > APART:
                yield probe, start, end
                start = at
            end = at
        yield probe, start, end
