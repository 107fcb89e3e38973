"""How far each publisher's readings are on disk without a gap: counted from what its messages say, said after a commit.

Nothing of it is kept: a publisher tells its oldest number with every message, so that a daemon that knows nothing of it counts
on from there. What it sends again for that is known by probe and time.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from monitor.intake.payloads.numbered import Mark, Numbered

EVERY = 300.0
"""Seconds from one mark of a probe to the next, at least, while nothing is missing: one for several readings (ours)."""
SOON = 5.0
"""The same while something is missing, and when it has come."""
MOST = 1000
"""Lives that are remembered: the one longest unheard is forgotten first, and merely counted on from its oldest number later."""


@dataclass(slots=True)
class _Life:
    through: int = 0
    above: list[tuple[int, int]] = field(default_factory=list)
    """Stretches beyond a gap, in order."""
    said: Mark | None = None
    at: float = 0.0
    news: bool = False
    """Whether something was heard since."""

    @property
    def heard(self) -> int:
        return self.above[-1][1] if self.above else self.through

    def take(self, told: Numbered) -> None:
        """Its readings are on disk."""
        self.news = True
        self.through = max(self.through, told.oldest - 1)
        spans = sorted([*self.above, (told.number, told.last)])
        self.above = []
        for first, last in spans:
            if first <= self.through + 1:
                self.through = max(self.through, last)
            elif self.above and first <= self.above[-1][1] + 1:
                self.above[-1] = (self.above[-1][0], max(self.above[-1][1], last))
            else:
                self.above.append((first, last))


class Marks:
    """Every publisher's, by topic, probe and life. `patience` gives real seconds. Belongs to the pump's thread."""

    def __init__(self, patience: Callable[[], float], *, every: float = EVERY, soon: float = SOON) -> None:
        self._patience = patience
        self._every, self._soon = every, soon
        self._lives: OrderedDict[tuple[str, str, str], _Life] = OrderedDict()

    def kept(self, told: Iterable[tuple[str, Numbered]]) -> list[Mark]:
        """These, by their topics, are on disk now. The marks that are due."""
        for topic, one in told:
            key = (topic, one.probe, one.life)
            self._lives.setdefault(key, _Life()).take(one)
            self._lives.move_to_end(key)
        while len(self._lives) > MOST:
            self._lives.popitem(last=False)
        return self.due()

    def due(self, *, last: bool = False) -> list[Mark]:
        """The marks that are to be said now; all that are news when this is the last time."""
        now, found = self._patience(), []
        for (_, probe, life), one in self._lives.items():
            if not one.news:
                continue
            if last or now - one.at >= self._wait(one):
                one.said, one.at, one.news = Mark(probe, life, one.through, one.heard), now, False
                found.append(one.said)
        return found

    def _wait(self, one: _Life) -> float:
        """Seconds from its last mark to the next: a gap, and that it is closed, is told soon."""
        if one.said is None:
            return 0.0
        return self._soon if one.above or one.said.heard > one.said.through else self._every
