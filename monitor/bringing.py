"""History that came from elsewhere, into the store: kept like any reading, judged by nobody, told to nobody."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from monitor.errors import RequestError
from monitor.intake.quality import Trust
from monitor.readings import Millis, Reading
from monitor.rules import Probe
from monitor.store.promises import Batch, Round, RoundRow, Store

AT_ONCE = 5000


@dataclass(frozen=True, slots=True)
class Brought:
    """What became of it: new readings, those that were here already, and those for whose time another value stands."""

    new: int = 0
    same: int = 0
    other: int = 0


def bring(store: Store, readings: Sequence[Reading], *, now: Millis) -> Brought:
    """Keep readings, of one time the first. Raises RequestError, having kept nothing, while readings wait for a round: they
    would be passed over with the history.
    """
    last = store.load().last_round
    if store.last_arrival() > (last.upto_arrival if last else 0):
        raise RequestError(
            "readings wait here for a round of the daemon: let `vermistat run` take them up first, and end it"
        )
    brought = Brought()
    for start in range(0, len(readings), AT_ONCE):
        kept = store.keep(Batch(readings[start : start + AT_ONCE]))
        brought = Brought(brought.new + kept.new, brought.same + kept.same, brought.other + kept.other)
    number, settings = (last.number, last.settings) if last else (0, "1")
    store.commit(Round(RoundRow(number + 1, now, settings, store.last_arrival())))
    return brought


def weighed(readings: Sequence[Reading], probes: Mapping[str, Probe]) -> Iterator[Reading]:
    """Another logger's readings with the trust that each would have got on the day it was taken, in order of time."""
    trust = Trust()
    for one in sorted(readings, key=lambda r: (r.at, r.probe)):
        quality = trust.judge(probes[one.probe], one.value, at=one.at, received_at=one.at)
        yield replace(one, quality=quality)
