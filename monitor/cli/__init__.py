"""The command. argparse and late imports: start-up counts on a small board.

Exit codes (sysexits): 0 done, 1 failed, 64 wrong call, 78 wrong settings.
"""

from __future__ import annotations

import contextlib
import io
import os
import sys
from collections.abc import Callable, Sequence

from monitor.cli.calls import read
from monitor.cli.commands import DONE, FAILED, WRONG_SETTINGS, let_go
from monitor.errors import SettingsError, StoreBusy, VermistatError

__all__ = ["main"]


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; its exit code."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")  # a minus lost in an old terminal changes a reading
    options = read(sys.argv[1:] if argv is None else list(argv))
    try:
        return _ended(lambda: options.run(options))
    except KeyboardInterrupt:
        return FAILED


def _ended(run: Callable[[], int]) -> int:
    """The exit code of a command, whatever becomes of it."""
    try:
        try:
            code = run()
        finally:
            let_go()
        if sys.stdout is not None:
            sys.stdout.flush()
    except SettingsError as error:
        print("The settings are refused:\n" + "\n".join(error.mistakes), file=sys.stderr)
        return WRONG_SETTINGS
    except (VermistatError, OSError) as error:
        return _failed(error)
    return code


def _failed(error: VermistatError | OSError) -> int:
    if isinstance(error, OSError):
        _drop_output()
    if isinstance(error, BrokenPipeError):
        return DONE
    again = ": try again" if isinstance(error, StoreBusy) else ""
    print(f"vermistat: {_plainly(error)}{again}", file=sys.stderr)
    return FAILED


def _plainly(error: VermistatError | OSError) -> str:
    """`/var/lib/x.db: permission denied`, without the system's number for it."""
    if isinstance(error, VermistatError) or error.strerror is None:
        return str(error)
    return f"{error.filename}: {error.strerror.lower()}" if error.filename else error.strerror.lower()


def _drop_output() -> None:
    """Whoever read us has gone, or there is no room: nothing is left for Python to flush at its exit."""
    with contextlib.suppress(OSError):  # what is no file needs no flushing
        if sys.stdout is not None:
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
