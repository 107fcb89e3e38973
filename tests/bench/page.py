"""What the page costs: time, bytes and memory, and whether ten browsers disturb the watching.

    sh tests/bench/run.sh page [--days 365] [--seconds 30] [--store FILE]

A year of eight probes in two bins, one reading a minute, in a store on disk; `vermistat run`'s own code as a process, with a real
Mosquitto. `first` is the page that opens first, `week` and `year` a bin's page over that span: medians over a connection that
stays open, the answer whole, on the machine that serves; beside them what the process computed for each, which other work on
the machine hardly changes. The same rows raw are read by SQLite itself into Python's memory.
Memory is the process with the page after everything was asked for often, against the same process without one. At last rounds
follow each other every second, eight readings arrive every second, and ten browsers load a page each second and hold an
open event stream: no reading may be lost and no round may begin later than its successor would.
Bars: 50, 50 and 100 ms, a ratio of 0.5, 150 kB, 10 MB. A table for people, one JSON line last.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import platform
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import httpx2 as httpx
import paho.mqtt.client as mqtt
from footprint import RUNNER
from paho.mqtt.enums import CallbackAPIVersion

from monitor.readings import DAY, HOUR, MINUTE, Reading
from monitor.store.promises import Batch, Round, RoundRow
from monitor.store.sqlite import SqliteStore
from parts import installed
from parts.mosquitto import Mosquitto, free_port

BINS = ("fig", "plum")
ZONES = 3
PROBES = [f"{bed}-{what}" for bed in BINS for what in (*(f"t{n}" for n in range(ZONES)), "damp")]
TIMES = 50
PAGES = {"first": "/", "week": "/bins/fig?period=week", "year": "/bins/fig?period=year"}


def settings(folder: Path, store: Path, broker: int, page: int | None) -> Path:
    """Two bins of three thermometers and one calibrated moisture probe."""
    lines = [
        "site: {id: bench, timezone: Europe/Lisbon}",
        f"broker: {{url: mqtt://127.0.0.1:{broker}}}",
        f"store: {{path: {store}}}",
        *([f"page: {{listen: '127.0.0.1:{page}'}}"] if page else []),
        "bins:",
    ]
    for bed in BINS:
        lines += [f"  {bed}:", "    species: eisenia-fetida", "    zones:"]
        for n in range(ZONES):
            damp = (
                f", {bed}-damp: {{measures: moisture, topic: probes/{bed}-damp, field: /v, time: /t, every: 1 min,"
                " calibration: [{counts: 2700, moisture: 12 %, taken: 2026-03-20},"
                " {counts: 1450, moisture: 80 %, taken: 2026-03-20}]}"
            )
            more = damp if n == 0 else ""
            lines.append(
                f"      z{n}: {{probes: {{{bed}-t{n}: {{measures: temperature, topic: probes/{bed}-t{n}, field: /v, time: /t,"
                f" every: 1 min}}{more}}}}}"
            )
    lines += ["people: {me: {channels: hook}}", "channels: {hook: {send_to: {from_env: HOOK}}}"]
    file = folder / f"site-{page or 0}.yaml"
    file.write_text("\n".join(lines) + "\n")
    return file


def value(probe: str, at: int) -> float:
    """A year and a day in a bed; what a moisture probe counts."""
    if probe.endswith("damp"):
        return round(1700 + 150 * math.sin(at / (9 * DAY)), 0)
    year, day = math.sin(2 * math.pi * at / (365 * DAY)), math.sin(2 * math.pi * at / DAY)
    return round(18 + 5 * year + 1.5 * day + (at // MINUTE % 7) * 0.02 + 0.3 * int(probe[-1]), 2)


def filled(path: Path, days: int, end: int) -> int:
    """The year, summed up; how many readings."""
    store = SqliteStore(path)
    batch: list[Reading] = []
    for at in range(end - days * DAY, end, MINUTE):
        batch += [Reading(probe, at, value(probe, at), at) for probe in PROBES]
        if len(batch) >= 8000:
            store.keep(Batch(batch))
            batch = []
    store.keep(Batch(batch))
    while store.summarise(end - 3 * HOUR):
        pass
    store.commit(Round(RoundRow(1, end, "1", store.last_arrival())))
    count = store.counted()
    store.close()
    return count


def raw_ms(path: Path, days: int, end: int) -> float:
    """The rows of one bin's year as SQLite hands them over, the median of five."""
    file = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    numbers = {
        name: number
        for number, name in file.execute("SELECT number, name FROM probe").fetchall()
        if name.startswith("fig")
    }

    def read() -> int:
        return sum(
            len(
                file.execute(
                    f"SELECT at, value, meta, arrival FROM {table} WHERE probe = ? AND at >= ? AND at < ?",
                    (number, end - days * DAY, end),
                ).fetchall()
            )
            for number in numbers.values()
            for table in ("reading", "arrived")
        )

    assert read() == 4 * days * 24 * 60
    found = median_ms(read, 5)
    file.close()
    return found


def median_ms(work: Callable[[], object], times: int = TIMES) -> float:
    runs = []
    for _ in range(times):
        began = time.perf_counter()
        work()
        runs.append(1000 * (time.perf_counter() - began))
    return round(statistics.median(runs), 1)


class Running:
    """The daemon as a process, until it answers."""

    def __init__(self, file: Path, period: float, port: int | None) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", RUNNER, str(file), str(period)],
            env=installed.environment(HOOK="json://127.0.0.1:9/", MALLOC_ARENA_MAX="1"),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        self.base = f"http://127.0.0.1:{port}"
        end = time.monotonic() + 120
        while port and not self._answers():
            assert time.monotonic() < end and self.process.poll() is None, "it does not answer"
            time.sleep(0.2)

    def _answers(self) -> bool:
        try:
            return httpx.get(self.base + "/", timeout=30).status_code == 200
        except httpx.TransportError:
            return False

    def memory(self) -> float:
        """MB resident."""
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        return int(next(line for line in status.splitlines() if line.startswith("VmRSS")).split()[1]) / 1024

    def cpu(self) -> float:
        """Seconds that the process has computed so far, all its threads together."""
        fields = Path(f"/proc/{self.process.pid}/stat").read_text().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def stop(self) -> None:
        self.process.terminate()
        assert self.process.wait(30) == 0


def wire_kb(client: httpx.Client, path: str) -> float:
    """A page with every file of ours that it names, headers and all, in kB as they go over the wire to whoever unpacks gzip."""
    page = client.get(path)
    names = sorted({part.split('"')[0] for part in page.text.split('"/static/')[1:]})
    assert any(name.startswith("sheet.css") for name in names)
    found = [page, *(client.get(f"/static/{name}") for name in names)]
    return (
        sum(one.num_bytes_downloaded + sum(len(k) + len(v) + 4 for k, v in one.headers.raw) for one in found)
        / 1000
    )


def browser(base: str, stop: threading.Event, times: list[float], *, number: int) -> None:
    """Loads a page each second: mostly the first, now and then a week or a year."""
    paths = [*([PAGES["first"]] * 6), *([PAGES["week"]] * 3), PAGES["year"]]
    with httpx.Client(base_url=base, timeout=60) as client:
        turn = number
        while not stop.wait(1.0):
            began = time.perf_counter()
            client.get(paths[turn % len(paths)]).raise_for_status()
            times.append(1000 * (time.perf_counter() - began))
            turn += 1


def listener(base: str, stop: threading.Event, heard: list[int]) -> None:
    """An open page: its event stream."""
    with httpx.Client(timeout=60) as client, client.stream("GET", base + "/events") as stream:
        for line in stream.iter_lines():
            if line.startswith("event: round"):
                heard.append(1)
            if stop.is_set():
                return


def loaded(base: str, broker: int, seconds: int, begin: int) -> tuple[list[float], int, int]:
    """Ten browsers while eight readings arrive each second; how long pages took, events heard, readings published."""
    stop, times, heard = threading.Event(), list[float](), list[int]()
    threads = [threading.Thread(target=browser, args=(base, stop, times), kwargs={"number": n}) for n in range(10)]
    threads += [threading.Thread(target=listener, args=(base, stop, heard)) for _ in range(10)]
    for one in threads:
        one.start()
    client = mqtt.Client(CallbackAPIVersion.VERSION2)
    client.connect("127.0.0.1", broker)
    client.loop_start()
    published = 0
    for n in range(seconds):
        at = begin + n * 1000
        for probe in PROBES:
            told = client.publish(f"probes/{probe}", json.dumps({"v": value(probe, at), "t": at / 1000}), qos=1)
            told.wait_for_publish(30)
            published += 1
        time.sleep(1.0)
    client.disconnect()
    client.loop_stop()
    time.sleep(3)
    stop.set()
    for one in threads:
        one.join(60)
    return times, len(heard), published


def main() -> None:
    calls = argparse.ArgumentParser()
    calls.add_argument("--days", type=int, default=365)
    calls.add_argument("--seconds", type=int, default=30, help="how long ten browsers read")
    calls.add_argument("--store", type=Path, help="a store that an earlier run has filled, or the file to fill")
    asked = calls.parse_args()
    with tempfile.TemporaryDirectory() as made, Mosquitto() as broker:
        folder, end = Path(made), int(time.time() * 1000) // MINUTE * MINUTE
        store = asked.store or folder / "bench.db"
        if not store.exists():
            began = time.perf_counter()
            count = filled(store, asked.days, end)
            print(f"{count:,} readings in {time.perf_counter() - began:.0f} s", flush=True)
        else:
            with sqlite3.connect(store) as file:
                end = (file.execute("SELECT max(at) FROM reading").fetchone()[0] // MINUTE + 1) * MINUTE
        found: dict[str, float] = {"year_raw_ms": raw_ms(store, asked.days, end)}

        bare = Running(settings(folder, store, broker.port, None), 60, None)
        time.sleep(20)
        without = bare.memory()
        bare.stop()

        port = free_port()
        file = settings(folder, store, broker.port, port)
        ours = Running(file, 60, port)
        time.sleep(15)
        with httpx.Client(base_url=ours.base, timeout=60) as client:
            for name, path in PAGES.items():
                client.get(path).raise_for_status()
                spent = ours.cpu()
                found[f"{name}_ms"] = median_ms(lambda p=path: client.get(p).raise_for_status())
                found[f"{name}_cpu_ms"] = round((ours.cpu() - spent) * 1000 / TIMES, 1)
                found[f"{name}_kb"] = round(wire_kb(client, path), 1)
            for _ in range(100):
                client.get("/").raise_for_status()
        found["year_ratio_to_raw"] = round(found["year_ms"] / found["year_raw_ms"], 3)
        found["more_mb"] = round(ours.memory() - without, 1)
        found["without_mb"] = round(without, 1)
        ours.stop()

        before = kept(store)
        ours = Running(file, 1.0, port)
        times, heard, published = loaded(ours.base, broker.port, asked.seconds, int(time.time() * 1000))
        ours.stop()
        after = kept(store)
        gaps = rounds(store, after["rounds"] - before["rounds"])
        found |= {
            "browsers_ms": round(statistics.median(times), 1),
            "pages": len(times),
            "events": heard,
            "published": published,
            "lost": published - (after["readings"] - before["readings"]),
            "rounds": len(gaps) + 1,
            "longest_gap_s": round(max(gaps, default=0) / 1000, 2),
            "late": sum(gap >= 2000 for gap in gaps),
        }
    for name, number in found.items():
        print(f"{name:20}{number:12,.6g}")
    machine = {"python": platform.python_version(), "machine": platform.machine(), "days": asked.days}
    print(json.dumps({"bench": "page", **machine, **found}))


def kept(path: Path) -> dict[str, int]:
    store = SqliteStore(path, read_only=True)
    last = store.load().last_round
    found = {"readings": store.counted(), "rounds": last.number if last else 0}
    store.close()
    return found


def rounds(path: Path, count: int) -> list[int]:
    """Milliseconds between the last so many rounds, without the first and the last three (fewer of few): beginning and end are no
    watching.
    """
    store = SqliteStore(path, read_only=True)
    for refusal in store.refusals(3):
        print(f"refused: {refusal.topic}: {refusal.reason}")
    rows = store.rounds(count)
    store.close()
    if len(rows) < 4:
        print(f"{len(rows)} rounds are too few to tell whether one was late: ask for more --seconds")
        return []
    ends = min(3, (len(rows) - 2) // 2)
    return [b.at - a.at for a, b in pairwise(rows[ends : len(rows) - ends])]


if __name__ == "__main__":
    main()
