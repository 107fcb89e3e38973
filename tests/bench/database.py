"""A database behind the store: how fast a queue becomes durable, acknowledged and answered by the server, and how fast it reads.

Rates are medians of alternating runs, each in a process and a database of its own, against a bare subscriber and against one
synchronous write a message. Reading: a probe's week among 50 and 500, and its year by summaries and raw, from the file and from
the server.
"""

import argparse
import json
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import intake
from monitor.readings import DAY, HOUR, MINUTE, Reading
from monitor.store.influx import InfluxStore
from monitor.store.influx_server import Server
from monitor.store.promises import Batch
from parts.influx import Influx
from parts.mosquitto import Mosquitto
from parts.publisher import publish

BEGIN = 1_760_000_000_000 // DAY * DAY


def rate(variant, count):
    """Messages a second; the server's own count must be that of the messages."""
    with Mosquitto(intake.CONF) as broker, Influx() as server, tempfile.TemporaryDirectory() as folder:
        server.database("bench")
        intake.session(broker.port, check=False)
        publish(broker.port, list(intake.json_messages(count)))
        more = {
            "bare": ["intake_bare.py", str(broker.port), str(count)],
            "ours": [
                "database_ours.py",
                str(broker.port),
                str(count),
                f"{folder}/kept.db",
                server.address,
                "bench",
            ],
            "naive": [
                "database_naive.py",
                str(broker.port),
                str(count),
                f"http://127.0.0.1:{server.port}",
                "bench",
            ],
        }[variant]
        command = [sys.executable, str(Path(__file__).parent / more[0]), *more[1:]]
        told = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
        if variant != "bare":
            there = server.query('SELECT count("value") FROM "reading"', "bench")[0]["values"][0][1]
            assert there == count == told["rows"], (there, told)
    return count / told["seconds"]


def median_ms(work):
    """Of nine, after one that warms."""
    work()
    times = []
    for _ in range(9):
        began = time.perf_counter()
        work()
        times.append(1000 * (time.perf_counter() - began))
    return statistics.median(times)


def reading_times(bins, server, folder):
    """Milliseconds, with so many bins over the days asked for: a probe's week and its whole time read raw, and its days out of
    the summaries; from the file, and once the readings lie at the server.
    """
    name = f"b{bins}"
    store = InfluxStore(f"{folder}/{name}.db", Server(server.database(name)), "bench")
    times = range(BEGIN, BEGIN + ARGS.days * DAY, 5 * MINUTE)
    began = time.perf_counter()
    for chunk in range(0, len(times), 100):
        some = times[chunk : chunk + 100]
        store.keep(Batch([Reading(f"p{n}", at, 20 + at // HOUR % 24 / 4, at) for at in some for n in range(bins)]))
    store._on_writer(store._move_all)
    kept = time.perf_counter()
    while store.summarise(times[-1] + HOUR):
        pass
    took = f"kept in {kept - began:.0f} s, summed up in {time.perf_counter() - kept:.0f} s"
    print(f"{bins} bins: {bins * len(times):,} readings {took}", flush=True)
    here = asked(store)
    before = week(store)
    shipping = time.perf_counter()
    while store.unshipped():
        store.ship()
    print(f"{bins} bins: sent in {time.perf_counter() - shipping:.0f} s", flush=True)
    store.prune(2**62, newest=32)
    assert before == week(store)
    there = asked(store)
    store.close()
    return here, there


def week(store):
    start = BEGIN + (ARGS.days // 2) * DAY
    return store.window("p1", start, start + 7 * DAY)


def asked(store):
    """(a week raw, all raw, all by days out of the summaries), in milliseconds."""
    end = BEGIN + ARGS.days * DAY
    days = range(BEGIN, end + 1, DAY)
    raw, summed = store.window("p1", BEGIN, end), store.spans("p1", days)
    assert sum(b.count for b in summed) == len(raw) > 0
    assert min(b.low for b in summed) == min(r.value for r in raw)
    return (
        median_ms(lambda: week(store)),
        median_ms(lambda: store.window("p1", BEGIN, end)),
        median_ms(lambda: store.spans("p1", days)),
    )


def main():
    runs = {"ours": [], "bare": [], "naive": []}
    for pair in range(0 if ARGS.only_reading else ARGS.pairs):
        for name in ("ours", "bare") if pair % 2 else ("bare", "ours"):
            runs[name].append(rate(name, ARGS.messages))
        runs["naive"].append(rate("naive", ARGS.naive_messages))
    rates = {name: statistics.median(many) for name, many in runs.items() if many}
    for name, many in runs.items() if rates else ():
        print(f"{name:8}{rates[name]:10,.0f} messages/s, {min(many):,.0f} to {max(many):,.0f}, {len(many)} runs")
    with Influx() as server, tempfile.TemporaryDirectory() as folder:
        weeks = {bins: reading_times(bins, server, folder) for bins in ARGS.bins}
    for bins, both in weeks.items():
        for where, (seven, whole, summed) in zip(("file", "server"), both, strict=True):
            print(
                f"{bins:4} bins, {where:6}: week {seven:6.1f} ms, {ARGS.days} days {whole:7.1f} ms, by summaries {summed:6.1f} ms"
            )
    few, many = weeks[min(weeks)], weeks[max(weeks)]
    print(
        json.dumps(
            {
                "bench": "database",
                "messages": ARGS.messages,
                **{
                    f"influx_ratio_to_{of}": round(rates["ours"] / rates[of], 3)
                    for of in ("bare", "naive")
                    if rates
                },
                "days": ARGS.days,
                "bins": ARGS.bins,
                "week_ratio_file": round(many[0][0] / few[0][0], 2),
                "week_ratio_server": round(many[1][0] / few[1][0], 2),
                "year_of_raw_file": round(many[0][2] / many[0][1], 3),
                "year_of_raw_server": round(many[1][2] / many[1][1], 3),
                "rates": {name: round(value) for name, value in rates.items()},
            }
        )
    )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--messages", type=int, default=20_000)
    parser.add_argument("--naive-messages", type=int, default=2_000)
    parser.add_argument("--only-reading", action="store_true", help="no rates")
    parser.add_argument("--pairs", type=int, default=5)
    parser.add_argument("--days", type=int, default=365, help="how much history the reading is asked out of")
    parser.add_argument("--bins", type=int, nargs=2, default=[50, 500])
    ARGS = parser.parse_args()
    main()
