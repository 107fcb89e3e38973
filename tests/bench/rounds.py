"""What a round costs: 10, 1,000 and 10,000 bins of two zones on the file store.

Every zone has a new reading, one bin in a hundred is in alarm. The empty round (nothing new) is measured beside it and
taken off; what is left should grow no faster than the number of bins. A table for people, one JSON line last.
"""

from __future__ import annotations

import json
import platform
import statistics
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from monitor.app import _leave_the_old_alone
from monitor.checks.system import System
from monitor.readings import MINUTE, Measures, Reading
from monitor.rounds import Rounds
from monitor.rules import Bin, Person, Place, Probe, Role, Rules, Site, Source, Unit, Zone
from monitor.science.worms import species
from monitor.store.promises import Batch
from monitor.store.sqlite import SqliteStore

SIZES = (10, 1_000, 10_000)
ROUNDS = 5
START = 1_767_999_600_000


@dataclass
class Flushed:
    ok: bool = True
    in_hand: tuple[Reading, ...] = ()
    error: str | None = None
    blind: bool = False


def farm(bins: int) -> Rules:
    climate = {Measures.TEMPERATURE: species("eisenia-fetida").temperature}
    beds = {}
    for number in range(bins):
        zones = tuple(
            Zone(
                side,
                Role.LIVING,
                (
                    Probe(
                        f"b{number}-{side}",
                        Measures.TEMPERATURE,
                        Source(f"probes/b{number}-{side}", Unit.CELSIUS),
                        MINUTE,
                    ),
                ),
                climate,
            )
            for side in ("west", "east")
        )
        beds[f"b{number}"] = Bin(
            f"b{number}", f"Bed {number}", ("eisenia-fetida",), f"hall-{number // 50}", zones, climate
        )
    halls = {f"hall-{n}": Place(f"hall-{n}", f"Hall {n}") for n in range(bins // 50 + 1)}
    return Rules(Site("farm", "Farm"), halls, beds, people={"ana": Person("ana", ("mail",))})


def lived(bins: int, folder: Path) -> tuple[float, float, int]:
    """Seconds of a full round and of an empty one (medians), and the alarms that stood."""
    rules, now = farm(bins), [START]
    store = SqliteStore(folder / f"{bins}.db")
    rounds = Rounds(
        store=store,
        rules=rules,
        now=lambda: now[0],
        flush=Flushed,
        system=System,
        nudge=lambda: None,
        straight=lambda _post: None,
    )
    _leave_the_old_alone()  # as the daemon does when it has started
    full, empty = [], []
    for turn in range(40 + ROUNDS):
        now[0] += MINUTE
        readings = [
            Reading(probe.id, now[0] - 500, 0.4 if number % 100 == 0 else 18.0 + turn / 100, now[0])
            for number, bed in enumerate(rules.bins.values())
            for zone in bed.zones
            for probe in zone.probes
        ]
        # 40 minutes first, so that the harm delay of 30 minutes is over and the alarms stand
        if turn < 40 and turn % 10:
            continue
        store.keep(Batch(readings=readings))
        began = time.perf_counter()
        rounds.run()
        if turn >= 40:
            full.append(time.perf_counter() - began)
            began = time.perf_counter()
            rounds.run()
            empty.append(time.perf_counter() - began)
    alarms = sum(a.active for a in rounds.stands.alarms.values())
    store.close()
    return statistics.median(full), statistics.median(empty), alarms


def main() -> None:
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        for bins in SIZES:
            full, empty, alarms = lived(bins, Path(folder))
            rows.append({"bins": bins, "round_s": full, "empty_s": empty, "alarms": alarms})
    print(f"{'bins':>7} {'round s':>9} {'empty s':>9} {'net µs/bin':>11} {'alarms':>7}")
    for row in rows:
        row["net_us_per_bin"] = (row["round_s"] - row["empty_s"]) / row["bins"] * 1e6
        print(
            f"{row['bins']:>7} {row['round_s']:>9.4f} {row['empty_s']:>9.4f} {row['net_us_per_bin']:>11.1f} {row['alarms']:>7}"
        )
    linear = rows[-1]["net_us_per_bin"] / rows[-2]["net_us_per_bin"]
    print(
        json.dumps(
            {"bench": "rounds", "machine": platform.platform(), "rows": rows, "growth_1000_to_10000": linear}
        )
    )


if __name__ == "__main__":
    main()
