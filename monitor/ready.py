"""The rules as they were last read, kept among a user's caches: a command that only shows need not read a farm's files anew.

The files themselves are compared by their bytes each time, so what is kept is never older than they are. Nothing secret is in it:
neither addresses nor passwords, and of a site with a database nothing is kept at all. A copy that is damaged, somebody else's, or
of another version of this program or of Python, is passed over; one that cannot be written is done without.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import pickle
import sys
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, fields, is_dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from monitor import __version__
from monitor.rules import Rules

if TYPE_CHECKING:
    from monitor.settings import Settings

_ROOT = Path(__file__).parent
_MADE_BY = ("settings/*.py", "science/*.py", "*.py")
"""Code that makes rules out of files."""


@dataclass(frozen=True, slots=True)
class Shown:
    """What a command needs of the settings that only shows: the first file, the rules, where the store is."""

    files: tuple[Path, ...]
    rules: Rules
    store: Path | None
    database: None = None


def ready(named: Path) -> Shown | None:
    """What was kept of these settings, None when nothing was, or the files are no longer the same."""
    try:
        text = _trusted(_copy_of(named))
        head, _, body = text.partition(b"\n")
        known = json.loads(head)
        if known["made by"] != _made_by() or known["files"] != _digests(known["files"]):
            return None
        if known["folders"] != _listings(known["folders"]):
            return None
        found = _Careful(io.BytesIO(body)).load()
    except (OSError, ValueError, KeyError, TypeError, AttributeError, EOFError, pickle.UnpicklingError):
        return None
    return found if isinstance(found, Shown) else None


def keep(named: Path, settings: Settings) -> None:
    """Keep these settings for the next time. Where that is not possible, nothing happens."""
    if settings.database is not None:
        return
    files = [str(file.absolute()) for file in settings.files]
    folders = [str(f.absolute()) for f in (named, *settings.beside) if f.is_dir()]
    with suppress(OSError, pickle.PicklingError, TypeError):
        there = _digests(files)
        known = {"made by": _made_by(), "files": there, "folders": _listings(folders)}
        read = [hashlib.sha256(text.encode()).hexdigest() for _, text in settings.texts]
        if sorted(there.values()) != sorted(read):
            return  # somebody wrote while we read: what stands there now is not what these rules were made of
        shown = Shown(settings.files, settings.rules, settings.store)
        body = io.BytesIO()
        _Brief(body, protocol=5).dump(shown)
        _write(_copy_of(named), json.dumps(known).encode() + b"\n" + body.getvalue())


def _copy_of(named: Path) -> Path:
    kept = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "vermistat"
    # relative names inside depend on where the command is called
    called = f"{Path.cwd()}\n{named}"
    return kept / f"{hashlib.sha256(called.encode()).hexdigest()[:24]}.ready"


def _trusted(file: Path) -> bytes:
    with file.open("rb") as opened:
        about = os.fstat(opened.fileno())
        if about.st_uid != os.geteuid() or about.st_mode & 0o077:
            raise PermissionError(f"{file} is not ours alone")
        return opened.read()


def _write(file: Path, content: bytes) -> None:
    import tempfile

    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=file.parent)  # made with 0600
    try:
        with os.fdopen(handle, "wb") as opened:
            opened.write(content)
        os.replace(name, file)
    except OSError:
        with suppress(OSError):
            os.unlink(name)
        raise


def _made_by() -> str:
    newest = max(file.stat().st_mtime_ns for pattern in _MADE_BY for file in _ROOT.glob(pattern))
    return f"{__version__}, {sys.version}, {newest}"


def _digests(files: Iterable[str]) -> dict[str, str]:
    return {file: hashlib.sha256(Path(file).read_bytes()).hexdigest() for file in files}


def _listings(folders: Iterable[str]) -> dict[str, list[str]]:
    return {folder: sorted(file.name for file in Path(folder).glob("*.yaml")) for folder in folders}


class _Brief(pickle.Pickler):
    """Writes a value of ours as a call of its class, which is read in half the time and looks at what it is given."""

    def reducer_override(self, value: Any) -> Any:
        """The class and what it is called with."""
        if is_dataclass(value) and not isinstance(value, type):
            return type(value), tuple(getattr(value, field.name) for field in fields(value))
        return NotImplemented


class _Careful(pickle.Unpickler):
    """Makes values of ours and a few plain ones; whatever else is named in a copy is refused."""

    def find_class(self, module: str, name: str) -> Any:
        """The class of that name. Raises UnpicklingError for one that is no value of ours."""
        ours = module in ("monitor.rules", "monitor.readings", "monitor.ready") and name[:1].isupper()
        if ours or (module, name) in _PLAIN:
            return super().find_class(module, name)
        raise pickle.UnpicklingError(f"{module}.{name} has no place here")


_PLAIN = frozenset(
    {
        ("builtins", "frozenset"),
        ("datetime", "time"),
        ("datetime", "date"),
        ("pathlib", "PosixPath"),
        ("pathlib._local", "PosixPath"),  # as Python 3.13 names it
    }
)
