"""Times that turned out to be off, of readings that lie at the server already.

What a shift may move is fetched back into the file, moved there, and sent anew. The old points stay where they are (only
some servers can take a point back) and are noted as ghosts, which nothing that reads through this store ever sees.
"""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Mapping, Sequence

from monitor.readings import MINUTE, Millis, Reading
from monitor.store.connections import transaction
from monitor.store.influx_tags import InfluxTags
from monitor.store.promises import Shift
from monitor.store.rows import LARGEST, ROW, meta_of, steps_of


class InfluxShift(InfluxTags):
    """`promises.Timekeeping` where readings lie at a server."""

    _next: int

    def shift(self, shift: Shift) -> None:
        """As promised. Raises StoreError, having moved nothing, when what has left the file cannot be fetched."""
        with self._one_at_a_time:
            self._bring_back(self.after(shift.above["arrival"]))
            for name, start, end in self._spans_above(shift):
                self._bring_back(self.window(name, start, end))
            if shift.overtaken:
                names = [name for name, before in self._pruned().items() if before > shift.now]
                self._bring_back([r for name in names for r in self._there(name, shift.now + MINUTE, LARGEST)])
            super().shift(shift)
            ((self._next,),) = self._all("SELECT next FROM counter WHERE name = 'ship'")

    def _spans_above(self, shift: Shift) -> list[tuple[str, Millis, Millis]]:
        """Where readings above the mark lie and will lie: what stands there already must be here to be met."""
        found: dict[str, list[Millis]] = defaultdict(list)
        for reading in self.after(shift.above["arrival"]):
            found[reading.probe].append(reading.at)
        by = shift.by
        return [(p, min(t) + min(by, 0), max(t) + max(by, 0) + MINUTE) for p, t in found.items()]

    def _bring_back(self, readings: Sequence[Reading]) -> None:
        def put(file: sqlite3.Connection) -> None:
            with transaction(file):
                file.executemany(
                    f"INSERT OR IGNORE INTO reading ({ROW}) SELECT ?, ?, ?, ?, ?"
                    " WHERE NOT EXISTS (SELECT 1 FROM arrived WHERE arrival = ?1)",
                    [
                        (r.arrival, self._tails[r.probe].number, r.at, steps_of(r.value), meta_of(r))
                        for r in readings
                    ],
                )

        if readings:
            self._on_writer(put)

    def _placed(self, file: sqlite3.Connection, shift: Shift) -> Mapping[int, tuple[int, Millis]]:
        later = shift.now + MINUTE if shift.overtaken else LARGEST
        rows = file.execute(
            "SELECT arrival, probe, at FROM reading WHERE arrival < ? AND (arrival > ? OR at > ?)",
            (self._next, shift.above["arrival"], later),
        )
        return {arrival: (probe, at) for arrival, probe, at in rows}

    def _replaced(self, file: sqlite3.Connection, shift: Shift, before: Mapping[int, tuple[int, Millis]]) -> None:
        for arrival, (probe, at) in before.items():
            still = "SELECT 1 FROM reading WHERE probe = ? AND at = ? AND arrival = ?"
            if file.execute(still, (probe, at, arrival)).fetchone() is None:
                file.execute("INSERT OR IGNORE INTO ghost VALUES (?, ?, ?)", (probe, at, arrival))
        again = min(self._next, shift.above["arrival"] + 1)
        file.execute("UPDATE counter SET next = ? WHERE name = 'ship'", (again,))
