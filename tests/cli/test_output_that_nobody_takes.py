"""Real processes whose reader goes away, whose disk is full, who are interrupted, or whose terminal is old."""

import os
import pty
import signal
import subprocess
import sys

import pytest

from cli.keeping import NOW, Site, cold
from cli.running import begun, environment, shell, vermistat

SLOW = (
    # whoever starts the tests in the background of a shell has them inherit that SIGINT is ignored
    "import monitor.reports.facts as f, os, signal; signal.signal(signal.SIGINT, signal.default_int_handler);"
    " f.now_facts = lambda *_: os.kill(os.getpid(), signal.SIGINT);"
)
MAIN = "import sys; from monitor.cli import main; sys.exit(main(sys.argv[1:]))"


@pytest.fixture
def lived(tmp_path):
    site = Site(tmp_path)
    with site.lived() as house:
        cold(house)
    return site


@pytest.mark.parametrize("words", [("now",), ("why", "1"), ("now", "--json")])
def test_a_reader_that_goes_away_is_no_failure_and_no_noise(lived, words):
    reader, writer = os.pipe()
    os.close(reader)
    process = begun(words[0], "--settings", lived.file, *words[1:], stdout=writer)
    os.close(writer)
    _, errors = process.communicate(timeout=30)
    assert (0, "") == (process.returncode, errors)


def test_head_gets_its_line(lived):
    command = f"{sys.executable} -m monitor now --settings {lived.file} | head -1"
    done = shell(["bash", "-o", "pipefail", "-c", command])
    assert (0, "", 1) == (done.returncode, done.stderr, len(done.stdout.splitlines()))
    assert done.stdout.startswith("Orchard shed at ")


def test_a_full_disk_behind_the_output_is_said(lived):
    with open("/dev/full", "w") as full:
        done = vermistat(
            "now", "--settings", lived.file, capture_output=False, stdout=full, stderr=subprocess.PIPE
        )
    assert (1, "vermistat: no space left on device\n") == (done.returncode, done.stderr)


def test_without_any_output_it_still_ends(lived):
    command = f"{sys.executable} -m monitor now --settings {lived.file} >&-"
    done = shell(["bash", "-c", command])
    assert (0, "") == (done.returncode, done.stderr)


def test_an_interrupt_ends_it_with_1_and_without_a_traceback(lived):
    call = [sys.executable, "-c", SLOW + MAIN, "now", "--settings", str(lived.file)]
    done = shell(call)
    assert (1, "", "") == (done.returncode, done.stdout, done.stderr)
    assert signal.SIGINT == 2


@pytest.mark.parametrize("encoding", ["ascii", "latin-1"])
def test_a_minus_is_never_lost_in_an_old_terminal(tmp_path, encoding):
    site = Site(tmp_path)
    with site.lived() as house:
        house.at = NOW
        house.say(plum_near=-4.0)
    done = vermistat("now", "--settings", site.file, env=environment(PYTHONIOENCODING=encoding), text=False)
    assert (0, b"") == (done.returncode, done.stderr)
    assert b"near \\u22124.0" in done.stdout


def test_a_terminal_gets_lines_that_fit_it(lived):
    before = vermistat("now", "--settings", lived.file).stdout  # a minute may pass between two calls
    leader, follower = pty.openpty()
    process = begun("now", "--settings", lived.file, stdout=follower, env=environment(COLUMNS="60"))
    os.close(follower)
    said = b""
    while True:
        try:
            more = os.read(leader, 65536)
        except OSError:
            break
        if not more:
            break
        said += more
    _, errors = process.communicate(timeout=30)
    os.close(leader)
    lines = said.decode().replace("\r", "").split("\n")
    assert (0, "") == (process.returncode, errors)
    assert max(map(len, lines)) <= 60
    piped = vermistat("now", "--settings", lived.file).stdout
    assert max(map(len, piped.splitlines())) > 100
    assert " ".join(lines).split() in (before.split(), piped.split())
