"""Where settings are looked for: nothing of their reader is needed for that."""

from __future__ import annotations

import os
from pathlib import Path as FilePath

from monitor.errors import SettingsError

PLACES = (FilePath("config/vermistat.yaml"), FilePath("/etc/vermistat/vermistat.yaml"))
"""Where settings are looked for when none are named, first to last."""

NAMED = "VERMISTAT_SETTINGS"
"""The environment variable that names them instead: an installed command is not misled by the folder it is called in."""


def find_settings(explicit: FilePath | str | None = None) -> FilePath:
    """What to load: the file or folder that is named here or in the environment, else the first of PLACES that is there.

    Raises SettingsError when nothing is named and nothing is there.
    """
    if explicit is not None:
        return FilePath(explicit)
    if os.environ.get(NAMED):
        return FilePath(os.environ[NAMED])
    there = next((place for place in PLACES if is_file(place)), None)
    if there is None:
        raise SettingsError([f"{PLACES[0]}:1:1: There are no settings. Write this file, or give --settings FILE."])
    return there


def is_file(path: FilePath) -> bool:
    """Whether a file is there that may be looked at."""
    try:
        return path.is_file()
    except OSError:
        return False
