"""Several readings make one value."""

from __future__ import annotations

from dataclasses import dataclass, field

from monitor.publisher.faults import Fault
from monitor.readings import Millis


@dataclass(slots=True)
class Sampling:
    """One probe's readings since the last value. A switch is not averaged: the newest says how it is."""

    switch: bool = False
    _values: list[float] = field(default_factory=list)
    _at: Millis = 0
    good: int = 0
    """Readings that were one, ever."""
    faults: dict[Fault, int] = field(default_factory=dict)
    """Those that were none, ever, by what was wrong."""
    said: str = ""
    """What was wrong last; empty after a good one."""

    def take(self, value: float, at: Millis) -> None:
        """A good reading."""
        self._values.append(value)
        self._at = at
        self.good += 1
        self.said = ""

    def refuse(self, fault: Fault, said: str) -> bool:
        """A reading that was none. True when this is said for the first time since a good one."""
        self.faults[fault] = self.faults.get(fault, 0) + 1
        news, self.said = said != self.said, said
        return news

    def value(self) -> tuple[Millis, float] | None:
        """The mean of what was read since the last time, at the time of the newest of it; None when nothing was good."""
        if not self._values:
            return None
        mean = self._values[-1] if self.switch else sum(self._values) / len(self._values)
        self._values.clear()
        return self._at, mean
