"""A card that is mounted read-only, but for the folder of the store: nothing else has to be written, and nothing else is."""

import os
import subprocess
import sys
from contextlib import closing

import pytest

from parts import harm_daemon
from parts.harm_house import QUEUE, ROOT, SOON, House
from parts.harm_life import Talk, Tub
from parts.mosquitto import Mosquitto
from parts.road import until
from parts.webhook import Webhook, closed_port

TUB = Tub(1)
BINS = "page: {listen: 'PAGE'}\nplaces: {yard: {}, nook-t001: {}}\nbins:" + TUB.text
READ_ONLY = """
set -e
mount --make-rprivate /
mount --bind "$STATE" "$STATE"
mount -o remount,bind,ro /
mount -t tmpfs -o ro none /dev/shm
if touch "$OUTSIDE/x" /tmp/x 2>/dev/null; then echo "the root can be written" >&2; exit 3; fi
cd /
exec "$@"
"""


def shut(house, *words, state):
    """A call with everything but `state` read-only, no home, and no cache."""
    if os.geteuid() != 0:
        pytest.fail("this needs root: it makes its own view of the file system read-only (unshare -m)")
    settings = str(house.settings)
    call = [sys.executable, "-B", "-m", "monitor", words[0], "--settings", settings, *words[1:]]
    if words == ("run",):  # the same, with its rounds five times a second
        call = [sys.executable, "-B", harm_daemon.__file__, settings, "{}"]
    gone = {"HOME": "/nonexistent", "XDG_CACHE_HOME": "/proc/none", "XDG_STATE_HOME": "/proc/none"}
    return ["unshare", "-m", "sh", "-c", READ_ONLY, "sh", *call], os.environ | gone | house.secrets() | {
        "PYTHONPATH": str(ROOT), "STATE": str(state), "OUTSIDE": str(house.folder),
    }  # fmt: skip


@pytest.fixture
def site(tmp_path):
    (tmp_path / "state").mkdir()
    with (
        Mosquitto(QUEUE) as broker,
        Webhook() as hook,
        House(
            tmp_path,
            broker,
            BINS.replace("PAGE", f"127.0.0.1:{closed_port()}"),
            channels={"hook": hook.url()},
            store=tmp_path / "state" / "kept.db",
        ) as house,
    ):
        yield house, broker, hook


def test_a_reading_becomes_a_notice_and_the_commands_answer(site, tmp_path):
    house, broker, hook = site
    state = tmp_path / "state"
    before = {str(p) for p in tmp_path.rglob("*") if state not in p.parents}
    call, environ = shut(house, "run", state=state)
    with (tmp_path / "said").open("wb") as log, closing(Talk(broker, ["json"])) as talk:
        daemon = subprocess.Popen(call, env=environ, stderr=log)
        try:
            until(
                lambda: "broker up" in (tmp_path / "said").read_text() or daemon.poll() is not None,
                "it is up",
                SOON,
            )
            TUB.say(talk)
            (text,) = hook.texts(1)
            assert "Tub t001" in text
            for words in (("now",), ("check",), ("week",), ("probes", "--json")):
                call, environ = shut(house, *words, state=state)
                done = subprocess.run(call, env=environ, capture_output=True, text=True, check=False, timeout=60)
                assert (0, "") == (done.returncode, done.stderr), words
                assert done.stdout
            call, environ = shut(house, "backup", "--to", str(tmp_path), "--same-disk", state=state)
            done = subprocess.run(call, env=environ, capture_output=True, text=True, check=False, timeout=60)
            assert (1, True) == (done.returncode, "(read-only file system)" in done.stderr)
        finally:
            daemon.terminate()
            assert 0 == daemon.wait(SOON), (tmp_path / "said").read_text()
    said = (tmp_path / "said").read_text()
    assert "Traceback" not in said
    assert before | {str(tmp_path / "said")} == {str(p) for p in tmp_path.rglob("*") if state not in p.parents}
    assert {"kept.db", "kept.db.lock", "kept.key"} <= {one.name for one in state.iterdir()}
