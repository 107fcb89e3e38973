"""What a day of eight probes costs the card, for each way to lay readings out and each page size.

    sh tests/bench/run.sh footprint_store [--hours 24] [--folder FOLDER] [--all]

Every minute the pump keeps eight readings and the round commits its row, as the daemon does; commits are fsynced
(synchronous FULL). `process` is the kernel's count for this process (/proc/self/io, write_bytes: whole 4 KiB
blocks made dirty, so two small commits in one block count twice, as they do on a card); `WAL` is frames times
frame size, from the WAL index. The folder must lie on a disk: a file system in memory counts nothing.
The bar: at most 30 MB a day; aimed at: 15. A table for people, one JSON line last.
"""

from __future__ import annotations

import argparse
import json
import platform
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path

from monitor.readings import MINUTE, Reading
from monitor.store import connections, migrations
from monitor.store.promises import Batch, Delivered, Round, RoundRow, Standing
from monitor.store.rows import Row, meta_of, steps_of
from monitor.store.sqlite import SqliteStore
from parts.frames import Frames

START = 1_790_000_000_000
PROBES = 8
KEYS = {"probe": "probe, at", "time": "at, probe"}
WARM = 6 * 60
"""Minutes before counting begins, so that the WAL has once been written home."""


class Keyed:
    """The plain way: readings straight into one table without row numbers, by `key`."""

    def __init__(self, path: Path, *, key: str, page: int) -> None:
        self.name = f"key ({KEYS[key]})"
        self.file = sqlite3.connect(path, isolation_level=None)
        for pragma in (f"page_size = {page}", "journal_mode = WAL", *connections._writers()):
            self.file.execute(f"PRAGMA {pragma}").fetchall()
        self.file.execute(
            "CREATE TABLE reading (probe INTEGER NOT NULL, at INTEGER NOT NULL, value INTEGER NOT NULL,"
            f" meta INTEGER NOT NULL, arrival INTEGER NOT NULL, PRIMARY KEY ({KEYS[key]})) STRICT, WITHOUT ROWID"
        )
        self.file.execute(
            "CREATE TABLE round (number INTEGER PRIMARY KEY, at INTEGER NOT NULL, settings INTEGER NOT NULL,"
            " upto_arrival INTEGER NOT NULL) STRICT"
        )
        self.arrival = 0

    def keep(self, readings: list[Reading]) -> None:
        rows: list[Row] = []
        for r in readings:
            self.arrival += 1
            number = int(r.probe.removeprefix("p")) + 1
            rows.append((number, r.at, steps_of(r.value), meta_of(r), self.arrival))
        with connections.transaction(self.file):
            self.file.executemany("INSERT INTO reading VALUES (?, ?, ?, ?, ?) ON CONFLICT DO NOTHING", rows)

    def commit(self, number: int, at: int) -> None:
        self.file.execute("INSERT INTO round VALUES (?, ?, 1, ?)", (number, at, self.arrival))

    def close(self) -> None:
        self.file.close()


class Ours:
    """The store itself; with `busy` also eight changed documents a round and eight deliveries a batch."""

    def __init__(self, path: Path, *, page: int, busy: bool = False) -> None:
        self.name = "staged, then key (probe, at)" + ", documents, deliveries" * busy
        before, migrations.PAGE = migrations.PAGE, page
        self.store = SqliteStore(path)
        migrations.PAGE = before
        self.busy, self.arrival = busy, 0

    def keep(self, readings: list[Reading]) -> None:
        deliveries = [Delivered(r.at // MINUTE % 65_536, r.at) for r in readings] if self.busy else ()
        self.arrival = self.store.keep(Batch(readings, delivered=deliveries)).last_arrival

    def commit(self, number: int, at: int) -> None:
        documents = [Standing("condition", f"bin:{n}/cold", json.dumps([at, "x" * 100])) for n in range(8)]
        row = RoundRow(number, at, "1", self.arrival)
        self.store.commit(Round(row, standing=documents if self.busy else ()))

    def close(self) -> None:
        self.store.close()


@dataclass(frozen=True)
class Footprint:
    """Megabytes a day and milliseconds."""

    layout: str
    page: int
    process_mb: float
    wal_mb: float
    keep_ms: float
    keep_worst_ms: float
    commit_ms: float


def minutes(count: int, probes: int = PROBES) -> Iterator[tuple[int, list[Reading]]]:
    """Probes with their own times, a third of a second old on arrival, in steps of 1/16 °C."""
    for minute in range(count):
        at = START + minute * MINUTE
        yield (
            minute,
            [
                Reading(f"p{n}", at + 7 * n, 20 + n + (minute * 7 + n) % 32 / 16, at + 7 * n + 340, own_time=True)
                for n in range(probes)
            ],
        )


def written_by_us() -> int:
    lines = Path("/proc/self/io").read_text().splitlines()
    return int(next(line for line in lines if line.startswith("write_bytes")).split()[1])


def timed(work: Callable[..., None], *values: object) -> float:
    began = time.perf_counter()
    work(*values)
    return (time.perf_counter() - began) * 1e3


def measured(make: Callable[..., Keyed | Ours], path: Path, *, page: int, hours: int) -> Footprint:
    """A warm-up, then `hours` as they come."""
    layout, frames = make(path, page=page), Frames(path)
    keeps, commits, before = [], [], 0
    for minute, readings in minutes(WARM + hours * 60):
        if minute == WARM:
            keeps, commits, before, frames.total = [], [], written_by_us(), 0
        keeps.append(timed(layout.keep, readings))
        frames.look()
        commits.append(timed(layout.commit, minute + 1, readings[0].at))
        frames.look()
    written = written_by_us() - before
    layout.close()
    a_day = 24 / hours / 1e6
    return Footprint(
        layout=layout.name,
        page=page,
        process_mb=round(written * a_day, 1),
        wal_mb=round(frames.total * (page + 24) * a_day, 1),
        keep_ms=round(statistics.median(keeps), 2),
        keep_worst_ms=round(max(keeps), 1),
        commit_ms=round(statistics.median(commits), 2),
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--hours", type=int, default=24)
    parser.add_argument("--folder", default=".", help="where the files lie while this runs; on a disk")
    parser.add_argument("--all", action="store_true", help="every layout and page size, not only the one in use")
    wanted = parser.parse_args()
    plain = [partial(Keyed, key="probe"), partial(Keyed, key="time")] if wanted.all else []
    layouts = [*plain, Ours, partial(Ours, busy=True)]
    pages = (1024, 2048, 4096) if wanted.all else (migrations.PAGE,)
    rows = []
    print(f"{'layout':54}{'page':>5}{'process MB':>12}{'WAL MB':>8}{'keep ms':>9}{'worst':>7}{'commit ms':>11}")
    with tempfile.TemporaryDirectory(dir=wanted.folder) as folder:
        for number, (page, make) in enumerate((page, make) for page in pages for make in layouts):
            row = measured(make, Path(folder) / f"{number}.db", page=page, hours=wanted.hours)
            rows.append(asdict(row))
            print(
                f"{row.layout:54}{row.page:5}{row.process_mb:12}{row.wal_mb:8}"
                f"{row.keep_ms:9}{row.keep_worst_ms:7}{row.commit_ms:11}",
                flush=True,
            )
    told = {"bench": "footprint_store", "python": platform.python_version(), "sqlite": sqlite3.sqlite_version}
    print(json.dumps(told | {"hours": wanted.hours, "layouts": rows}, ensure_ascii=False))


if __name__ == "__main__":
    main()
