"""Readings read back: what lies here and what lies at the server, as one."""

from __future__ import annotations

import threading
from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from itertools import chain
from pathlib import Path
from typing import Protocol

from monitor.errors import StoreError
from monitor.readings import RESOLUTION, Millis, Reading
from monitor.store.influx_lines import FIELDS, MEASUREMENT, reading_from, refuse_name, trusted, where
from monitor.store.promises import Bucket
from monitor.store.rows import LARGEST, steps_of
from monitor.store.sqlite import SqliteStore

PAGE = 20_000
"""Rows in one answer of the server."""

Answer = list[tuple[Mapping[str, str], list[list[float | None]]]]


class Server(Protocol):
    """What is needed of `influx_server.Server`."""

    def write(self, lines: Sequence[str]) -> None:
        """Returns when the server holds them."""

    def ask(self, questions: Sequence[str]) -> list[Answer]:
        """Answers in the order of the questions."""

    def close(self) -> None:
        """Let go."""


class Later:
    """A server that is made when it is first needed: most commands never ask it."""

    def __init__(self, make: Callable[[], Server]) -> None:
        self._make = make
        self._made: Server | None = None
        self._lock = threading.Lock()

    def _server(self) -> Server:
        with self._lock:
            self._made = self._made or self._make()
            return self._made

    def write(self, lines: Sequence[str]) -> None:
        """As the server."""
        self._server().write(lines)

    def ask(self, questions: Sequence[str]) -> list[Answer]:
        """As the server."""
        return self._server().ask(questions)

    def close(self) -> None:
        """As the server, if there is one."""
        if self._made is not None:
            self._made.close()


class InfluxReadings(SqliteStore):
    """`promises.Readings`, of which what has left the file comes from the server."""

    def __init__(
        self, path: str | Path, server: Server, site: str, *, read_only: bool = False, now: Millis = 0
    ) -> None:
        """As `SqliteStore`. `site` tells this site's readings from others' in the same bucket."""
        refuse_name(site)
        self._server, self._site = server, site
        super().__init__(path, read_only=read_only, now=now)

    def close(self) -> None:
        """As promised; the server's connections too."""
        super().close()
        self._server.close()

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
        spans = {name: (start, end) for name, start, end in gone}
        whole = [r for name, (start, end) in spans.items() for r in self.window(name, start, end + 1)]
        whole += [r for r in found if r.probe not in spans or not spans[r.probe][0] <= r.at <= spans[r.probe][1]]
        return sorted((r for r in whole if r.arrival > arrival), key=lambda r: r.arrival)[:limit]

    def window(self, probe: str, start: Millis, end: Millis) -> list[Reading]:
        """As promised; what has left the file comes from the server."""
        here = super().window(probe, start, end)
        before = self._pruned_of(probe)
        if start >= before or start >= end:
            return here
        return _united(self._there(probe, start, min(end, before)), here)

    def latest_of(self, probes: Collection[str], count: int = 1) -> dict[str, list[Reading]]:
        """As promised, one probe after the other: most of what is wanted lies here."""
        return {probe: self.latest(probe, count) for probe in probes}

    def latest(self, probe: str, count: int = 1, upto_arrival: int | None = None) -> list[Reading]:
        """As promised. While the server cannot be asked: what lies here, which is `NEWEST` at least."""
        here = super().latest(probe, count, upto_arrival)
        before = self._pruned_of(probe)
        if before == -LARGEST or (len(here) >= count > 0 and here[-count].at >= before):
            return here
        if self._ghosts(probe):
            upto = LARGEST if upto_arrival is None else upto_arrival
            found = [r for r in self.window(probe, -LARGEST, LARGEST) if r.arrival <= upto]
            return found[max(len(found) - count, 0) :]
        asked = self._question(probe, None, before, arrival=upto_arrival) + f" ORDER BY time DESC LIMIT {count}"
        found = _united(self._asked_softly(probe, asked), here)
        return found[max(len(found) - count, 0) :]

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
        if self._ghosts(probe):
            found = [r for r in self.window(probe, -LARGEST, LARGEST) if r.arrival <= upto]
            other = max((r.at for r in found if r.value != value), default=-LARGEST)
            return min(r.at for r in found if r.at > other)
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
        tags = self._tags(probe)
        if len(tags) != 1 or self._ghosts(probe) or super().window(probe, start, edge):
            # late ones may lie at both, and two ids may have had a reading of one time: rare
            return _bucketed(self.window(probe, start, end), start, width)
        there = self._sums_there(tags, start, edge, width)
        return _added(there, _bucketed(super().window(probe, edge, end), start, width))

    def _sums_there(self, tags: Sequence[str], start: Millis, edge: Millis, width: Millis) -> list[Bucket]:
        question = (
            f'SELECT count("value"), min("value"), sum("value"), max("value") FROM "{MEASUREMENT}" WHERE '
            f"{where(self._site, tags, start, edge)} AND {trusted()}"
            f" GROUP BY time({width}ms, {start % width}ms) fill(none)"
        )
        rows = [row for _, rows in self._server.ask([question])[0] for row in rows if row[1]]
        return [
            Bucket(
                int(at or 0), int(count or 0), low or 0.0,
                round((total or 0.0) * RESOLUTION) / ((count or 1) * RESOLUTION), high or 0.0,
            )
            for at, count, low, total, high in rows
        ]  # fmt: skip

    def _there(self, probe: str, start: Millis, end: Millis) -> list[Reading]:
        """Readings of the server, page by page."""
        found: list[Reading] = []
        while True:
            question = f"{self._question(probe, start, end)} ORDER BY time ASC LIMIT {PAGE}"
            page = readings_of(probe, self._server.ask([question])[0])
            found += page
            if len(page) < PAGE:
                return self._real(probe, found)
            start = page[-1].at + 1

    def _asked_softly(self, probe: str, question: str) -> list[Reading]:
        """In order of time; nothing while the server cannot be asked."""
        try:
            return sorted(readings_of(probe, self._server.ask([question])[0]), key=lambda r: r.at)
        except StoreError:
            return []

    def _question(
        self, probe: str, start: Millis | None, end: Millis | None, *, arrival: int | None = None
    ) -> str:
        upto = "" if arrival is None else f' AND "arrival" <= {arrival}'
        condition = where(self._site, self._tags(probe), start, end)
        return f'SELECT {FIELDS} FROM "{MEASUREMENT}" WHERE {condition}{upto}'

    def _real(self, probe: str, readings: Sequence[Reading]) -> list[Reading]:
        """Without the points that are nothing."""
        ghosts = self._ghosts(probe)
        return [r for r in readings if (r.at, r.arrival) not in ghosts]

    def _ghosts(self, probe: str) -> set[tuple[Millis, int]]:
        rows = self._all("SELECT at, arrival FROM ghost g JOIN probe p ON number = probe WHERE name = ?", probe)
        return {(at, arrival) for at, arrival in rows}

    def _tags(self, probe: str) -> list[str]:
        """Under which names a probe's readings lie at the server."""
        rows = self._all("SELECT tag FROM series s JOIN probe p ON number = probe WHERE name = ?", probe)
        return [str(tag) for (tag,) in rows]

    def elsewhere(self) -> int:
        """As promised."""
        return 0

    def _pruned(self) -> dict[str, Millis]:
        return dict(self._all("SELECT name, before FROM pruned JOIN probe ON number = probe"))

    def _pruned_of(self, probe: str) -> Millis:
        found = self._all("SELECT before FROM pruned JOIN probe ON number = probe WHERE name = ?", probe)
        return int(found[0][0]) if found else -LARGEST


def _added(*some: Sequence[Bucket]) -> list[Bucket]:
    """Buckets of one width and beginning, those of one span as one."""
    sums: dict[Millis, Bucket] = {}
    for bucket in chain(*some):
        known = sums.get(bucket.start)
        sums[bucket.start] = _sum_of(known, bucket) if known is not None else bucket
    return [sums[start] for start in sorted(sums)]


def _sum_of(one: Bucket, other: Bucket) -> Bucket:
    count = one.count + other.count
    total = round((one.mean * one.count + other.mean * other.count) * RESOLUTION)
    low, high = min(one.low, other.low), max(one.high, other.high)
    return Bucket(one.start, count, low, total / (count * RESOLUTION), high)


def _united(*some: Sequence[Reading]) -> list[Reading]:
    """In order of time; of one time the first to arrive, as the later of `some` has it."""
    by_time: dict[Millis, Reading] = {}
    for reading in chain(*some):
        known = by_time.get(reading.at)
        if known is None or reading.arrival <= known.arrival:
            by_time[reading.at] = reading
    return [by_time[at] for at in sorted(by_time)]


def readings_of(probe: str, answer: Answer) -> list[Reading]:
    """The readings of an answer, in its order."""
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
