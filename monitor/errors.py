"""The whole error tree.

VermistatError
├── BadValue            a value that refuses to exist (nonsense handed to a frozen value or a formula)
├── SettingsError       the keeper's file is wrong; carries every mistake at once
├── StoreError          something kept could not be written or read
│   ├── StoreBusy       temporary: try again (locked, disk slow)
│   ├── StoreFull       the disk is full
│   ├── StoreBroken     permanent: the file is damaged or cannot be opened
│   ├── StoreNewer      the file was written by a newer Vermistat
│   └── StoreTaken      another daemon holds the store
├── WireError           the broker cannot be spoken to
├── SendError           a notice could not be delivered
└── RequestError        what a person asked for cannot be done (unknown alarm, unknown bin)

`temporary` says whether the same call may succeed later without anybody changing anything.
"""

from __future__ import annotations

from collections.abc import Sequence


class VermistatError(Exception):
    """Root of everything this program raises on purpose."""

    temporary = False


class BadValue(VermistatError, ValueError):
    """A value that cannot be: the caller handed nonsense to a frozen value or a formula."""


class SettingsError(VermistatError):
    """The settings are refused as a whole; `mistakes` holds each `file:line:column: sentence. hint`, `files` what
    was read.
    """

    def __init__(self, mistakes: list[str], files: Sequence[str] = ()) -> None:
        self.mistakes = mistakes
        self.files = tuple(files)
        super().__init__("\n".join(mistakes))


class StoreError(VermistatError):
    """Something kept could not be written or read."""


class StoreBusy(StoreError):
    """The store is locked or slow; the same call may succeed later."""

    temporary = True


class StoreFull(StoreError):
    """The disk is full; nothing was written."""

    temporary = True


class StoreBroken(StoreError):
    """The file is damaged, not ours, or cannot be opened."""


class StoreNewer(StoreError):
    """The file was written by a newer Vermistat than this one."""


class StoreTaken(StoreError):
    """Another daemon holds this store."""


class WireError(VermistatError):
    """The broker cannot be spoken to."""

    temporary = True


class SendError(VermistatError):
    """A notice could not be delivered on one address."""

    temporary = True


class RequestError(VermistatError):
    """What a person asked for cannot be done."""
