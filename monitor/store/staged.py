"""One probe's rows that lie in `arrived`, as the writer remembers them."""

from __future__ import annotations

from array import array

from monitor.readings import Millis
from monitor.store.rows import Row


class Staged:
    """Rows in order of arrival, in columns: 32 bytes for each instead of 240 as tuples in a dict. Looking for a time
    costs its length, but is done only for readings that are not newer than all others of their probe.
    """

    __slots__ = ("_arrivals", "_metas", "_times", "_values")

    def __init__(self) -> None:
        self._arrivals, self._times = array("q"), array("q")
        self._values, self._metas = array("q"), array("q")

    def __len__(self) -> int:
        return len(self._times)

    def add(self, row: Row) -> None:
        """One more; its time must be new."""
        arrival, _, at, value, meta = row
        self._arrivals.append(arrival)
        self._times.append(at)
        self._values.append(value)
        self._metas.append(meta)

    def value_at(self, at: Millis) -> int | None:
        """The value that stands at a time, None when there is none."""
        try:
            return self._values[self._times.index(at)]
        except ValueError:
            return None

    def take_out(self, at: Millis) -> bool:
        """Forget the row of a time; false when there is none."""
        try:
            place = self._times.index(at)
        except ValueError:
            return False
        for column in (self._arrivals, self._times, self._values, self._metas):
            del column[place]
        return True

    def newest(self) -> Millis:
        """The latest time. Raises ValueError without rows."""
        return max(self._times)

    def rows(self, number: int) -> list[Row]:
        """All of them, as rows of the probe of this number."""
        columns = zip(self._arrivals, self._times, self._values, self._metas, strict=True)
        return [(arrival, number, at, value, meta) for arrival, at, value, meta in columns]
