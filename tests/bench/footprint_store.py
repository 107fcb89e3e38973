"""What a day of eight probes costs the card, for each way to lay readings out and each page size.

    python tests/bench/footprint_store.py [--hours 24] [--folder FOLDER] [--all]

Every minute the pump keeps eight readings and the round commits its row, as the daemon does; commits are fsynced
(synchronous FULL). `process` is the kernel's count for this process (/proc/self/io, write_bytes: whole 4 KiB
blocks made dirty, so two small commits in one block count twice, as they do on a card); `WAL` is frames times
frame size, from the WAL index. The folder must lie on a disk: a file system in memory counts nothing.
The bar: at most 30 MB a day; aimed at: 15.
"""

from __future__ import annotations

import argparse
import json
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from monitor.readings import MINUTE, Reading
from monitor.store import connections, migrations
from monitor.store.promises import Batch, Delivered, Round, RoundRow, Standing
from monitor.store.sqlite import SqliteStore

START = 1_790_000_000_000
PROBES = 8
KEYS = {"probe": "probe, at", "time": "at, probe"}


class Keyed:
    """The plain way: readings straight into one table without row numbers, by `key`."""

    def __init__(self, path: Path, key: str, page: int) -> None:
        self.name = f"key ({KEYS[key]})"
        self.file = sqlite3.connect(path, isolation_level=None)
        for line in (f"page_size={page}", "journal_mode=WAL", "synchronous=FULL", "secure_delete=OFF",
                     f"wal_autocheckpoint={connections.CHECKPOINT}"):  # fmt: skip
            self.file.execute(f"PRAGMA {line}").fetchall()
        self.file.execute(
            "CREATE TABLE reading (probe INTEGER NOT NULL, at INTEGER NOT NULL, value INTEGER NOT NULL, meta INTEGER"
            f" NOT NULL, arrival INTEGER NOT NULL, PRIMARY KEY ({KEYS[key]})) STRICT, WITHOUT ROWID"
        )
        self.file.execute(
            "CREATE TABLE round (number INTEGER PRIMARY KEY, at INTEGER NOT NULL, settings INTEGER NOT NULL,"
            " upto_arrival INTEGER NOT NULL) STRICT"
        )
        self.arrival = 0

    def keep(self, readings: list[Reading]) -> None:
        rows = []
        for r in readings:
            self.arrival += 1
            meta = (r.received_at - r.at) * 64 + r.own_time
            rows.append((int(r.probe.removeprefix("p")) + 1, r.at, round(r.value * 10_000), meta, self.arrival))
        self.file.execute("BEGIN IMMEDIATE")
        self.file.executemany("INSERT INTO reading VALUES (?, ?, ?, ?, ?) ON CONFLICT DO NOTHING", rows)
        self.file.execute("COMMIT")

    def commit(self, number: int, at: int) -> None:
        self.file.execute("INSERT INTO round VALUES (?, ?, 1, ?)", (number, at, self.arrival))

    def close(self) -> None:
        self.file.close()


class Ours:
    """The store itself."""

    def __init__(self, path: Path, page: int, *, standing: int = 0, delivered: bool = False) -> None:
        self.name = "staged, then key (probe, at)"
        if standing or delivered:
            self.name += f" + {standing} documents a round" * bool(standing) + " + deliveries" * delivered
        before, migrations.PAGE = migrations.PAGE, page
        self.store = SqliteStore(path)
        migrations.PAGE = before
        self.standing, self.delivered, self.arrival = standing, delivered, 0

    def keep(self, readings: list[Reading]) -> None:
        deliveries = [Delivered(r.at // MINUTE % 65_536, hash((r.probe, r.at)) % 2**64) for r in readings]
        self.arrival = self.store.keep(
            Batch(readings, delivered=deliveries if self.delivered else ())
        ).last_arrival

    def commit(self, number: int, at: int) -> None:
        body = json.dumps([at, "x" * 100])
        standing = [Standing("condition", f"bin:{n}/cold", body) for n in range(self.standing)]
        self.store.commit(Round(RoundRow(number, at, "1", self.arrival), standing=standing))

    def close(self) -> None:
        self.store.close()


@dataclass(frozen=True)
class Footprint:
    """Megabytes a day and milliseconds."""

    layout: str
    page: int
    process: float
    wal: float
    keep_ms: float
    commit_ms: float
    keep_worst_ms: float


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


class Frames:
    """Frames put into a WAL so far: `mxFrame` of the WAL index (sqlite.org/walformat.html, 2.3.1), summed up."""

    def __init__(self, path: Path) -> None:
        self.index = path.with_name(path.name + "-shm")
        self.last = self.total = 0

    def look(self) -> None:
        with self.index.open("rb") as file:
            file.seek(16)
            newest = int.from_bytes(file.read(4), "little")
        self.total += newest - self.last if newest >= self.last else newest
        self.last = newest


def measured(layout: Keyed | Ours, path: Path, page: int, hours: int) -> Footprint:
    """A warm-up until the WAL has once been written home, then `hours` as they come."""
    frames = Frames(path)
    keeps, commits = [], []
    warm = 6 * 60
    for minute, readings in minutes(warm + hours * 60):
        if minute == warm:
            frames.look()
            before, frames.total = written_by_us(), 0
            keeps.clear()
            commits.clear()
        began = time.perf_counter()
        layout.keep(readings)
        kept = time.perf_counter()
        frames.look()
        middle = time.perf_counter()
        layout.commit(minute + 1, readings[0].at)
        commits.append(time.perf_counter() - middle)
        keeps.append(kept - began)
        frames.look()
    written = written_by_us() - before
    layout.close()
    a_day = 24 / hours / 1e6
    return Footprint(
        layout.name,
        page,
        round(written * a_day, 1),
        round(frames.total * (page + 24) * a_day, 1),
        round(statistics.median(keeps) * 1e3, 2),
        round(statistics.median(commits) * 1e3, 2),
        round(max(keeps) * 1e3, 1),
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--hours", type=int, default=24)
    parser.add_argument("--folder", default=".")
    parser.add_argument("--all", action="store_true", help="every layout and page size, not only the one in use")
    wanted = parser.parse_args()
    rows = []
    with tempfile.TemporaryDirectory(dir=wanted.folder) as folder:

        def run(make, page):
            path = Path(folder) / f"{len(rows)}.db"
            rows.append(measured(make(path), path, page, wanted.hours))
            r = rows[-1]
            print(
                f"{r.layout:60} {r.page:5} {r.process:8} {r.wal:6} {r.keep_ms:6} {r.commit_ms:6} {r.keep_worst_ms:6}",
                flush=True,
            )

        for page in (1024, 2048, 4096) if wanted.all else (migrations.PAGE,):
            if wanted.all:
                run(lambda path: Keyed(path, "probe", page), page)
                run(lambda path: Keyed(path, "time", page), page)
            run(lambda path: Ours(path, page), page)
            run(lambda path: Ours(path, page, standing=8, delivered=True), page)


if __name__ == "__main__":
    main()
