"""The command as a process, and the daemon beside it with a real broker."""

import contextlib
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
WITHIN = 20.0
PERIOD = 0.5
"""Real seconds between two rounds; a keeper's daemon takes 60, and nothing else is different here."""

DAEMON = """
import sys
from pathlib import Path
from monitor.app import run
from monitor.cli.logs import log_to_journal
from monitor.cli.ending import stop_on_signals
from monitor.cli.hangup import on_hangup
from monitor.site import load_settings
log_to_journal()
look_now, stop = on_hangup(), stop_on_signals()
sys.exit(run(load_settings(Path(sys.argv[1]), addresses=True), stop=stop, period=float(sys.argv[2]), look_now=look_now))
"""


def vermistat(*words, **how):
    """One call, to its end."""
    return shell([sys.executable, "-m", "monitor", *map(str, words)], **how)


def shell(call, **how):
    """One process, to its end."""
    how = {"capture_output": True, "text": True, "timeout": 30, "env": environment(), **how}
    return subprocess.run(call, check=False, cwd=ROOT, **how)


def begun(*words, **how):
    """One call that is still running."""
    how = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True, "env": environment(), **how}
    return subprocess.Popen([sys.executable, "-m", "monitor", *map(str, words)], cwd=ROOT, **how)


class Daemon:
    """`vermistat run` with quicker rounds; `log` is what it has said so far."""

    def __init__(self, file, period=PERIOD):
        self.process = subprocess.Popen(
            [sys.executable, "-c", DAEMON, str(file), str(period)],
            cwd=ROOT,
            stdin=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
        )
        self._lines, self._news = [], threading.Condition()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self):
        for line in self.process.stderr:
            with self._news:
                self._lines.append(line)
                self._news.notify_all()

    @property
    def log(self):
        return "".join(self._lines)

    def says(self, words):
        """Wait until its log holds these words."""
        with self._news:
            assert self._news.wait_for(lambda: words in self.log, WITHIN), f"{words!r} is not in:\n{self.log}"

    def end(self, how=signal.SIGTERM):
        """Its exit code."""
        self.process.send_signal(how)
        code = self.process.wait(WITHIN)
        self._reader.join(WITHIN)
        self.process.stderr.close()
        return code


@contextlib.contextmanager
def daemon(file, period=PERIOD):
    """A daemon that watches."""
    running = Daemon(file, period)
    try:
        running.says("broker up")
        yield running
    finally:
        if running.process.poll() is None:
            assert 0 == running.end()


def until(happened):
    """What a question answers once it answers anything but nothing."""
    end = time.monotonic() + WITHIN
    while not (found := happened()):
        assert time.monotonic() < end, "it did not happen"
        time.sleep(0.02)
    return found


def environment(**more):
    """Ours, with the buffered output that a keeper's shell has."""
    return {name: value for name, value in os.environ.items() if name != "PYTHONUNBUFFERED"} | more
