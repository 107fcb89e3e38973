"""What setting up costs: an installation, an upgrade, a start, and memory with page and mail.

    sh tests/bench/run.sh start [--wheels FOLDER] [--starts 5]

`deploy/install.sh` with every package of the list, below a folder in which nothing is started (without systemd and without
Debian's own packages: deploy/prove.sh measures those); an upgrade there, of which only the switch would be silence; the real
daemon as a process beside a real Mosquitto, from its start until the broker has granted its subscriptions, median of several;
and its memory once the page was looked at and a mail was sent. With `--wheels` packages are at hand; without, fetching is in it.
Bars: installation 60 s, start 2.5 s, memory 90 MB. A table for people, one JSON line last.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from footprint import ROOT, SHIPPED, Running, settings, subscribed, with_everything

from parts.mosquitto import Mosquitto


def laid_out(folder: Path, wheels: Path | None) -> dict[str, float]:
    checkout = folder / "checkout"
    for name in ("monitor", "deploy", "config"):
        shutil.copytree(ROOT / name, checkout / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("README.md", "LICENSE"):
        shutil.copy(ROOT / name, checkout)
    call = ["/bin/sh", checkout / "deploy/install.sh", "--root", folder / "root", "--yes"]
    call += ["--wheels", wheels.resolve()] if wheels else []

    def timed(*more: str) -> float:
        began = time.perf_counter()
        subprocess.run(
            [*call, *more], check=True, capture_output=True, env={**os.environ, "PYTHON": sys.executable}
        )
        return time.perf_counter() - began

    first, again = timed(), timed()
    with (checkout / "monitor/__init__.py").open("a") as file:
        file.write("# newer\n")
    return {"installation_s": first, "installed_again_s": again, "upgrade_without_silence_s": timed("--upgrade")}


def started(folder: Path, count: int) -> dict[str, float]:
    took = []
    for number in range(count):
        place = folder / str(number)
        place.mkdir()
        with Mosquitto(SHIPPED + "log_type debug\n") as broker:
            running = Running(settings(place, broker.port), 60.0)
            subscribed(broker)
            took.append(time.perf_counter() - running.began)
            running.stop()
    return {"start_to_subscribed_s": statistics.median(took)}


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--wheels", type=Path)
    options.add_argument("--starts", type=int, default=5)
    asked = options.parse_args()
    figures: dict[str, float] = {}
    with tempfile.TemporaryDirectory(prefix="vermistat-start-") as folder:
        for name in ("laid", "starts", "all"):
            (Path(folder) / name).mkdir()
        figures |= laid_out(Path(folder) / "laid", asked.wheels)
        figures |= started(Path(folder) / "starts", asked.starts)
        figures |= with_everything(Path(folder) / "all")
    for name, value in figures.items():
        print(f"{name:>28} {value:10.2f}")
    print(json.dumps({"bench": "start", "machine": platform.platform(), "starts": asked.starts, **figures}))


if __name__ == "__main__":
    main()
