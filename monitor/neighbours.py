"""Day means for the comparison of thermometers with their neighbours: read once a day, a few groups each round."""

from __future__ import annotations

import logging
from collections.abc import Mapping

from monitor.checks.drift import LOOKS_BACK, Days, Group, groups
from monitor.errors import StoreError
from monitor.readings import DAY, Millis
from monitor.rules import Rules
from monitor.store.promises import Store

log = logging.getLogger(__name__)

AT_ONCE = 10
"""Groups that are read in one round at most, of which one with its whole past: that is some hundred thousand readings
of each probe, and no round may be long.
"""
LEAST_OF_A_DAY = 4
"""Readings that make a day's mean (proposal)."""


class Neighbours:
    """Remembers the days it has read; a day that is over is read once. Not for more than one thread."""

    def __init__(self, store: Store, rules: Rules) -> None:
        self._store = store
        self._days: dict[str, dict[int, float]] = {}
        self._read_to: dict[str, int] = {}
        self._looked: dict[str, int] = {}
        self._groups: tuple[Group, ...] = groups(rules)
        self._all_read = False

    def use(self, rules: Rules) -> None:
        """Other settings: every group is looked at anew."""
        self._groups, self._looked, self._all_read = groups(rules), {}, False

    def due(self, now: Millis) -> dict[str, Mapping[str, Days]]:
        """The days of the probes of a few groups that have not been looked at since the last midnight (UTC). A store that
        cannot tell now is asked again at the next round.
        """
        today = now // DAY
        mine = self._next(today)
        found: dict[str, Mapping[str, Days]] = {}
        try:
            for group in mine:
                found[group.id] = {p.id: self._of(p.id, today) for p in group.probes}
                self._looked[group.id] = today
        except StoreError as error:
            log.warning("thermometers are not compared with their neighbours now: %s", error)
        return found

    def _next(self, today: int) -> list[Group]:
        waiting = [g for g in self._groups if self._looked.get(g.id) != today]
        if self._all_read:
            return waiting[: AT_ONCE - 1]
        new = {g.id for g in waiting if any(p.id not in self._read_to for p in g.probes)}
        self._all_read = not new
        first = [g for g in waiting if g.id in new][:1]
        return first + [g for g in waiting if g.id not in new][: AT_ONCE - 1]

    def _of(self, probe: str, today: int) -> Days:
        first = max(today - LOOKS_BACK // DAY, 0)
        known = self._days.setdefault(probe, {})
        # yesterday is read again: what was late may have arrived since
        begin = max(self._read_to.get(probe, first) - 1, first)
        for bucket in self._store.buckets(probe, begin * DAY, today * DAY, DAY):
            if bucket.count >= LEAST_OF_A_DAY:
                known[bucket.start // DAY] = bucket.mean
        self._read_to[probe] = today
        for day in [day for day in known if day < first]:
            del known[day]
        return dict(known)
