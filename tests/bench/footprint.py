"""What the daemon costs a small board: memory, start, and bytes to the card.

    sh tests/bench/run.sh footprint [--readings 1000000]

The real daemon as a process (`vermistat run`'s own code) against a real Mosquitto with the shipped configuration:
start to subscribed, memory then and after a million readings; then eight probes, one reading each a round, a day of
1,440 rounds lived with a round every 50 ms, and the bytes that the kernel counts for the process (/proc/PID/io,
write_bytes), and the lines that it says for the journal meanwhile. Beside it what Mosquitto writes each time it saves
itself, times the saves of a day. Then memory with everything on: a page that was looked at, a mail that was sent.
Bars: memory 80 MB, 90 with page and mail, growth 5 MB, start 2.5 s, 30 MB a day (aimed at: 15), no line on a quiet day.
A table for people, one JSON line last.
"""

from __future__ import annotations

import argparse
import json
import platform
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

from monitor.errors import StoreError
from monitor.store.sqlite import SqliteStore
from parts import installed
from parts.mail import PostOffice
from parts.mosquitto import Mosquitto
from parts.publisher import publish
from parts.webhook import closed_port

ROOT = Path(__file__).parents[2]
PROBES = 8
PERIOD = 0.05
DAY = 1440
SHIPPED = "\n".join(
    line
    for line in (ROOT / "deploy/mosquitto/vermistat.conf").read_text().splitlines()
    if line and not line.startswith("#")
)
# Only for the bench's own clocks: whoever waits for each answer must not wait for Nagle's algorithm as well.
SHIPPED += "\nset_tcp_nodelay true\n"
RUNNER = """
import signal, sys, threading
from pathlib import Path
from monitor.app import run
from monitor.cli.logs import log_to_journal
from monitor.site import load_settings
stop = threading.Event()
log_to_journal()
signal.signal(signal.SIGTERM, lambda *_: stop.set())
run(load_settings(Path(sys.argv[1]), addresses=True), stop=stop, period=float(sys.argv[2]))
"""


def settings(folder: Path, port: int, more: str = "") -> Path:
    zones = "\n".join(
        f"      z{n}: {{probes: {{p{n}: {{measures: temperature, topic: probes/p{n}, every: 1 min}}}}}}"
        for n in range(PROBES)
    )
    file = folder / "site.yaml"
    file.write_text(
        f"site: {{id: bench, timezone: UTC}}\nbroker: {{url: mqtt://127.0.0.1:{port}}}\nstore: {{path: {folder}/bench.db}}\n"
        f"bins:\n  bed:\n    species: eisenia-fetida\n    zones:\n{zones}\n"
        "people: {me: {channels: hook}}\nchannels: {hook: {send_to: {from_env: HOOK}}}\n" + more
    )
    return file


class Running:
    """The daemon as a process."""

    def __init__(self, file: Path, period: float, hook: str = "json://127.0.0.1:9/") -> None:
        log = file.with_name("log")
        environment = installed.environment(HOOK=hook, MALLOC_ARENA_MAX="1", JOURNAL_STREAM="1:1")
        self.began = time.perf_counter()
        self.process = subprocess.Popen(
            [sys.executable, "-c", RUNNER, str(file), str(period)],
            # as the unit has it, and as systemd takes what is said
            env=environment,
            stdout=subprocess.DEVNULL,
            stderr=log.open("wb"),
        )
        self._log = log

    def memory(self) -> float:
        """MB resident."""
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        return int(next(line for line in status.splitlines() if line.startswith("VmRSS")).split()[1]) / 1024

    def written(self) -> int:
        return written(self.process.pid)

    def said(self) -> list[str]:
        """What it has said for the journal, line by line."""
        return self._log.read_text().splitlines()

    def stop(self) -> None:
        self.process.terminate()
        self.process.wait(20)


def written(pid: int) -> int:
    io = Path(f"/proc/{pid}/io").read_text()
    return int(next(line for line in io.splitlines() if line.startswith("write_bytes")).split()[1])


def wait_for(path: Path, count: int, seconds: float = 600.0) -> None:
    """Until so many readings are stored."""
    until = time.monotonic() + seconds
    while True:
        stored = counted(path)
        if stored >= count:
            return
        if time.monotonic() > until:
            raise SystemExit(f"only {stored} of {count} readings were stored")
        time.sleep(0.02)


def counted(path: Path) -> int:
    """Readings stored; none while the daemon is still making the file."""
    try:
        store = SqliteStore(path, read_only=True)
    except StoreError:
        return 0
    try:
        return store.counted()
    finally:
        store.close()


def numbers(start: int, count: int) -> list[tuple[str, bytes]]:
    return [(f"probes/p{n % PROBES}", b"%.4f" % (18 + n % 80 / 100)) for n in range(start, start + count)]


def subscribed(broker: Mosquitto) -> None:
    """Until the broker has granted the daemon its subscriptions."""
    until = time.monotonic() + 30
    while "Sending SUBACK to vermistat" not in broker.log():
        if time.monotonic() > until:
            raise SystemExit("the daemon did not subscribe:\n" + broker.log())
        time.sleep(0.005)


def memory(folder: Path, readings: int) -> dict[str, float]:
    with Mosquitto(SHIPPED + "log_type debug\n") as broker:
        file = settings(folder, broker.port)
        running = Running(file, 60.0)
        subscribed(broker)
        start_s = time.perf_counter() - running.began
        publish(broker.port, numbers(0, PROBES))
        time.sleep(3)
        first = running.memory()
        step = 50_000
        for start in range(0, readings, step):
            publish(broker.port, numbers(start, step))
            wait_for(folder / "bench.db", PROBES + start + step)
        last = running.memory()
        running.stop()
    return {"start_s": start_s, "memory_mb": first, "memory_after_mb": last, "growth_mb": last - first}


def day(folder: Path) -> dict[str, float]:
    with Mosquitto(SHIPPED.replace("autosave_interval 60", "autosave_interval 1")) as broker:
        running = Running(settings(folder, broker.port), PERIOD)
        stored = folder / "bench.db"
        while not counted(stored):
            publish(broker.port, numbers(0, PROBES))
            time.sleep(0.2)
        known = counted(stored)
        lines, broker_lines = len(running.said()), broker.log().count("\n")
        before, broker_before, began = running.written(), written(broker.pid), time.monotonic()
        for minute in range(DAY):
            publish(broker.port, numbers(minute * PROBES, PROBES))
            time.sleep(max(0.0, began + (minute + 1) * PERIOD - time.monotonic()))
        wait_for(stored, known + DAY * PROBES)
        saves = time.monotonic() - began
        a_save = (written(broker.pid) - broker_before) / saves
        own = running.written() - before
        said = running.said()[lines:]
        broker_said = broker.log().count("\n") - broker_lines
        running.stop()
    return {
        "daemon_mb_a_day": own / 1e6,
        "broker_kb_a_save": a_save / 1e3,
        "broker_mb_a_day_at_60s": a_save * DAY / 1e6,
        "journal_lines_a_day": len(said),
        "journal_kb_a_day_text": sum(len(line.encode()) + 1 for line in said) / 1e3,
        "broker_log_lines_a_day": broker_said,
    }


def with_everything(folder: Path) -> dict[str, float]:
    """The page looked at, a mail sent, twenty thousand readings kept."""
    with Mosquitto(SHIPPED) as broker, PostOffice() as office:
        page = f"127.0.0.1:{closed_port()}"
        limits = "site: {id: bench, timezone: UTC, limits: {temperature: {comfort: 18..25 °C, harm: [{below: 17.9 °C}]}}}"
        file = settings(folder, broker.port, f"page: {{listen: '{page}'}}\n")
        file.write_text(file.read_text().replace("site: {id: bench, timezone: UTC}", limits))
        running = Running(file, 1.0, office.url())
        while not counted(folder / "bench.db"):
            publish(broker.port, numbers(0, PROBES))
            time.sleep(0.2)
        publish(broker.port, numbers(0, 20_000))
        wait_for(folder / "bench.db", 20_000)
        publish(broker.port, [(f"probes/p{n}", b"17.5") for n in range(PROBES)])
        office.texts(1)
        for _ in range(10):
            for part in ("", "bins/bed", "week", "diary", "probes", "bins/bed/care"):
                with urllib.request.urlopen(f"http://{page}/{part}", timeout=30) as answer:
                    answer.read()
        found = running.memory()
        running.stop()
    return {"memory_with_page_and_mail_mb": found}


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--readings", type=int, default=1_000_000)
    asked = options.parse_args()
    with (
        tempfile.TemporaryDirectory(dir=ROOT / ".venv") as first,
        tempfile.TemporaryDirectory(dir=ROOT / ".venv") as second,
    ):
        figures = memory(Path(first), asked.readings) | day(Path(second))
    with tempfile.TemporaryDirectory(dir=ROOT / ".venv") as third:
        figures |= with_everything(Path(third))
    for name, value in figures.items():
        print(f"{name:>24} {value:10.2f}")
    print(
        json.dumps({"bench": "footprint", "machine": platform.platform(), "readings": asked.readings, **figures})
    )


if __name__ == "__main__":
    main()
