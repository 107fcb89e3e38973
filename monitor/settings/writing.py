"""The keeper's own files replaced by what was shown: each whole or not at all, only while it still is what was looked at.

The earlier file is kept beside the new one, under a name that no folder of settings reads, and never deleted.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import BinaryIO

from monitor.errors import RequestError
from monitor.readings import SECOND, Millis
from monitor.settings.wishes import Edit


def write(edits: Sequence[Edit], at: Millis) -> list[Path]:
    """Write these, and answer where the earlier files are kept. Raises RequestError, having changed nothing, when there is
    nothing to write, a file may not be written, is no longer what was looked at, or the disk does not take it.
    """
    if not edits:
        raise RequestError("the files say that already, so there is nothing to accept")
    for edit in edits:
        _may_write(edit)
    kept: list[Path] = []
    done: list[Edit] = []
    try:
        for edit in edits:
            kept.append(_keep(edit, at))
            _replace(edit.file, edit.before, edit.after)
            done.append(edit)
    except (OSError, RequestError) as error:
        for put in reversed(done):
            _replace(put.file, put.after, put.before)
        for one in kept:
            one.unlink(missing_ok=True)
        if isinstance(error, RequestError):
            raise
        reason = (error.strerror or "no reason given").lower()
        raise RequestError(f"{edit.file} could not be written ({reason}); nothing was changed") from None
    return kept


def _may_write(edit: Edit) -> None:
    real = edit.file.resolve()
    _is_still(real, edit.before)
    if not os.access(real, os.W_OK):
        raise RequestError(f"{edit.file} may not be written by whoever runs this: change it yourself, as shown")
    if not os.access(real.parent, os.W_OK):
        raise RequestError(
            f"nothing may be written in {real.parent} by whoever runs this: change the file yourself, as shown"
        )


def _is_still(real: Path, before: bytes) -> None:
    try:
        same = real.read_bytes() == before
    except OSError as error:
        raise RequestError(f"{real} cannot be read ({(error.strerror or 'no reason given').lower()})") from None
    if not same:
        raise RequestError(f"{real} was changed meanwhile; look at it again, and try again")


def _keep(edit: Edit, at: Millis) -> Path:
    """The earlier file, beside it: `vermistat.yaml.before-20261126T021500`, which no folder of settings reads."""
    real = edit.file.resolve()
    stamp = datetime.fromtimestamp(at // SECOND, UTC).strftime("%Y%m%dT%H%M%S")
    for number in range(1000):
        kept = real.with_name(f"{real.name}.before-{stamp}{f'-{number}' if number else ''}")
        try:
            file = kept.open("xb")
        except FileExistsError:
            continue
        try:
            with file:
                _written(file, edit.before)
            shutil.copymode(real, kept)
        except BaseException:
            kept.unlink(missing_ok=True)
            raise
        return kept
    raise OSError(None, "too many earlier files are kept there")


def _written(file: BinaryIO, body: bytes) -> None:
    file.write(body)
    file.flush()
    os.fsync(file.fileno())


def _replace(file: Path, before: bytes, after: bytes) -> None:
    """Put `after` in place of a file that still holds `before`: whole, with the same owner and mode."""
    real = file.resolve()
    descriptor, name = tempfile.mkstemp(prefix=f".{real.name}.", dir=real.parent)
    try:
        with os.fdopen(descriptor, "wb") as new:
            _written(new, after)
        shutil.copymode(real, name)
        was = real.stat()
        if (was.st_uid, was.st_gid) != (os.geteuid(), os.getegid()):
            with contextlib.suppress(PermissionError):
                os.chown(name, was.st_uid, was.st_gid)
        _is_still(real, before)
        os.replace(name, real)
    except BaseException:
        with contextlib.suppress(OSError):
            Path(name).unlink()
        raise
    folder = os.open(real.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
