import os
import subprocess
import sys

import pytest

from monitor.publisher.journal import Journal

ENTRIES = [("fig-west", 1_795_694_405_136, 21.125), ("plum", 1_795_694_405_137, -10.0625), ("mat", 1, 1.0)]


@pytest.fixture
def path(tmp_path):
    return tmp_path / "held"


def test_what_was_written_is_read_back_in_its_order(path):
    journal = Journal(path)
    assert journal.append(ENTRIES[:2])
    assert journal.append(ENTRIES[2:])
    again = Journal(path)
    assert ENTRIES == again.load()
    assert (3, 3) == (journal.lines, again.lines)


def test_without_a_file_there_is_nothing_and_nothing_is_made(path):
    assert [] == Journal(path).load()
    assert Journal(path).append([])
    assert not path.exists()


def test_it_is_for_nobody_elses_eyes(path):
    Journal(path).append(ENTRIES)
    assert 0o600 == path.stat().st_mode & 0o777
    Journal(path).rewrite(ENTRIES)
    assert 0o600 == path.stat().st_mode & 0o777


def test_written_anew_only_what_is_wanted_is_left(path):
    journal = Journal(path)
    journal.append(ENTRIES)
    assert journal.rewrite(ENTRIES[1:2])
    assert ENTRIES[1:2] == Journal(path).load()
    assert 1 == journal.lines
    assert ["held"] == os.listdir(path.parent)


@pytest.mark.parametrize("cut", range(1, 45))
def test_a_line_torn_by_a_power_cut_is_left_out_and_the_next_is_whole(path, cut, caplog):
    Journal(path).append(ENTRIES)
    raw = path.read_bytes()
    path.write_bytes(raw[:-cut])
    journal = Journal(path)
    found = journal.load()
    assert ENTRIES[: len(found)] == found
    assert len(found) >= 1
    journal.append([("new", 5, 5.0)])
    assert [*found, ("new", 5, 5.0)] == Journal(path).load()


@pytest.mark.parametrize(
    "damage", [b"rubbish\n", b"00000000 fig 1 2.0\n", b"\xff\xfe\n", b"\n", b"a5 b 1 nan\n"], ids=repr
)
def test_a_damaged_line_is_left_out_and_said(path, damage, caplog):
    Journal(path).append(ENTRIES[:1])
    with path.open("ab") as file:
        file.write(damage)
    Journal(path).append(ENTRIES[1:2])
    assert ENTRIES[:2] == Journal(path).load()
    assert "1 lines are damaged" in caplog.text


def test_a_disk_that_takes_nothing_is_said_once_and_readings_go_on(tmp_path, caplog):
    journal = Journal(tmp_path / "no-such-folder" / "held")
    assert not journal.append(ENTRIES)
    assert not journal.append(ENTRIES)
    assert not journal.rewrite(ENTRIES)
    assert 1 == caplog.text.count("in memory only")
    assert "no such file or directory" in journal.trouble
    (tmp_path / "no-such-folder").mkdir()
    assert journal.append(ENTRIES)
    assert "" == journal.trouble


FILL = """
import resource, sys
from pathlib import Path
from monitor.publisher.journal import Journal
journal = Journal(Path(sys.argv[1]))
assert journal.append([("fig", 1, 1.0)])
import signal
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (60, 60))
print(journal.append([("fig", n, 2.0) for n in range(50)]), journal.lines, journal.trouble)
"""


def test_what_does_not_fit_whole_is_not_there_in_part(path):
    """The file may grow no further (RLIMIT_FSIZE), as on a full disk."""
    done = subprocess.run([sys.executable, "-c", FILL, path], capture_output=True, text=True, check=True)
    assert done.stdout.startswith("False 1 ")
    assert [("fig", 1, 1.0)] == Journal(path).load()


KILL = """
import sys
from pathlib import Path
from monitor.publisher.journal import Journal
journal = Journal(Path(sys.argv[1]))
n = 0
while True:
    journal.append([("fig", n, 1.0)])
    print(n, flush=True)
    n += 1
    if n % 7 == 0:
        journal.rewrite([("fig", m, 1.0) for m in range(n)])
"""


@pytest.mark.parametrize("after", [3, 20, 34])
def test_killed_in_the_middle_everything_that_was_said_to_be_written_is_there(path, after):
    with subprocess.Popen([sys.executable, "-c", KILL, path], stdout=subprocess.PIPE, text=True) as writer:
        for line in writer.stdout:
            if int(line) >= after:
                break
        writer.kill()
        said = [int(line) for line in writer.stdout]
    written = max([after, *said])
    found = [at for _, at, _ in Journal(path).load()]
    assert list(range(written + 1)) == found[: written + 1]
