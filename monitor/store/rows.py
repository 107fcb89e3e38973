"""How a reading lies in the file, and what lies beside it in packed form."""

from __future__ import annotations

import struct
from collections.abc import Sequence

from monitor.errors import BadValue
from monitor.readings import RESOLUTION, Millis, Quality, Reading
from monitor.store.promises import Delivered

LARGEST = 2**63 - 1
QUALITIES = tuple(Quality)
DELIVERY = struct.Struct("<HQ")

Row = tuple[int, int, Millis, int, int]
"""arrival, probe, at, value, meta (see migrations.readings)."""
ROW = "arrival, probe, at, value, meta"


def steps_of(value: float) -> int:
    """The kept integer of a value, held within 64 bits."""
    steps = value * RESOLUTION
    if -LARGEST < steps < LARGEST:
        return round(steps)
    return LARGEST if value > 0 else -LARGEST


def meta_of(reading: Reading) -> int:
    """Everything of a reading that is usually nothing: how late it came, its quality, whose time it has."""
    return (reading.received_at - reading.at) * 64 + reading.quality * 2 + reading.own_time


def reading_of(probe: str, row: Row) -> Reading:
    """The reading of a row."""
    arrival, _, at, value, meta = row
    return Reading(
        probe, at, value / RESOLUTION, at + (meta >> 6), QUALITIES[(meta & 63) >> 1], bool(meta & 1), arrival
    )


def packed(delivered: Sequence[Delivered]) -> bytes:
    """Ten bytes for each. Raises BadValue beyond 16 and 64 bits."""
    try:
        return b"".join([DELIVERY.pack(one.packet, one.digest) for one in delivered])
    except struct.error as error:
        raise BadValue(f"a delivery that cannot be kept: {error}") from error


def unpacked(body: bytes) -> list[Delivered]:
    """What `packed` packed."""
    return [Delivered(packet, digest) for packet, digest in DELIVERY.iter_unpack(body)]
