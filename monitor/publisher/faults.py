"""Why a sensor gave no value."""

from __future__ import annotations

import errno
from enum import StrEnum


class Fault(StrEnum):
    """What is counted, for each probe."""

    MISSING = "missing"
    """There is no such device, or no such file of it."""
    BUS = "bus"
    """The bus, or the kernel, says that it went wrong."""
    CRC = "crc"
    """What came has a wrong check sum."""
    POWER_ON = "power-on"
    """The value a chip has before it ever measured."""
    POWER = "power"
    """Too little power to measure."""
    SILENT = "silent"
    """Nobody answers: all ones, or all zeros."""
    IMPOSSIBLE = "impossible"
    """No such chip can measure this."""
    NONSENSE = "nonsense"
    """What came is no number."""
    RIGHTS = "rights"
    """We may not read it."""
    LIBRARY = "library"
    """The library that reads it is not installed."""


class Faulty(Exception):
    """There is no value: which fault, and a sentence for the log that says what to look at."""

    def __init__(self, fault: Fault, sentence: str) -> None:
        self.fault = fault
        super().__init__(sentence)


def of_the_system(error: OSError, what: str) -> Faulty:
    """A file or a device that could not be read. EIO is how the kernel says that a bus failed or a CRC was wrong."""
    reason = (error.strerror or type(error).__name__).lower()
    if isinstance(error, FileNotFoundError) or error.errno in (errno.ENODEV, errno.ENXIO):
        return Faulty(Fault.MISSING, f"{what} is not there: look at its plug and its wires.")
    if isinstance(error, PermissionError):
        return Faulty(Fault.RIGHTS, f"{what} may not be read by us: add our user to the group that may.")
    return Faulty(Fault.BUS, f"{what} does not answer ({reason}): look at the cable, its length and its pull-up.")
