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
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Protocol

from monitor.errors import StoreError
from monitor.readings import DAY, RESOLUTION, Millis, Reading
from monitor.store.connections import transaction
from monitor.store.influx_lines import (
    EARLIEST,
    FIELDS,
    LATEST,
    MEASUREMENT,
    line_of,
    reading_from,
    refuse_name,
    sendable,
    trusted,
    where,
)
from monitor.store.promises import Batch, Bucket, Kept
from monitor.store.rows import LARGEST, steps_of
from monitor.store.sqlite import SqliteStore

AT_ONCE = 5000
"""Lines in one write."""
PAGE = 20_000
"""Rows in one answer of the server."""
APART: Millis = DAY // 4
"""Late readings of one probe that lie closer than this are compared by one question."""
NEWEST = 32
"""Readings of each probe that stay in the file however old they are: what its memory begins with after a restart."""
NOTED = 2000
"""Readings after which it is noted how far the shipping has come; what was not noted is sent twice, which changes nothing."""

Answer = list[tuple[Mapping[str, str], list[list[float | None]]]]


class Server(Protocol):
    """What is needed of `influx_server.Server`."""

    def write(self, lines: Sequence[str]) -> None:
        """Returns when the server holds them."""

    def ask(self, questions: Sequence[str]) -> list[Answer]:
        """Answers in the order of the questions."""

    def close(self) -> None:
        """Let go."""


@dataclass(frozen=True, slots=True)
class Shipped:
    """What one portion came to: readings sent, found to be there already, and contradicted by what is there."""

    sent: int = 0
    same: int = 0
    other: int = 0


class InfluxStore(SqliteStore):
    """`promises.Store` whose readings go on to a database. Nothing is sent by itself: `ship` sends one portion."""

    def __init__(
        self, path: str | Path, server: Server, site: str, *, read_only: bool = False, now: Millis = 0
    ) -> None:
        """As `SqliteStore`. `site` tells this site's readings from others' in the same bucket."""
        refuse_name(site)
        self._server, self._site = server, site
        super().__init__(path, read_only=read_only, now=now)
        ((next_one,),) = self._all("SELECT next FROM counter WHERE name = 'ship'")
        self._next = self._noted = int(next_one)
        self._before = self._pruned()
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
            shipped = self._ship(limit)
        except StoreError:
            self._answers = False
            raise
        self._answers = True
        return shipped

    def _ship(self, limit: int) -> Shipped:
        upto = self.last_arrival()  # before the look: what is undated has a number too, and is not sent
        portion = super().after(self._next - 1, limit)
        before = self._before
        late = [r for r in portion if r.at < before.get(r.probe, -LARGEST)]
        known = self._known_there(late) if late else {}
        fresh = [r for r in portion if (r.probe, r.at) not in known and sendable(r)]
        if fresh:
            self._server.write([line_of(self._site, r) for r in fresh])
        other = [r for r in late if known.get((r.probe, r.at), steps_of(r.value)) != steps_of(r.value)]
        if known:
            self._on_writer(lambda file: self._settle(file, [r for r in late if (r.probe, r.at) in known], other))
        self._next = 1 + (portion[-1].arrival if len(portion) == limit else max(upto, self._next - 1))
        if self._next - self._noted >= NOTED:
            self.note()
        return Shipped(len(fresh), len(known) - len(other), len(other))

    def note(self) -> None:
        """Note how far the shipping has come."""
        if self._next != self._noted:
            mark = self._next
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
        """As promised; the server's connections too."""
        if not self._closed and not self.read_only:
            self.note()
        super().close()
        self._server.close()

    def _known_there(self, late: Sequence[Reading]) -> dict[tuple[str, Millis], int]:
        """The values at the server for the times of late readings, those that are there."""
        spans = list(_spans(late))
        answers = self._server.ask([self._question(probe, start, end + 1) for probe, start, end in spans])
        wanted = {(r.probe, r.at): r.arrival for r in late}
        found: dict[tuple[str, Millis], int] = {}
        for (probe, _, _), answer in zip(spans, answers, strict=True):
            for reading in _readings(probe, answer):
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
                if self._tails[reading.probe].staged.pop(reading.at, None):
                    self._staged -= 1

    def _contradicted(self, file: sqlite3.Connection, other: Sequence[Reading]) -> None:
        file.executemany(
            "INSERT INTO contradiction VALUES (?, 1) ON CONFLICT DO UPDATE SET count = count + 1",
            [(self._tails[reading.probe].number,) for reading in other],
        )

    # What comes back

    def after(self, arrival: int, limit: int = 1_000_000) -> list[Reading]:
        """As promised; what has left the file comes from the server."""
        found = super().after(arrival, limit)
        gone = self._all(
            "SELECT name, min(first_at), max(min(last_at, before - 1)) FROM moved m JOIN pruned p ON p.probe = m.probe"
            " JOIN probe ON number = m.probe WHERE last_arrival > ? AND first_at < before GROUP BY m.probe",
            arrival,
        )
        if not gone:
            return found
        by_number = {r.arrival: r for name, start, end in gone for r in self._there(name, start, end + 1)}
        by_number |= {r.arrival: r for r in found}
        return [by_number[number] for number in sorted(by_number) if number > arrival][:limit]

    def window(self, probe: str, start: Millis, end: Millis) -> list[Reading]:
        """As promised; what has left the file comes from the server."""
        here = super().window(probe, start, end)
        before = self._pruned_of(probe)
        if start >= before or start >= end:
            return here
        by_time = {r.at: r for r in self._there(probe, start, min(end, before))} | {r.at: r for r in here}
        return [by_time[at] for at in sorted(by_time)]

    def latest(self, probe: str, count: int = 1, upto_arrival: int | None = None) -> list[Reading]:
        """As promised. While the server cannot be asked: what lies here, which is `NEWEST` at least."""
        here = super().latest(probe, count, upto_arrival)
        before = self._pruned_of(probe)
        if before == -LARGEST or (len(here) >= count > 0 and here[-count].at >= before):
            return here
        asked = self._question(probe, None, before, arrival=upto_arrival) + f" ORDER BY time DESC LIMIT {count}"
        by_time = {r.at: r for r in self._asked_softly(probe, asked)} | {r.at: r for r in here}
        return [by_time[at] for at in sorted(by_time)][max(len(by_time) - count, 0) :]

    def unchanged_since(self, probe: str, upto_arrival: int | None = None) -> Millis | None:
        """As promised. While the server cannot be asked: since when by what lies here."""
        since = super().unchanged_since(probe, upto_arrival)
        before = self._pruned_of(probe)
        if before == -LARGEST:
            return since
        newest = self.latest(probe, 1, upto_arrival)
        if not newest:
            return since
        upto = LARGEST if upto_arrival is None else upto_arrival
        here = [r for r in super().window(probe, -LARGEST, LARGEST) if r.arrival <= upto]
        if since is not None and any(before <= r.at < since for r in here):
            return since  # the whole run lies here, and what came before it
        value = newest[0].value
        question = self._question(probe, None, before, arrival=upto_arrival)
        there = self._asked_softly(probe, f'{question} AND "value" != {value!r} ORDER BY time DESC LIMIT 1')
        other = max((r.at for r in [*there, *here] if r.value != value), default=-LARGEST)
        question = self._question(probe, other + 1, before, arrival=upto_arrival)
        run = self._asked_softly(probe, f"{question} ORDER BY time ASC LIMIT 1") if other < before else []
        return min(r.at for r in [*run, *here, *newest] if r.at > other)

    def buckets(self, probe: str, start: Millis, end: Millis, width: Millis) -> list[Bucket]:
        """As promised; the server sums up what has left the file."""
        before = self._pruned_of(probe)
        edge = min(end, max(start, before))
        here = super().buckets(probe, edge, end, width) if edge == start else []
        if edge == start:
            return here
        if super().window(probe, start, edge):  # late ones, that may lie at both: rare
            return _bucketed(self.window(probe, start, end), start, width)
        return self._sums_there(probe, start, edge, width, super().window(probe, edge, end))

    def _sums_there(
        self, probe: str, start: Millis, edge: Millis, width: Millis, here: Sequence[Reading]
    ) -> list[Bucket]:
        question = (
            f'SELECT count("value"), min("value"), sum("value"), max("value") FROM "{MEASUREMENT}" WHERE '
            f"{where(self._site, self._names(probe), start, edge)} AND {trusted()}"
            f" GROUP BY time({width}ms, {start % width}ms) fill(none)"
        )
        sums: dict[int, tuple[int, float, float, float]] = {}
        for _, rows in self._server.ask([question])[0]:
            for at, count, low, total, high in rows:
                if count:
                    number = (int(at or 0) - start) // width
                    sums[number] = (int(count), float(low or 0), float(total or 0), float(high or 0))
        for bucket in _bucketed(here, start, width):
            number = (bucket.start - start) // width
            count, low, total, high = sums.get(number, (0, bucket.low, 0.0, bucket.high))
            sums[number] = (
                count + bucket.count,
                min(low, bucket.low),
                total + bucket.mean * bucket.count,
                max(high, bucket.high),
            )
        return [
            Bucket(start + number * width, n, low, round(total * RESOLUTION) / (n * RESOLUTION), high)
            for number, (n, low, total, high) in sorted(sums.items())
        ]

    def _there(self, probe: str, start: Millis, end: Millis) -> list[Reading]:
        """Readings of the server, page by page."""
        found: list[Reading] = []
        while True:
            question = f"{self._question(probe, start, end)} ORDER BY time ASC LIMIT {PAGE}"
            page = _readings(probe, self._server.ask([question])[0])
            found += page
            if len(page) < PAGE:
                return found
            start = page[-1].at + 1

    def _asked_softly(self, probe: str, question: str) -> list[Reading]:
        """In order of time; nothing while the server cannot be asked."""
        try:
            return sorted(_readings(probe, self._server.ask([question])[0]), key=lambda r: r.at)
        except StoreError:
            return []

    def _question(
        self, probe: str, start: Millis | None, end: Millis | None, *, arrival: int | None = None
    ) -> str:
        upto = "" if arrival is None else f' AND "arrival" <= {arrival}'
        condition = where(self._site, self._names(probe), start, end)
        return f'SELECT {FIELDS} FROM "{MEASUREMENT}" WHERE {condition}{upto}'

    def _names(self, probe: str) -> tuple[str, ...]:
        """Every name under which a probe's readings lie at the server."""
        return (probe,)

    def _pruned(self) -> dict[str, Millis]:
        return dict(self._all("SELECT name, before FROM pruned JOIN probe ON number = probe"))

    def _pruned_of(self, probe: str) -> Millis:
        found = self._all("SELECT before FROM pruned JOIN probe ON number = probe WHERE name = ?", probe)
        return int(found[0][0]) if found else -LARGEST


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


def _readings(probe: str, answer: Answer) -> list[Reading]:
    return [reading_from(probe, row) for _, rows in answer for row in rows]


def _bucketed(readings: Sequence[Reading], start: Millis, width: Millis) -> list[Bucket]:
    values: dict[int, list[float]] = defaultdict(list)
    for reading in readings:
        if reading.quality.trusted:
            values[(reading.at - start) // width].append(reading.value)
    return [
        Bucket(
            start + number * width, len(found), min(found),
            sum(map(steps_of, found)) / (len(found) * RESOLUTION), max(found),
        )
        for number, found in sorted(values.items())
    ]  # fmt: skip
