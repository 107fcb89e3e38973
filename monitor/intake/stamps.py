"""When a value without a time of its own is said to be from."""

from __future__ import annotations

from monitor.readings import Millis


class Stamps:
    """Times for values without one: the moment they came, or as long before or after it as they say (`shift`), and
    one millisecond later for each further one of the same probe and shift that would fall on the same.
    """

    def __init__(self) -> None:
        self._last: dict[tuple[str, Millis], tuple[Millis, Millis]] = {}

    def next(self, probe: str, received_at: Millis, shift: Millis = 0) -> Millis:
        """The time for a value of this probe that came at `received_at`."""
        key = probe, shift
        came, given = self._last.get(key, (received_at + 1, 0))
        # A clock that was set back (received before the last one came) starts anew.
        at = given + 1 if came <= received_at <= given else received_at
        self._last[key] = received_at, at
        return at + shift
