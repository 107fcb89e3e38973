"""How readings are laid out: a year of eight probes, once a minute, in each of three ways.

    python tests/bench/layout.py [--days 365] [--folder FOLDER] [--page 1024 2048 4096] [--farm]

Size, the questions a page and a round ask (raw rows, and as the store answers them), and what keeping costs. With
`--farm` also what one probe's week costs among 500 probes against among 50 (bar: 1.2 times). The bytes written a
day are measured by footprint_store.py. A table for people, one JSON line last.
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
from itertools import islice
from pathlib import Path
from typing import Any

from footprint_store import START, Keyed, Ours, minutes

from monitor.readings import DAY, MINUTE, Reading
from monitor.store.promises import Batch
from monitor.store.sqlite import SqliteStore

WEEK = 7 * DAY
QUARTER = 15 * MINUTE
BATCH = 500


def batches(readings: Iterator[Reading], size: int = BATCH) -> Iterator[list[Reading]]:
    while batch := list(islice(readings, size)):
        yield batch


def stream(days: int, probes: int = 8) -> Iterator[Reading]:
    for _, readings in minutes(days * 24 * 60, probes=probes):
        yield from readings


def took(work: Callable[[], Any], times: int = 15) -> float:
    """Milliseconds, the median."""
    runs = []
    for _ in range(times):
        began = time.perf_counter()
        work()
        runs.append(time.perf_counter() - began)
    return round(statistics.median(runs) * 1e3, 3)


def filled(layout: Keyed | Ours, days: int) -> float:
    """A year in batches, as a backlog comes; microseconds a reading, without making the readings."""
    total, count = 0.0, 0
    for batch in batches(stream(days)):
        began = time.perf_counter()
        layout.keep(batch)
        total += time.perf_counter() - began
        count += len(batch)
    return round(total / count * 1e6, 2)


def raw(path: Path, days: int) -> dict[str, float]:
    """What SQLite itself takes, on a connection of its own."""
    file = sqlite3.connect(path)
    end = START + days * DAY
    start = end - WEEK
    width = f"(at - {start}) / {QUARTER}"

    def week(probe: int = 3) -> list[Any]:
        return file.execute(
            "SELECT at, value, meta, arrival FROM reading WHERE probe = ? AND at >= ? AND at < ?",
            (probe, start, end),
        ).fetchall()

    def quarters() -> list[Any]:
        return file.execute(
            f"SELECT probe, {width}, count(*), min(value), avg(value), max(value) FROM reading"
            " WHERE probe BETWEEN 1 AND 8 AND at >= ? AND at < ? GROUP BY 1, 2",
            (start, end),
        ).fetchall()

    def newest() -> list[Any]:
        return [
            file.execute("SELECT at, value FROM reading WHERE probe = ? ORDER BY at DESC LIMIT 1", (n,)).fetchone()
            for n in range(1, 9)
        ]

    found = {"week": took(week), "8 weeks in quarters": took(quarters, 7), "latest of 8": took(newest)}
    file.close()
    return found


def answered(store: SqliteStore, days: int) -> dict[str, float]:
    """What the store takes to answer with its own values."""
    end = START + days * DAY
    last = store.last_arrival()
    return {
        "window, a week": took(lambda: store.window("p3", end - WEEK, end)),
        "buckets, 8 weeks": took(lambda: [store.buckets(f"p{n}", end - WEEK, end, QUARTER) for n in range(8)], 7),
        "latest, 8 probes": took(lambda: [store.latest(f"p{n}") for n in range(8)]),
        "latest 20, 8 probes": took(lambda: [store.latest(f"p{n}", 20) for n in range(8)]),
        "unchanged_since, 8 probes": took(lambda: [store.unchanged_since(f"p{n}") for n in range(8)]),
        "after, last 8": took(lambda: store.after(last - 8)),
        "after, last 20,000": took(lambda: store.after(last - 20_000), 5),
        "counted": took(store.counted),
        "load": took(store.load),
    }


def farm(folder: Path, probes: int, days: int = 9) -> float:
    """One probe's week, in milliseconds, among so many others."""
    store = SqliteStore(folder / f"farm{probes}.db")
    for batch in batches(stream(days, probes), 5000):
        store.keep(Batch(batch))
    end = START + days * DAY
    found = took(lambda: store.window("p7", end - WEEK, end), 41)
    store.close()
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--days", type=int, default=365)
    parser.add_argument("--folder", default=".", help="where the files lie while this runs; 1 GB a year")
    parser.add_argument("--page", type=int, nargs="+", default=[1024])
    parser.add_argument("--farm", action="store_true")
    wanted = parser.parse_args()
    rows = []
    with tempfile.TemporaryDirectory(dir=wanted.folder) as name:
        folder = Path(name)
        for page in wanted.page:
            for make in (
                lambda p: Keyed(p, "probe", page),
                lambda p: Keyed(p, "time", page),
                lambda p: Ours(p, page),
            ):
                path = folder / f"{len(rows)}.db"
                layout = make(path)
                keep = filled(layout, wanted.days)
                row = {"layout": layout.name, "page": page, "keep µs a reading": keep}
                if isinstance(layout, Ours):
                    row |= answered(layout.store, wanted.days)
                layout.close()
                row |= {"bytes a reading": round(path.stat().st_size / (wanted.days * 11_520), 1)}
                row |= raw(path, wanted.days)
                rows.append(row)
                print(*(f"{name}: {value}" for name, value in row.items()), sep="\n    ", flush=True)
                path.unlink()
        result = {"bench": "layout", "python": platform.python_version(), "sqlite": sqlite3.sqlite_version}
        result |= {"days": wanted.days, "layouts": rows}
        if wanted.farm:
            few, many = farm(folder, 50), farm(folder, 500)
            result["farm"] = {"week among 50": few, "week among 500": many, "times": round(many / few, 2)}
            print(*result["farm"].items(), sep="\n")
    print(json.dumps(result, ensure_ascii=False))


if __name__ == "__main__":
    main()
