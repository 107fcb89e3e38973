"""Versions of the settings, and ids that go on under another, in the store that keeps nothing."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any, TypeVar

from monitor.alarms.cycle import Alarm
from monitor.names import Names
from monitor.readings import Millis
from monitor.store import renaming
from monitor.store.codec import written
from monitor.store.memory_readings import MemoryReadings, at_of, newest, whole
from monitor.store.promises import TakenUp, Taking, Version
from monitor.store.rows import steps_of

T = TypeVar("T")


class MemoryVersions(MemoryReadings):
    """`promises.Versions`, kept as long as the process lives."""

    def __init__(self) -> None:
        super().__init__()
        self._versions: list[Version] = []
        self._taken_up: list[TakenUp] = []

    @whole
    def take_up(self, taking: Taking) -> TakenUp:
        """As promised."""
        written(taking.outline)
        number = self._number_of(taking)
        if self._taken_up and self._taken_up[-1].number == number:
            return self._taken_up[-1]
        taken = TakenUp(
            taking.at, number or len(self._versions) + 1, taking.who, tuple(taking.amendments),
            tuple(taking.came), tuple(taking.went), taking.names.told(), taking.why,
        )  # fmt: skip
        written(taken)
        if number is None:
            files = tuple((name, text) for name, text in taking.files)
            version = Version(taken.number, taking.at, taking.digest, taking.rules, files, taking.outline)
            self._versions.append(version)
        self._taken_up.append(taken)
        if taking.names:
            self._rename_probes(taking.names)
            self._rename_journal(taking.names, taking.at)
        return taken

    def _number_of(self, taking: Taking) -> int | None:
        same = (v.number for v in self._versions if (v.digest, v.rules) == (taking.digest, taking.rules))
        return next(same, None)

    @whole
    def in_force(self) -> Version | None:
        """As promised."""
        return self._versions[self._taken_up[-1].number - 1] if self._taken_up else None

    @whole
    def version(self, number: int) -> Version | None:
        """As promised."""
        return self._versions[number - 1] if 0 < number <= len(self._versions) else None

    @whole
    def taken_up(self, limit: int = 100) -> list[TakenUp]:
        """As promised."""
        return newest(self._taken_up, limit)

    def _rename_journal(self, names: Names, at: Millis) -> None:
        """What `MemoryStore` has beside readings."""
        raise NotImplementedError

    def _rename_probes(self, names: Names) -> None:
        first: dict[tuple[str, Millis], Any] = {}
        for reading in self._arrived:
            now = replace(reading, probe=names.probe(reading.probe))
            first.setdefault((now.probe, now.at), now)
        self._arrived = sorted(first.values(), key=lambda r: r.arrival)
        self._series, self._known = {}, {}
        for reading in sorted(self._arrived, key=at_of):
            self._series.setdefault(reading.probe, []).append(reading)
            self._known[reading.probe, reading.at] = steps_of(reading.value)
        self._undated = [replace(u, probe=names.probe(u.probe)) for u in self._undated]
        self._refusals.extend(
            [replace(r, probe=r.probe and names.probe(r.probe)) for r in self._emptied(self._refusals)]
        )
        others: Counter[str] = Counter()
        for probe, count in self._other.items():
            others[names.probe(probe)] += count
        self._other = others

    @staticmethod
    def _emptied(kept: Any) -> list[Any]:
        held = list(kept)
        kept.clear()
        return held


def renamed_all(documents: list[T], names: Names) -> list[T]:
    """Each as it is called now."""
    return [renaming.renamed(one, names) for one in documents]


def renamed_standing(standing: dict[tuple[str, str], str], names: Names) -> dict[tuple[str, str], str]:
    """What stands under its key of today; where both have something, the new id's stays."""
    told = {(kind, key): renaming.standing_body(kind, body, names) for (kind, key), body in standing.items()}
    now = {(kind, key): body for (kind, key), body in told.items() if _is_now(kind, key, names)}
    for (kind, key), body in told.items():
        now.setdefault((kind, renaming.standing_key(kind, key, names)), body)
    return now


def _is_now(kind: str, key: str, names: Names) -> bool:
    return renaming.standing_key(kind, key, names) == key


def renamed_alarms(standing: dict[int, Alarm], names: Names, at: Millis) -> tuple[dict[int, Alarm], list[Any]]:
    """The standing alarms as they are called now, and a step for each that changed."""
    changed, ended, steps = renaming.alarms([standing[n] for n in sorted(standing)], names, at=at)
    after = standing | {a.number: a for a in changed}
    return {number: alarm for number, alarm in after.items() if number not in ended}, steps
