"""The page's key: what its forms, its visits and the links in notices are signed with."""

from __future__ import annotations

import logging
import os
import secrets
from pathlib import Path

log = logging.getLogger(__name__)


def key_at(path: Path) -> bytes:
    """The key that our forms and links are signed with: 32 random bytes in a file for ourselves alone, made when none
    is there. Raises OSError.
    """
    try:
        kept = path.read_bytes()
    except FileNotFoundError:
        kept = b""
    if len(kept) == 32:
        return kept
    fresh = secrets.token_bytes(32)
    beside = path.with_name(path.name + ".new")
    with open(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as file:
        file.write(fresh)
        file.flush()
        os.fsync(file.fileno())
    os.replace(beside, path)
    return fresh


def key_of(path: Path | None) -> bytes:
    """The key in this file, or one for as long as we run where there is no place for it (which is logged)."""
    if path is None:
        return secrets.token_bytes(32)
    try:
        return key_at(path)
    except OSError as error:
        log.warning(
            "the page's key cannot be kept in %s (%s): links in notices end with this run", path, error.strerror
        )
        return secrets.token_bytes(32)
