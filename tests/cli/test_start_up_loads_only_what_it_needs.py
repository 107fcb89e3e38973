"""Start-up counts on a small board: what is heavy is loaded by the command that needs it, and by no other."""

import sys

import pytest

from cli.keeping import SETTINGS, Site, cold
from cli.running import ROOT, environment, shell
from monitor.reports.notes import CARED

HEAVY = {
    "pydantic",
    "yaml",
    "sqlite3",
    "paho",
    "apprise",
    "apscheduler",
    "amqtt",
    "influxdb_client",
    "asyncio",
    "ssl",
}
SCRIPT = """
import contextlib, io, sys
from monitor.cli import main
with contextlib.redirect_stdout(io.StringIO()), contextlib.suppress(SystemExit):
    main(sys.argv[1:])
print(*sorted({name.partition(".")[0] for name in sys.modules} | {n for n in sys.modules if n.startswith("monitor.bed.")}))
"""


def loaded(*words, **more):
    call = [sys.executable, "-c", SCRIPT, *words]
    done = shell(call, env=environment(PYTHONPATH=str(ROOT), **more))
    assert (0, "") == (done.returncode, done.stderr)
    return set(done.stdout.split())


@pytest.mark.parametrize(
    "words", [("--help",), ("now", "--help"), ("species",), ("species", "eisenia-fetida", "--json")]
)
def test_what_reads_nothing_loads_nothing_heavy(words):
    assert set() == loaded(*words) & HEAVY


def test_what_reads_the_store_loads_no_wire_no_schedule_no_sender_and_no_simulator(tmp_path):
    site = Site(tmp_path)
    with site.lived():
        pass
    found = loaded("now", "--settings", str(site.file))
    assert {"yaml", "pydantic", "sqlite3"} <= found
    assert set() == found & {"paho", "apscheduler", "apprise", "amqtt", "influxdb_client", "asyncio", "ssl"}


def test_the_second_time_now_reads_the_store_without_pydantic_and_without_what_beds_have_learned(tmp_path):
    beds = "".join(  # of so many bins nobody is told what they want to drink
        f"  b{n}: {{species: eisenia-fetida, zones: {{z: {{probes: {{b{n}-t: {{measures: temperature, topic: b/{n}}}}}}}}}}}\n"
        for n in range(CARED)
    )
    site = Site(tmp_path, text=SETTINGS.replace("bins:\n", f"bins:\n{beds}"))
    with site.lived() as house:
        cold(house)
    called = ("now", "--settings", str(site.file))
    first, second = (loaded(*called, XDG_CACHE_HOME=str(tmp_path / "cache")) for _ in range(2))
    assert {"yaml", "pydantic", "sqlite3"} <= first
    assert "sqlite3" in second
    assert set() == {n for n in second if n in ("yaml", "pydantic", "logging") or n.startswith("monitor.bed.")}
