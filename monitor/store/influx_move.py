"""Everything to the server now, and everything back into the file, each compared afterwards by probe and day.

Going there is the sending of `influx.ship`, portion after portion. Coming back goes from the newest to the oldest of each
probe: a portion is put into the file and the probe's `pruned` mark lowered in one transaction, so that whatever is
interrupted goes on where it stood. For the store's owner, with the daemon ended.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from hashlib import blake2b

from monitor.readings import DAY, Millis, Reading
from monitor.store.connections import transaction
from monitor.store.influx import InfluxStore
from monitor.store.influx_lines import EARLIEST, LATEST, MEASUREMENT, line_of, where
from monitor.store.influx_readings import PAGE, readings_of
from monitor.store.rows import LARGEST, ROW, meta_of, reading_of, steps_of
from monitor.store.sqlite import SqliteStore

Progress = Callable[[int, int], None]
"""Told how many are done, and of how many."""


@dataclass(slots=True)
class Tally:
    """One probe's day: how many readings and the sum of their digests, as one side has them and as the other."""

    count: int = 0
    digest: int = 0
    other_count: int = 0
    other_digest: int = 0

    @property
    def alike(self) -> bool:
        """Whether both sides have the same."""
        return (self.count, self.digest) == (self.other_count, self.other_digest)


@dataclass(frozen=True, slots=True)
class Compared:
    """What a comparison came to: probes, days and readings looked at, and the days (probe, day since 1970) that differ."""

    probes: int = 0
    days: int = 0
    readings: int = 0
    apart: tuple[tuple[str, int, Tally], ...] = ()


@dataclass(frozen=True, slots=True)
class Moved:
    """What a move came to: readings carried now, days that had to be carried anew, the last comparison, and how many readings
    of each probe lie at the server that the file knows nothing of.
    """

    carried: int
    mended: int
    compared: Compared = field(default_factory=Compared)
    more: Mapping[str, int] = field(default_factory=dict)


class Mover:
    """Moves a store's readings. Raises StoreError when the server does not answer; what was done stays done."""

    def __init__(self, store: InfluxStore, progress: Progress) -> None:
        self._store, self._progress = store, progress

    def there(self) -> Moved:
        """Everything to the server; days that differ afterwards are sent once more, and what differs then is told. It
        counts as not sent, so that it does not leave the file.
        """
        carried = self._send()
        first = self._compare_there(self._probes())
        more = {probe: count for probe in self._probes() if (count := self._more_there(probe))}
        if not first.apart:
            return Moved(carried, 0, first, more)
        self._send_days(first)
        again = self._compare_there(self._probes())
        if again.apart:
            self._count_as_unsent(again)
        return Moved(carried, len(first.apart), again, more)

    def back(self) -> Moved:
        """Everything that lies at the server only into the file; days that differ afterwards are fetched once more. Then
        nothing counts as sent: another database would get everything.
        """
        store = self._store
        if store._pruned():
            self._send()  # late ones are settled against what lies there
        total, carried = store.counted(), 0
        for probe in sorted(store._pruned()):
            for some in self._fetched(probe):
                carried += some
                self._progress(min(carried, total), total)
        compared = self._compare_back()
        apart = len(compared.apart)
        if apart:
            carried += sum(self._fetch_day(probe, day) for probe, day, _ in compared.apart)
            compared = self._compare_back()
        if not compared.apart:
            store._next = 1
            store.note()
        return Moved(carried, apart, compared)

    # ── there ─────────────────────────────────────────────────────────────────────────────────────────────────

    def _send(self) -> int:
        store, sent = self._store, 0
        total = store.unshipped()
        while left := store.unshipped():
            shipped = store.ship()
            sent += shipped.sent
            store.note()
            self._progress(total - left, total)
        if total:
            self._progress(total, total)
        return sent

    def _send_days(self, compared: Compared) -> None:
        store = self._store
        for probe, day, _ in compared.apart:
            readings = self._of_day(probe, day)
            tags = store._tagged(readings) if readings else {}
            if readings:
                store._server.write([line_of(store._site, tags[probe], r) for r in readings])

    def _count_as_unsent(self, compared: Compared) -> None:
        found = [r.arrival for probe, day, _ in compared.apart for r in self._of_day(probe, day)]
        self._store._next = min([self._store._next, *found])
        self._store.note()

    def _of_day(self, probe: str, day: int) -> list[Reading]:
        start = max(day * DAY, EARLIEST)
        return SqliteStore.window(self._store, probe, start, min((day + 1) * DAY, LATEST + 1))

    # ── back ──────────────────────────────────────────────────────────────────────────────────────────────────

    def _fetched(self, probe: str) -> Iterator[int]:
        """Portion after portion of one probe, the newest first; how many each was."""
        store = self._store
        before = store._pruned_of(probe)
        while before != -LARGEST:
            question = f"{store._question(probe, None, before)} ORDER BY time DESC LIMIT {PAGE}"
            page = readings_of(probe, store._server.ask([question])[0])
            last = len(page) < PAGE
            oldest = min((r.at for r in page), default=before)
            # of the oldest time another one may lie beyond the page
            whole = [r for r in store._real(probe, page) if last or r.at > oldest]
            before = -LARGEST if last else oldest + 1
            yield self._put(probe, sorted(whole, key=lambda r: r.arrival), before)

    def _put(self, probe: str, readings: Sequence[Reading], before: Millis) -> int:
        store = self._store
        number = store._tails[probe].number

        def put(file: sqlite3.Connection) -> int:
            with transaction(file):
                changes = file.total_changes
                file.executemany(
                    f"INSERT OR IGNORE INTO reading ({ROW}) SELECT ?, ?, ?, ?, ?"
                    " WHERE NOT EXISTS (SELECT 1 FROM arrived WHERE arrival = ?1)",
                    [(r.arrival, number, r.at, steps_of(r.value), meta_of(r)) for r in readings],
                )
                put_in = file.total_changes - changes
                if before == -LARGEST:
                    file.execute("DELETE FROM pruned WHERE probe = ?", (number,))
                else:
                    file.execute("UPDATE pruned SET before = ? WHERE probe = ?", (before, number))
            return put_in

        count = store._on_writer(put)
        store._before = store._pruned()
        return count

    def _fetch_day(self, probe: str, day: int) -> int:
        """What of a day the file knows nothing of, of what it has itself sent."""
        store = self._store
        found = store._real(probe, store._there(probe, max(day * DAY, EARLIEST), min((day + 1) * DAY, LATEST + 1)))
        sent = [r for r in found if r.arrival <= store.last_arrival()]
        return self._put(probe, sent, -LARGEST) if sent else 0

    def _more_there(self, probe: str) -> int:
        """How many readings of a probe the server has, of the time of which everything lies here, and the file has not."""
        store = self._store
        if not store._tags(probe):
            return 0
        start = max(store._pruned_of(probe), EARLIEST)
        if self._count_there(probe, start) <= self._count_here(probe, start):
            return 0
        known = {r.at for page in _pages(self._page_here, probe) for r in page}
        there = (r for page in _pages(self._page_there, probe, start) for r in store._real(probe, page))
        return sum(r.at not in known for r in there)

    def _count_there(self, probe: str, start: Millis) -> int:
        condition = where(self._store._site, self._store._tags(probe), start, LATEST + 1)
        answer = self._store._server.ask([f'SELECT count("value") FROM "{MEASUREMENT}" WHERE {condition}'])[0]
        return sum(int(row[1] or 0) for _, rows in answer for row in rows)

    def _count_here(self, probe: str, start: Millis) -> int:
        question = (
            "SELECT count(*) FROM reading JOIN probe ON number = probe WHERE name = ? AND at BETWEEN ? AND ?"
        )
        return int(self._store._all(question, probe, start, LATEST)[0][0])

    # ── compared ──────────────────────────────────────────────────────────────────────────────────────────────

    def _probes(self) -> list[str]:
        return [str(name) for (name,) in self._store._all("SELECT name FROM probe ORDER BY name")]

    def _compare_there(self, probes: Sequence[str]) -> Compared:
        """Whether everything that lies here lies there as well."""
        self._store._on_writer(self._store._move_all)
        return _compared(probes, lambda probe: _pages(self._page_here, probe), self._store._there)

    def _compare_back(self) -> Compared:
        """Whether everything that lies there lies here as well."""
        self._store._on_writer(self._store._move_all)
        probes = [probe for probe in self._probes() if self._store._tags(probe)]
        here = lambda probe, start, end: SqliteStore.window(self._store, probe, start, end)  # noqa: E731
        return _compared(probes, lambda probe: _pages(self._page_there, probe), here)

    def _page_here(self, probe: str, start: Millis) -> list[Reading]:
        rows = self._store._all(
            f"SELECT {ROW} FROM reading WHERE probe = (SELECT number FROM probe WHERE name = ?) AND at BETWEEN ? AND ?"
            " ORDER BY at LIMIT ?",
            probe,
            max(start, EARLIEST),
            LATEST,
            PAGE,
        )
        return [reading_of(probe, (arrival, number, at, value, meta)) for arrival, number, at, value, meta in rows]

    def _page_there(self, probe: str, start: Millis) -> list[Reading]:
        question = f"{self._store._question(probe, start, None)} ORDER BY time ASC LIMIT {PAGE}"
        return readings_of(probe, self._store._server.ask([question])[0])


def _pages(
    page: Callable[[str, Millis], list[Reading]], probe: str, start: Millis = EARLIEST
) -> Iterator[list[Reading]]:
    while found := page(probe, start):
        yield found
        start = found[-1].at + 1
        if len(found) < PAGE:
            return


def _compared(
    probes: Sequence[str],
    pages: Callable[[str], Iterator[list[Reading]]],
    window: Callable[[str, Millis, Millis], list[Reading]],
) -> Compared:
    """Each page of one side against what the other has of the same times."""
    days = readings = 0
    apart: list[tuple[str, int, Tally]] = []
    for probe in probes:
        tallies: dict[int, Tally] = {}
        for page in pages(probe):
            readings += len(page)
            _tally(tallies, page, window(probe, page[0].at, page[-1].at + 1))
        days += len(tallies)
        apart += [(probe, day, tally) for day, tally in sorted(tallies.items()) if not tally.alike]
    return Compared(len(probes), days, readings, tuple(apart))


def _tally(tallies: dict[int, Tally], page: Sequence[Reading], others: Sequence[Reading]) -> None:
    times = set()
    for reading in page:
        times.add(reading.at)
        tally = tallies.setdefault(reading.at // DAY, Tally())
        tally.count += 1
        tally.digest = (tally.digest + digest(reading)) % 2**64
    for reading in others:
        if reading.at in times:
            tally = tallies[reading.at // DAY]
            tally.other_count += 1
            tally.other_digest = (tally.other_digest + digest(reading)) % 2**64


def digest(reading: Reading) -> int:
    """Everything of a reading as 64 bits; the sum over a day does not depend on their order."""
    whole = f"{reading.at} {steps_of(reading.value)} {meta_of(reading)} {reading.arrival}"
    return int.from_bytes(blake2b(whole.encode(), digest_size=8).digest(), "big")
