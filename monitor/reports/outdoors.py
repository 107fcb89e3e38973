"""The outdoor forecast that is kept: how old, how far it reaches, what is wrong with it, and whether nights are told by it."""

from __future__ import annotations

import json

from monitor import words
from monitor.bed.outside import KIND, TOO_OLD, TROUBLE, Outside
from monitor.bed.room import AHEAD
from monitor.hourly import of_store
from monitor.readings import HOUR
from monitor.reports.bed_shapes import OutdoorsShape
from monitor.reports.saying import Saying, instant
from monitor.store.promises import Store

WITHOUT = "nights are told by each room's own history"


def outdoors_facts(store: Store, saying: Saying) -> OutdoorsShape | None:
    """What is kept, and what came of asking; None where no outdoor forecast was ever asked for. Raises StoreError."""
    trouble = json.loads(store.standing(KIND).get(TROUBLE, '{"what": ""}'))["what"]
    kept = of_store(store)
    if kept is None and not trouble:
        return None
    hour = saying.at // HOUR * HOUR
    used = kept is not None and kept.next_day(hour) is not None
    return {
        "received": instant(kept.received) if kept else None,
        "until": instant(kept.until) if kept else None,
        "used": used,
        "trouble": trouble,
        "sentence": _sentence(kept, used, trouble.rstrip("."), saying),
    }


def _sentence(kept: Outside | None, used: bool, trouble: str, saying: Saying) -> str:
    failing = f" None comes now: {trouble}." if trouble else ""
    if kept is None:
        return f"There is no outdoor forecast: {trouble}. {WITHOUT.capitalize()}."
    age = words.duration(max(0, saying.at - kept.received))
    said = f"The outdoor forecast came {saying.when(kept.received)}, {age} ago, and reaches to {saying.clock(kept.until)}"
    if used:
        return f"{said}.{failing}"
    why = "hours are missing in it"
    if saying.at - kept.received > TOO_OLD:
        why = "too old by now"
    elif kept.until < saying.at // HOUR * HOUR + AHEAD * HOUR:
        why = "less than the next 24 hours"
    return f"{said}: {why}, so {WITHOUT}.{failing}"
