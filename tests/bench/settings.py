"""What settings of 500 bins cost: reading them, taking up a change while running, and `vermistat now` from a cold start.

The same farm is written out bin by bin and as one profile; 1,000 probes, 40 readings each in the store. A table for people,
one JSON line last.
"""

from __future__ import annotations

import json
import platform
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from monitor.app import PRIMED, _prime
from monitor.changing import taking_of
from monitor.checks.system import System
from monitor.clock import WallClock
from monitor.intake.payloads import Decoder
from monitor.intake.quality import Trust
from monitor.readings import MINUTE, Reading
from monitor.rounds import Rounds
from monitor.settings import Settings, explain, load
from monitor.store.promises import Batch
from monitor.store.sqlite import SqliteStore
from parts import installed

BINS, TURNS, READINGS = 500, 7, 40
HEAD = "site: {id: farm, timezone: Europe/Lisbon}\nstore: {path: farm.db}\n"
BED = """\
    species: eisenia-fetida
    worms: 2 kg
    bedding: 35 kg
    zones:
      near: {probes: {<bin>-near: {measures: temperature, topic: farm/<bin>/near, every: 5 min}}}
      far: {probes: {<bin>-far: {measures: temperature, topic: farm/<bin>/far}}}
    limits: {temperature: {comfort: 15..25 °C}}
"""
BARS = {"reload_s": 1.0, "now_s": 0.5}
INSTALLED = installed.environment()


class Flushed:
    ok, in_hand, error, blind = True, (), None, False


def written_out() -> str:
    return HEAD + "bins:\n" + "".join(f"  row-{n:03}:\n{BED.replace('<bin>', f'row-{n:03}')}" for n in range(BINS))


def as_a_profile() -> str:
    return f"{HEAD}profiles:\n  row:\n    bins: row-000..row-{BINS - 1:03}\n{BED}"


def timed(work: Callable[[], object]) -> float:
    seconds = []
    for _ in range(TURNS):
        began = time.perf_counter()
        work()
        seconds.append(time.perf_counter() - began)
    return statistics.median(seconds)


def lived(settings: Settings, path: Path) -> SqliteStore:
    """A store in which every probe has said something, and a round has judged it."""
    store, now = SqliteStore(path), WallClock().now()
    store.take_up(taking_of(settings, store, at=now))
    probes = list(settings.rules.probes())
    for turn in range(READINGS):
        at = now - (READINGS - turn) * 5 * MINUTE
        store.keep(Batch([Reading(p, at, 18 + (n % 50) / 16, at) for n, p in enumerate(probes)]))
    return store


def rounds(settings: Settings, store: SqliteStore) -> Rounds:
    return Rounds(
        store=store,
        rules=settings.rules,
        now=WallClock().now,
        flush=Flushed,
        system=System,
        nudge=lambda: None,
        straight=lambda _post: None,
    )


class Reload:
    """A limit of every bin changes back and forth: read, recorded, read by and judged by."""

    def __init__(self, file: Path, store: SqliteStore) -> None:
        self.file, self.store = file, store
        self.running = rounds(load([file], environ={}), store)
        self.running.run()
        self.texts = [file.read_text(), file.read_text().replace("15..25", "16..25")]
        self.turn = 0

    def __call__(self) -> None:
        self.turn += 1
        self.file.write_text(self.texts[self.turn % 2])
        wanted = load([self.file], environ={})
        taken = self.store.take_up(taking_of(wanted, self.store, at=WallClock().now()))
        assert len(taken.amendments) == BINS
        Decoder(wanted.rules.probes())
        _prime(Trust(), self.store, list(wanted.rules.probes())[:PRIMED])
        self.running.use(wanted.rules)


def now(file: Path, *, first: bool = False) -> None:
    """A new process each time; `first` for these settings: nothing is kept ready of them."""
    cache = file.parent / "cache"
    if first:
        shutil.rmtree(cache, ignore_errors=True)
    done = subprocess.run(
        [sys.executable, "-m", "monitor", "now", "--settings", str(file)],
        capture_output=True,
        check=True,
        env={**INSTALLED, "XDG_CACHE_HOME": str(cache)},
    )
    assert done.stdout.count(b"row-") >= BINS


def measured(text: str, folder: Path) -> dict[str, float]:
    folder.mkdir()
    file = folder / "vermistat.yaml"
    file.write_text(text)
    settings = load([file], environ={})
    store = lived(settings, folder / "farm.db")
    row = {
        "bytes": len(text.encode()),
        "load_s": timed(lambda: load([file], environ={})),
        "check_lines": len(explain(settings)),
        "check_s": timed(lambda: explain(settings)),
        "reload_s": timed(Reload(file, store)),
    }
    store.close()
    file.write_text(text)
    return row | {"now_first_s": timed(lambda: now(file, first=True)), "now_s": timed(lambda: now(file))}


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        rows = {
            "written out": measured(written_out(), Path(folder) / "out"),
            "as a profile": measured(as_a_profile(), Path(folder) / "profile"),
        }
    print(f"{BINS} bins, {2 * BINS} probes; medians of {TURNS}, in seconds")
    names = list(next(iter(rows.values())))
    print(f"{'':>14}" + "".join(f"{name:>14}" for name in names))
    for what, row in rows.items():
        shown = (f"{v:>14.0f}" if name in ("bytes", "check_lines") else f"{v:>14.3f}" for name, v in row.items())
        print(f"{what:>14}" + "".join(shown))
    print(f"{'bar':>14}" + "".join(f"{BARS[name]:>14.3f}" if name in BARS else " " * 14 for name in names))
    print(
        json.dumps({"bench": "settings", "machine": platform.platform(), "bins": BINS, "bars": BARS, "rows": rows})
    )


if __name__ == "__main__":
    main()
