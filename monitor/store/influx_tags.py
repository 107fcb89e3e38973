"""Under which tags each probe's readings lie at the server, also when an id goes on under another."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Mapping, Sequence
from pathlib import Path

from monitor.readings import Millis, Reading
from monitor.store.connections import transaction
from monitor.store.influx_readings import InfluxReadings, Server
from monitor.store.promises import TakenUp, Taking
from monitor.store.sqlite_keep import move

Moves = list[tuple[int, Millis, Millis, int]]
"""For each move: its last arrival number, first and last time, and how many."""

TAG = "SELECT tag FROM series s JOIN probe p ON number = probe WHERE name = ? ORDER BY s.rowid DESC LIMIT 1"
"""The newest tag of a probe."""


class InfluxTags(InfluxReadings):
    """What is sent under which tag. No tag is ever used for two probes: the server would take one for the other."""

    def __init__(
        self, path: str | Path, server: Server, site: str, *, read_only: bool = False, now: Millis = 0
    ) -> None:
        """As `InfluxReadings`."""
        super().__init__(path, server, site, read_only=read_only, now=now)
        self._one_at_a_time = threading.RLock()
        self._before = self._pruned()
        self._known_tags: dict[str, str] = {}
        self._merged: dict[tuple[str, str], tuple[Moves, int]] = {}

    def _tagged(self, portion: Sequence[Reading]) -> dict[str, str]:
        """The tag of each probe of a portion, noted before anything is sent under it."""
        probes = {r.probe for r in portion}
        new = probes - self._known_tags.keys()
        if new:
            self._write(lambda file: _note_tags(file, sorted(new)))
            self._known_tags |= {probe: self._all(TAG, probe)[0][0] for probe in new}
        return self._known_tags

    def take_up(self, taking: Taking) -> TakenUp:
        """As promised. Where both ids of a pair had readings at the server, times that both have are looked for there."""
        with self._one_at_a_time:
            pairs = [pair for pair in taking.names.probes.items() if all(map(self._tags, pair))]
            if pairs:
                self._on_writer(self._move_all)
            twice = {(old, new): _common(self, old, new) for old, new in pairs}
            self._merged = {pair: (self._moves(pair), count) for pair, count in twice.items()}
            taken = super().take_up(taking)
            self._known_tags, self._before = {}, self._pruned()
            return taken

    def _move_all(self, file: sqlite3.Connection) -> None:
        with transaction(file):
            move(file)
        self._recall_anew(file)

    def _moves(self, pair: tuple[str, str]) -> Moves:
        return self._all(
            "SELECT last_arrival, min(first_at), max(last_at), sum(count) FROM moved JOIN probe ON number = probe"
            " WHERE name IN (?, ?) GROUP BY last_arrival ORDER BY last_arrival",
            *pair,
        )

    def _ids_changed(self, file: sqlite3.Connection, probes: Mapping[str, str]) -> None:
        numbers: dict[str, int] = dict(file.execute("SELECT name, number FROM probe").fetchall())
        for old, new in probes.items():
            if old in numbers and new in numbers:  # both had readings: one number took the other's
                _take_over(file, numbers[old], numbers[new])
                if (old, new) in self._merged:
                    _moved_anew(file, numbers[new], *self._merged[old, new])


def _note_tags(file: sqlite3.Connection, probes: Sequence[str]) -> None:
    for probe in probes:
        _note_tag(file, probe)


def _note_tag(file: sqlite3.Connection, probe: str) -> None:
    """The probe's name; with a number behind it when that was another probe's before. No series is ever used anew."""
    (number,) = file.execute("SELECT number FROM probe WHERE name = ?", (probe,)).fetchone()
    for count in range(1, 1_000_000):
        tag = probe if count == 1 else f"{probe}~{count}"
        row = file.execute("SELECT probe FROM series WHERE tag = ?", (tag,)).fetchone()
        if row is None:
            file.execute("INSERT INTO series (tag, probe) VALUES (?, ?)", (tag, number))
        if row is None or row[0] == number:
            return


def _take_over(file: sqlite3.Connection, was: int, number: int) -> None:
    file.execute("UPDATE series SET probe = ? WHERE probe = ?", (number, was))
    file.execute("UPDATE OR IGNORE ghost SET probe = ? WHERE probe = ?", (number, was))
    file.execute(
        "INSERT INTO pruned SELECT ?, before FROM pruned WHERE probe = ?"
        " ON CONFLICT DO UPDATE SET before = max(before, excluded.before)",
        (number, was),
    )
    file.execute("DELETE FROM pruned WHERE probe = ?", (was,))


def _moved_anew(file: sqlite3.Connection, number: int, moves: Moves, twice: int) -> None:
    """Where the readings of both were moved, less the times that both had."""
    file.execute("DELETE FROM moved WHERE probe = ?", (number,))
    for last, first_at, last_at, count in moves:
        less = min(twice, count)
        twice -= less
        file.execute("INSERT INTO moved VALUES (?, ?, ?, ?, ?)", (last, number, first_at, last_at, count - less))


def _common(store: InfluxTags, old: str, new: str) -> int:
    """How many times two probes both have a reading of."""
    spans = [(min(first for _, first, _, _ in m), max(last for _, _, last, _ in m))
             for m in (store._moves((old, old)), store._moves((new, new))) if m]  # fmt: skip
    if len(spans) < 2:
        return 0
    start, end = max(first for first, _ in spans), min(last for _, last in spans) + 1
    times = [{r.at for r in store.window(name, start, end)} for name in (old, new)]
    return len(times[0] & times[1])
