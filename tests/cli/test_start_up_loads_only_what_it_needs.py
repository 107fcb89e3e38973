"""Start-up counts on a small board: what is heavy is loaded by the command that needs it, and by no other."""

import sys

import pytest

from cli.keeping import Site
from cli.running import ROOT, environment, shell

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
print(*sorted({name.partition(".")[0] for name in sys.modules}))
"""


def loaded(*words):
    call = [sys.executable, "-c", SCRIPT, *words]
    done = shell(call, env=environment(PYTHONPATH=str(ROOT)))
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
