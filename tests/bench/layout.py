"""How readings are laid out: a year of eight probes, once a minute, in each of three ways.

    sh tests/bench/run.sh layout [--days 365] [--folder FOLDER] [--page 1024 2048 4096] [--farm]

Size, the questions a page and a round ask (in milliseconds; raw rows, and as the store answers them), and what
keeping costs. With `--farm` also what one probe's week costs among 500 probes against among 50 (bar: 1.2 times).
The bytes written a day are measured by footprint_store.py. A table for people, one JSON line last.
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
from functools import partial
from itertools import islice
from pathlib import Path
from typing import Any

from footprint_store import START, Keyed, Ours, minutes

from monitor.readings import DAY, MINUTE, Reading
from monitor.store.promises import Batch, Round, RoundRow, Standing
from monitor.store.sqlite import SqliteStore
from parts.kept import alarm, transition

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
    """The days in batches, as a backlog comes; microseconds a reading, without making the readings."""
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
    week = "SELECT at, value, meta, arrival FROM reading WHERE probe = 3 AND at >= ? AND at < ?"
    quarters = (
        f"SELECT probe, (at - {end - WEEK}) / {QUARTER}, count(*), min(value), avg(value), max(value) FROM reading"
        " WHERE probe IN (1, 2, 3, 4, 5, 6, 7, 8) AND at >= ? AND at < ? GROUP BY 1, 2"
    )
    newest = "SELECT at, value FROM reading WHERE probe = ? ORDER BY at DESC LIMIT 1"
    found = {
        "raw: a week": took(lambda: file.execute(week, (end - WEEK, end)).fetchall()),
        "raw: 8 weeks in quarters of an hour": took(
            lambda: file.execute(quarters, (end - WEEK, end)).fetchall(), 7
        ),
        "raw: latest of 8": took(lambda: [file.execute(newest, (n,)).fetchall() for n in range(1, 9)]),
    }
    file.close()
    return found


def answered(store: SqliteStore, days: int) -> dict[str, float]:
    """What the store takes to answer with its own values."""
    end = START + days * DAY
    last = store.last_arrival()
    probes = [f"p{n}" for n in range(8)]
    return {
        "window, a week": took(lambda: store.window("p3", end - WEEK, end)),
        "buckets, 8 weeks": took(lambda: [store.buckets(p, end - WEEK, end, QUARTER) for p in probes], 7),
        "latest of 8": took(lambda: [store.latest(p) for p in probes]),
        "latest 20 of 8": took(lambda: [store.latest(p, 20) for p in probes]),
        "unchanged_since of 8": took(lambda: [store.unchanged_since(p) for p in probes]),
        "after, the last 8": took(lambda: store.after(last - 8)),
        "after, the last 20,000": took(lambda: store.after(last - 20_000), 5),
        "counted": took(store.counted),
        "load": took(store.load),
    }


def rounds(store: SqliteStore) -> dict[str, float]:
    """A round that is quiet, and one with 100 alarms, 100 transitions and 200 documents."""
    numbers = iter(range(1, 1000))

    def quiet() -> None:
        store.commit(Round(RoundRow(next(numbers), START, "1", 0)))

    def busy() -> None:
        number = next(numbers)
        store.commit(
            Round(
                RoundRow(number, START, "1", 0),
                standing=[Standing("condition", f"{n}", f"{number}" * 40) for n in range(200)],
                alarms=[alarm(n) for n in range(100)],
                transitions=[transition(n) for n in range(100)],
            )
        )

    return {"commit, quiet": took(quiet, 41), "commit, 100 alarms and steps, 200 documents": took(busy, 41)}


def farm(folder: Path, days: int = 9) -> dict[str, float]:
    """One probe's week, in milliseconds, among few others and among many; asked in turn, on the same machine."""
    stores = {probes: SqliteStore(folder / f"farm{probes}.db") for probes in (50, 500)}
    for probes, store in stores.items():
        for batch in batches(stream(days, probes), 5000):
            store.keep(Batch(batch))
    end = START + days * DAY
    runs: dict[int, list[float]] = {probes: [] for probes in stores}
    for turn in range(101):
        for probes, store in stores.items():
            runs[probes].append(took(lambda s=store, p=f"p{turn % 50}": s.window(p, end - WEEK, end), 1))
    for store in stores.values():
        store.close()
    few, many = (statistics.median(times) for times in runs.values())
    return {"a week among 50": few, "a week among 500": many, "times": round(many / few, 2)}


def measured(make: Callable[..., Keyed | Ours], path: Path, *, page: int, days: int) -> dict[str, Any]:
    layout = make(path, page=page)
    row: dict[str, Any] = {"layout": layout.name, "page": page, "keep, µs a reading": filled(layout, days)}
    layout.close()
    row["bytes a reading"] = round(path.stat().st_size / (days * 24 * 60 * 8), 1)
    row |= raw(path, days)
    if isinstance(layout, Ours):
        store = SqliteStore(path)
        row |= answered(store, days) | rounds(store)
        store.close()
    path.unlink()
    return row


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--days", type=int, default=365)
    parser.add_argument("--folder", default=".", help="where the files lie while this runs; 120 MB a year each")
    parser.add_argument("--page", type=int, nargs="+", default=[1024])
    parser.add_argument("--farm", action="store_true", help="500 probes as well: 200 MB and four minutes")
    wanted = parser.parse_args()
    told: dict[str, Any] = {
        "bench": "layout",
        "python": platform.python_version(),
        "sqlite": sqlite3.sqlite_version,
    }
    told |= {"days": wanted.days, "layouts": []}
    with tempfile.TemporaryDirectory(dir=wanted.folder) as name:
        folder = Path(name)
        for page in wanted.page:
            for make in (partial(Keyed, key="probe"), partial(Keyed, key="time"), Ours):
                row = measured(make, folder / "year.db", page=page, days=wanted.days)
                told["layouts"].append(row)
                print(*(f"{name:48}{value:>32}" for name, value in row.items()), "", sep="\n", flush=True)
        if wanted.farm:
            told["farm"] = farm(folder)
            print(*(f"{name:48}{value:>32}" for name, value in told["farm"].items()), sep="\n")
    print(json.dumps(told, ensure_ascii=False))


if __name__ == "__main__":
    main()
