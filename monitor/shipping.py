"""The sending on to a database, as the daemon looks after it: begun, ended, and told of when it fails."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from monitor.addresses import Database
from monitor.clock import Clock, KnownClock, Patience
from monitor.readings import Millis
from monitor.reckoning import LEAST, Belief
from monitor.store.promises import Store

if TYPE_CHECKING:
    from monitor.store.influx_ship import Shipper

PROVEN_AFTER: Millis = 15 * 60_000
"""A clock that has run so long without a step and without doubt is taken for right (proposal): a board that starts with
the time of its last shutdown is set by the network within the first minutes."""


class Shipping:
    """Nothing at all where readings stay here."""

    def __init__(self, shipper: Shipper | None, patience: Patience, now: Callable[[], Millis]) -> None:
        self._shipper, self._patience, self._now = shipper, patience, now

    def start(self) -> None:
        """Begin."""
        if self._shipper is not None:
            self._shipper.start()

    def stop(self, timeout: float) -> None:
        """End after the write that is under way."""
        if self._shipper is not None:
            self._shipper.stop(timeout)

    def lost(self) -> tuple[Millis, str] | None:
        """Since when readings do not go on, by the beds' clock, and why; None while they do."""
        standing = self._shipper.standing() if self._shipper else None
        if standing is None or standing.failing_since is None:
            return None
        ago = round((self._patience.now() - standing.failing_since) * 1000)
        return self._now() - ago, f"{standing.waiting} of them, because {standing.error}"


class Certain:
    """Whether times are certain enough to be sent: proven, or believed for long enough, counted from the last step or doubt."""

    def __init__(self, clock: KnownClock, patience: Patience) -> None:
        self._clock, self._patience = clock, patience
        self._stretch, self._since = clock.stretch, patience.now()

    def __call__(self) -> bool:
        """Asked by one thread, every few seconds."""
        stretch = self._clock.stretch
        if stretch.belief is Belief.PROVEN:
            return True
        stepped = abs(stretch.now(0) - self._stretch.now(0)) > LEAST
        self._stretch = stretch
        if stretch.belief is not Belief.BELIEVED or stepped:
            self._since = self._patience.now()
        return stretch.belief is Belief.BELIEVED and (self._patience.now() - self._since) * 1000 >= PROVEN_AFTER


def shipping(
    store: Store, database: Database | None, *, clock: Clock, patience: Patience, beat: Callable[[], None]
) -> Shipping:
    """What sends the store's readings on, not yet begun."""
    if database is None:
        return Shipping(None, patience, clock.now)
    from monitor.store.influx import InfluxStore
    from monitor.store.influx_ship import Shipper

    if not isinstance(store, InfluxStore):
        return Shipping(None, patience, clock.now)
    may = Certain(clock, patience) if isinstance(clock, KnownClock) else lambda: True

    return Shipping(
        Shipper(store, here=database.here, now=clock.now, may=may, patience=patience, beat=beat),
        patience,
        clock.now,
    )
