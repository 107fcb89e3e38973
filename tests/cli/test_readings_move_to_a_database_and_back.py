"""`vermistat database move` there and back on a real server: a year of eight probes, killed in the middle, compared by the
server's own count.

Readings are six hours apart, so that the year's days are all there and the test takes seconds; `VERMISTAT_APART`
(minutes) makes it as dense as wanted.
"""

import json
import os
import signal
import subprocess
import sys
import uuid

import pytest
from pydantic import TypeAdapter

from cli.keeping import Site
from cli.running import ROOT, environment
from cli.test_json_has_its_shape import strict
from monitor.readings import DAY, MINUTE, Reading
from monitor.reports.databasing import MoveShape
from monitor.store.influx import InfluxStore
from monitor.store.influx_move import Mover
from monitor.store.influx_server import Server
from monitor.store.promises import Batch
from monitor.store.sqlite import SqliteStore
from parts import influx_kept
from parts.kept import T0

APART = int(os.environ.get("VERMISTAT_APART", "360")) * MINUTE
PROBES = [f"p-{n}" for n in range(8)]
EVER = 2**62
YEAR = [Reading(p, at, (at // APART % 97) / 4, at) for at in range(T0, T0 + 365 * DAY, APART) for p in PROBES]


class Moving:
    def __init__(self, folder):
        self.site = Site(folder)
        self.bucket = f"d{uuid.uuid4().hex}"
        self.database = influx_kept.server().database(self.bucket)
        text = f'database: {{url: "{self.database.url}", bucket: {self.bucket}}}\n'
        self.site.file.write_text(self.site.file.read_text() + text)
        store = SqliteStore(self.site.store_file)
        for start in range(0, len(YEAR), 5000):
            store.keep(Batch(YEAR[start : start + 5000]))
        store.close()

    def killed(self, *words, pause):
        """The command in a process of its own, killed with -9 after its first word of progress."""
        slow = (
            "import sys, time; from monitor.store import influx, influx_move; from monitor.cli import main;"
            f" influx.InfluxStore.ship.__defaults__ = (500,); influx_move.PAGE = {pause};"
            " import monitor.cli.databasing as d; said = d._progress;"
            " d._progress = lambda *a: (said(*a), time.sleep(60)); main(sys.argv[1:])"
        )
        call = [sys.executable, "-c", slow, "database", "move", *words, "--settings", str(self.site.file)]
        with subprocess.Popen(
            call, stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, env=environment(PYTHONPATH=str(ROOT))
        ) as process:
            assert b" of " in process.stderr.readline()
            process.send_signal(signal.SIGKILL)

    def moved(self, capsys, *words):
        capsys.readouterr()
        code = self.site.call("database", "move", *words, "--json")
        facts = json.loads(capsys.readouterr().out)
        TypeAdapter(strict(MoveShape)).validate_python(facts, strict=True)
        return code, facts

    def count_there(self):
        found = influx_kept.server().query('SELECT count("value") FROM "reading"', self.bucket)
        return sum(row[1] for series in found for row in series["values"])

    def prune(self):
        store = InfluxStore(self.site.store_file, Server(self.database), "orchard")
        removed = store.prune(EVER, newest=8)
        store.close()
        return removed

    def here(self):
        store = SqliteStore(self.site.store_file, read_only=True)
        found = {p: [(r.at, r.value, r.received_at) for r in store.window(p, -EVER, EVER)] for p in PROBES}
        store.close()
        return found


@pytest.fixture
def moving(tmp_path):
    return Moving(tmp_path)


def given():
    return {p: [(r.at, r.value, r.received_at) for r in YEAR if r.probe == p] for p in PROBES}


def test_a_year_goes_there_and_back_through_a_kill_each_way(moving, capsys):
    moving.killed(pause=500)
    part = moving.count_there()
    assert 0 < part < len(YEAR)
    code, facts = moving.moved(capsys)
    assert (0, [], len(YEAR), 0) == (code, facts["apart"], facts["readings"], facts["mended_days"])
    assert (len(YEAR), True) == (moving.count_there(), facts["days"] >= 8 * 365)
    assert moving.prune() > len(YEAR) * 0.9
    assert given() != moving.here()
    moving.killed("--back", pause=500)
    code, facts = moving.moved(capsys, "--back")
    assert (0, [], len(YEAR)) == (code, facts["apart"], facts["readings"])
    assert 0 < facts["carried"] < len(YEAR) - 8 * 8, "what came back before the kill is not fetched again"
    assert given() == moving.here()
    assert len(YEAR) == moving.count_there()


def spoil(moving):
    """One value at the server, changed by somebody else."""
    line = f"reading,probe=p-3,site=orchard value=99.5 {YEAR[3].at}"
    influx_kept.server().write(moving.bucket, line.encode())


def test_a_day_that_was_spoilt_there_is_found_and_sent_once_more(moving, capsys):
    assert 0 == moving.moved(capsys)[0]
    spoil(moving)
    code, facts = moving.moved(capsys)
    assert (0, 1, []) == (code, facts["mended_days"], facts["apart"])
    assert 0 == moving.moved(capsys)[1]["mended_days"]


def test_what_still_differs_is_told_and_does_not_leave_the_file(moving, capsys, monkeypatch):
    assert 0 == moving.moved(capsys)[0]
    spoil(moving)
    monkeypatch.setattr("monitor.store.influx_move.Mover._send_days", lambda *_: None)
    code, facts = moving.moved(capsys)
    assert (1, ["p-3"]) == (code, [one["probe"] for one in facts["apart"]])
    moving.prune()
    assert YEAR[3].at in [at for at, _, _ in moving.here()["p-3"]]


def test_a_value_spoilt_there_is_found_out_on_the_way_back(moving, capsys):
    assert 0 == moving.moved(capsys)[0]
    spoil(moving)
    code, facts = moving.moved(capsys, "--back")
    assert (1, ["p-3"]) == (code, [one["probe"] for one in facts["apart"]])
    assert given() == moving.here(), "the file has the truth, and keeps it"


def test_what_only_the_server_knows_is_told_and_left_alone(moving, capsys):
    assert {} == moving.moved(capsys)[1]["more"]
    line = f"reading,probe=p-3,site=orchard value=7.5,quality=0i,own=1i,after=0i,arrival=999999i {YEAR[3].at + 1}"
    influx_kept.server().write(moving.bucket, line.encode())
    code, facts = moving.moved(capsys)
    assert (0, {"p-3": 1}, []) == (code, facts["more"], facts["apart"])
    assert 0 == moving.site.call("database", "move")
    assert "holds 1 reading of p-3 that this file knows nothing of" in capsys.readouterr().out


def test_a_day_that_did_not_come_back_is_fetched_once_more(moving, capsys, monkeypatch):
    assert 0 == moving.moved(capsys)[0]
    moving.prune()
    put, dropped = Mover._put, []

    def careless(mover, probe, readings, before):
        if probe == "p-2" and not dropped:
            dropped.extend(readings[-2:])
            readings = readings[:-2]
        return put(mover, probe, readings, before)

    monkeypatch.setattr(Mover, "_put", careless)
    code, facts = moving.moved(capsys, "--back")
    assert 2 == len(dropped)
    assert (0, [], True) == (code, facts["apart"], facts["mended_days"] >= 1)
    assert given() == moving.here()


def test_a_database_that_is_no_longer_named_is_remembered_until_everything_is_back(moving, capsys):
    assert 0 == moving.moved(capsys)[0]
    moving.prune()
    named = moving.site.file.read_text()
    without = "".join(line for line in named.splitlines(True) if not line.startswith("database:"))
    moving.site.file.write_text(without)
    capsys.readouterr()
    assert 0 == moving.site.call("check")
    assert "older readings of 8 probes lie in a database only" in capsys.readouterr().out
    assert 0 == moving.site.call("now", "--json")
    notes = json.loads(capsys.readouterr().out)["notes"]
    assert [8] == [note["count"] for note in notes if note["kind"] == "elsewhere"]
    moving.site.file.write_text(named)
    assert 0 == moving.moved(capsys, "--back")[0]
    moving.site.file.write_text(without)
    assert 0 == moving.site.call("check")
    assert "in a database only" not in capsys.readouterr().out
