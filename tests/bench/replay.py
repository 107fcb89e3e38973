"""What it costs to judge the past once more: 90 days of one bin, and a year of four, a round a minute, readings every five.

The beds swing with the day and the season, so that nights are out of comfort for weeks and others are not. A table for people,
one JSON line last.
"""

from __future__ import annotations

import json
import math
import os
import platform
import tempfile
import time
from pathlib import Path

from monitor.readings import DAY, MINUTE, Reading
from monitor.replay import Lived, replay
from monitor.rules import Rules
from monitor.settings import load
from monitor.store.promises import RoundRow

BEGIN = 1_790_000_000_000
BARS = {"bin_90_days_s": 3.0, "four_bins_year_s": 60.0}
HEAD = """\
site: {id: farm, timezone: Europe/Lisbon}
people: {ana: {evening: "21:00", up: "07:00", channels: [phone]}}
channels: {phone: {send_to: {from_env: BENCH_PHONE}}}
bins:
"""
BED = """\
  bed-<n>:
    species: eudrilus-eugeniae
    worms: 2 kg
    bedding: 35 kg
    zones:
      near: {probes: {near-<n>: {measures: temperature, topic: near/<n>, every: 5 min}}}
      far:
        probes:
          far-<n>: {measures: temperature, topic: far/<n>, every: 5 min}
          damp-<n>:
            measures: moisture
            topic: damp/<n>
            calibration: [{counts: 2700, moisture: 12 %, taken: 2026-03-20}, {counts: 1450, moisture: 80 %, taken: 2026-03-20}]
"""


def rules_of(beds: int) -> Rules:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, "settings.yaml")
        file.write_text(HEAD + "".join(BED.replace("<n>", str(n)) for n in range(beds)))
        return load([file], environ={**os.environ, "BENCH_PHONE": "json://localhost/"}).rules


def celsius(at: int, bed: int) -> float:
    days = (at - BEGIN) / DAY
    return 23 + bed + 3.5 * math.cos(2 * math.pi * days / 90) + 1.5 * math.sin(2 * math.pi * days)


def counts(at: int) -> float:
    return 1600 + 40 * ((at - BEGIN) / DAY % 14) / 14


def lived(beds: int, days: int) -> Lived:
    rounds, readings = [], []
    for minute in range(days * 24 * 60):
        at = BEGIN + minute * MINUTE
        for bed in range(beds):
            for offset, probe in enumerate(("near", "far", "damp")):
                if (minute + offset + bed) % 5 == 0:
                    value = counts(at) if probe == "damp" else celsius(at, bed) - offset
                    taken = at - 20_000
                    readings.append(
                        Reading(f"{probe}-{bed}", taken, value, taken + 500, arrival=len(readings) + 1)
                    )
        rounds.append(RoundRow(minute + 1, at, "1", len(readings)))
    return Lived(rounds, readings)


def timed(beds: int, days: int, *, times: int) -> dict[str, object]:
    """`seconds` is the least of so many runs, by the clock: what else a machine does only adds to it. `each` are all."""
    past, rules = lived(beds, days), rules_of(beds)
    each = []
    for _ in range(times):
        began = time.perf_counter()
        again = replay(past, lambda _: rules)
        each.append(round(time.perf_counter() - began, 2))
    return {
        "seconds": min(each),
        "each": each,
        "rounds": len(past.rounds),
        "readings": len(past.readings),
        "judged": again.judged,
        "steps": len(again.transitions),
        "notices": len(again.notices),
    }


def main() -> None:
    found = {"bin_90_days_s": timed(1, 90, times=5), "four_bins_year_s": timed(4, 365, times=1)}
    print(f"{platform.machine()}, Python {platform.python_version()}")
    for name, figures in found.items():
        print(f"{name}: {figures} (bar {BARS[name]:g} s)")
    print(json.dumps({"bench": "replay", **{name: figures["seconds"] for name, figures in found.items()}}))


if __name__ == "__main__":
    main()
