"""Wrong calls as files: the situation, the call, its exit code, and every line that it prints.

    given cold                  nothing | site | many | us | cold | over | 1970 | history | waiting | settings NAME | store KIND
                                | backup KIND
    $ vermistat seen 1
    exit 1
    ! vermistat: a line on standard error
    > a line on standard output

FOLDER stands for the folder it is called in, COMMANDS for the names of all commands, BACKUP for the backup in the
folder `stick`, TAKEN for a port on which somebody listens, PID for our own process, NEWER and OURS for versions of the store.
"""

import os
import shlex
import shutil
import socket
import sqlite3
import subprocess
import sys
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from unittest.mock import patch

from cli.backed_up import made_backup
from cli.keeping import NOW, Site, cold
from cli.keeping import SETTINGS as SITE
from cli.running import ROOT, environment
from monitor.backups import name_of
from monitor.cli import main
from monitor.cli.calls import parser
from monitor.clock import WallClock
from monitor.readings import Reading
from monitor.store.migrations import STEPS
from monitor.store.promises import Batch
from monitor.store.sqlite import SqliteStore

BEDS = "".join(
    f"  n-{n}: {{species: eisenia-fetida, stands_in: shed, zones: {{a: {{probes: {{n-{n}-a: {{measures: temperature, "
    f"topic: n/{n}}}}}}}}}}}\n"
    for n in range(1, 8)
)
MANY = SITE.replace("people:\n", BEDS + "people:\n")
SETTINGS = Path(__file__).parents[2] / "fixtures" / "mistakes" / "yaml"


@dataclass
class Call:
    """One file, read."""

    given: str = "nothing"
    words: list = field(default_factory=list)
    code: int = 0
    errors: list = field(default_factory=list)
    out: list = field(default_factory=list)


def read(text):
    """A Call out of a file's text."""
    call = Call()
    for line in text.splitlines():
        word, _, rest = line.partition(" ")
        if word == "given":
            call.given = rest
        elif word == "$":
            program, *call.words = shlex.split(rest)
            assert program == "vermistat"
        elif word == "exit":
            call.code = int(rest)
        elif word == "!":
            call.errors.append(rest)
        elif word == ">":
            call.out.append(rest)
        else:
            assert not line or word == "#", f"no such line: {line!r}"
    return call


def situation(given, folder, opened):
    """Make what the call finds in its folder; `opened` closes what stays open meanwhile."""
    what, _, which = given.partition(" ")
    if what == "settings":
        shutil.copy(SETTINGS / f"{which}.yaml", folder / "vermistat.yaml")
    elif what != "nothing":
        began = "06:00" if what == "over" else "08:00"
        text = MANY if what == "many" else SITE
        site = Site(folder, units="us" if what == "us" else "metric", text=text, began=began)
        if what in ("many", "us"):
            with site.lived():
                pass
        if what == "1970":
            opened.enter_context(patch.object(WallClock, "now", lambda self: 0))
        if what in ("cold", "over", "1970", "history", "waiting", "backup"):
            _live(site, what == "over")
        if what in ("history", "waiting"):
            _history(site, waiting=what == "waiting")
        elif what == "store":
            _store(site, which, opened)
        elif what == "backup":
            made_backup(site, which, opened)
        elif which == "without its secret":
            (folder / "mail-url").unlink()
        elif which == "with a nonsense secret":
            (folder / "mail-url").write_text("somewhere")


_LIVED = {}
"""The store of each life that was lived once, as bytes: a life takes as long as a hundred calls."""


def _live(site, over):
    if over not in _LIVED:
        _begin(site, over)
        _LIVED[over] = site.store_file.read_bytes()
    site.store_file.write_bytes(_LIVED[over])


def _begin(site, over):
    with site.lived() as house:
        cold(house)
        if over:
            number = next(iter(house.standing().values())).number
            house.store.ask(house.at, "ana", "seen", number)
            for _ in range(20):
                house.later(15).say(
                    fig_west=24.0, fig_east=24.0, plum_near=18.0, shed_air=12.0, fig_mat=24.0, fig_damp=1500
                )


def _history(site, *, waiting):
    (site.folder / "old.csv").write_text("time,value\n1700000000,20\n")
    (site.folder / "latin.csv").write_bytes(b"time,\xb0C\n")
    if waiting:
        with site.lived() as house:
            house.store.keep(Batch([Reading("fig-west", NOW + 1, 3.0, NOW + 1)]))


def _store(site, which, opened):
    file = site.store_file
    if which == "damaged":
        file.write_bytes(b"no database " * 200)
    elif which == "that is a folder":
        file.mkdir()
    elif which == "of something else":
        with sqlite3.connect(file) as other:
            other.execute("CREATE TABLE songs (name TEXT)")
        other.close()
    elif which == "empty":
        file.write_bytes(b"")
    else:
        held = SqliteStore(file)
        opened.callback(held.close)
        if which == "newer":
            held.close()
            with sqlite3.connect(file) as other:
                other.execute(f"PRAGMA user_version = {len(STEPS) + 1}")
            other.close()
        else:
            assert which == "held by a daemon"


def outcome(call, folder, capsys):
    """(exit code, lines on standard error, lines on standard output)."""
    with ExitStack() as opened:
        situation(call.given, folder, opened)
        taken = opened.enter_context(socket.socket())
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        words = [word.replace("TAKEN", port).replace("BACKUP", name_of("orchard", NOW)) for word in call.words]
        alone = words[:1] in (["run"], ["demo"]) and call.code != 64
        code, out, errors = _as_a_process(words, folder) if alone else _called(words, folder, capsys)
    names = ", ".join(next(a.choices for a in parser()._actions if isinstance(a.choices, dict)))
    made = {
        name_of("orchard", NOW): "BACKUP",
        str(folder): "FOLDER", names: "COMMANDS", port: "TAKEN", f"process {os.getpid()}": "process PID",
        f"version {len(STEPS) + 1}, this one knows {len(STEPS)}": "version NEWER, this one knows OURS",
    }  # fmt: skip

    def plain(text):
        for ours, word in made.items():
            text = text.replace(ours, word)
        return text.splitlines()

    return code, plain(errors), plain(out)


def _called(words, folder, capsys):
    before = Path.cwd()
    capsys.readouterr()
    os.chdir(folder)
    try:
        code = main(words)
    except SystemExit as end:
        code = end.code
    finally:
        os.chdir(before)
    out, errors = capsys.readouterr()
    return code, out, errors


def _as_a_process(words, folder):
    """What runs takes signals and the log into its hands, so it gets a process of its own."""
    ended = subprocess.run(
        [sys.executable, "-m", "monitor", *words], cwd=folder, capture_output=True, text=True, timeout=60, check=False,
        env=environment(PYTHONPATH=str(ROOT)),
    )  # fmt: skip
    return ended.returncode, ended.stdout, ended.stderr
