"""One of Apprise's ways of sending, loaded without the other 190, which take 15 to 20 MB.

Apprise's manager loads every module of a folder that it is shown: here one in which there is only what is wanted. Which that
is, is read off the modules' text, where what stands before `://` is assigned to a `protocol`. Where that finds nothing, or
anything is not as expected, all of them are loaded.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any


def load(manager: Any, scheme: str) -> bool:
    """Load what gives this way of sending; whether that was enough. `manager` is Apprise's NotificationManager."""
    try:
        return _loaded_alone(manager, scheme)
    except (
        OSError,
        UnicodeDecodeError,
        AttributeError,
        TypeError,
    ):  # another Apprise, no folder for what is temporary
        return False


def _loaded_alone(manager: Any, scheme: str) -> bool:
    found = list(_giving(scheme, Path(manager.module_path)))
    if not found:
        return False
    with tempfile.TemporaryDirectory(prefix="vermistat-") as folder:
        for one in found:
            Path(folder, one.name).symlink_to(one)
        manager.load_modules(path=folder)
    return scheme in manager


def _giving(scheme: str, folder: Path) -> Iterator[Path]:
    """The modules in whose text this scheme is assigned to a protocol."""
    given = re.compile(rf"""protocol\s*=\s*(?:[(\[{{][^)\]}}]*)?["']{re.escape(scheme)}["']""")
    for one in sorted(folder.iterdir()):
        texts = sorted(one.glob("*.py")) if one.is_dir() else [one] if one.suffix == ".py" else []
        if any(given.search(text.read_text(encoding="utf-8")) for text in texts):
            yield one
