"""How much lies in a bin: what the settings say of its start, or what was last weighed, and what the diary tells since."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from monitor.diary import Deed, Entry, in_force
from monitor.readings import SECOND, Millis
from monitor.rules import Bin, Rules

FOOD_STAYS = 0.4
"""kg of bed that a kg of food leaves (proposal). Of 0.2 kg dry matter, 90 % volatile, half of that is degraded
(memory): 0.11 kg dry, which is 0.44 kg of bed at 75 % moisture."""

DENSEST = 700.0
"""kg/m³ of a moist worm bed (common practice: 500 to 700): no vessel holds more."""

_SIGNS: Mapping[Deed, int] = {Deed.BEDDING: 1, Deed.HARVESTED: -1, Deed.WORMS_ADDED: 1, Deed.WORMS_TAKEN: -1}
"""What is put in (1) or taken out (−1) by definition of the deed."""
_WORMS = (Deed.WORMS_ADDED, Deed.WORMS_TAKEN)

COUNTS = frozenset({Deed.FED, Deed.WEIGHED, *_SIGNS})
"""What changes how much lies in a bin. Water does not: it drains and evaporates, and the probe says how wet the bed is."""


@dataclass(frozen=True, slots=True)
class Mass:
    """kg in a bin at a time, and how that came to be.

    `begun` is what it is counted from: the settings' figure, or what was weighed at `weighed_at`. `bedding` is None where that
    is not known, or where more was taken out than there can have been. `unweighed` entries are not counted, because they say no
    kg. `full` is what the vessel holds, where the diary tells of more.
    """

    bedding: float | None
    worms: float | None
    begun: float | None = None
    weighed_at: Millis | None = None
    added: float = 0.0
    food: float = 0.0
    harvested: float = 0.0
    unweighed: int = 0
    full: float | None = None

    @property
    def moved(self) -> bool:
        """Whether the diary makes it another mass than the settings do."""
        return bool(self.weighed_at is not None or self.added or self.food or self.harvested or self.unweighed)


def mass_of(bed: Bin, entries: Iterable[Entry], *, at: Millis, tz: str) -> Mass:
    """What lies in a bin at a time. Entries from before it was `started` do not count; without that date all do."""
    began = _begin(bed, tz)
    mine = [e for e in in_force(entries, at) if e.bed == bed.id and e.deed in COUNTS and e.at >= began]
    weighed = next((e for e in reversed(mine) if e.deed is Deed.WEIGHED and e.amount is not None), None)
    since = mine[mine.index(weighed) + 1 :] if weighed else mine
    begun = weighed.amount if weighed else bed.bedding
    added, harvested, food = _kilos(since, Deed.BEDDING), _kilos(since, Deed.HARVESTED), _kilos(since, Deed.FED)
    bedding = None if begun is None else begun + added + FOOD_STAYS * food - harvested
    full = _full(bed)
    over = bedding is not None and full is not None and bedding > max(full, begun or 0.0)
    return Mass(
        bedding=full if over else bedding if bedding is not None and bedding > 0 else None,
        worms=_worms(bed, mine),
        begun=begun,
        weighed_at=weighed.at if weighed else None,
        added=added,
        food=food,
        harvested=harvested,
        unweighed=sum(
            e.amount is None or e.unit != "kg" for e in since if e.deed in (Deed.BEDDING, Deed.HARVESTED)
        ),
        full=full if over else None,
    )


def rules_now(rules: Rules, masses: Mapping[str, Mass]) -> Rules:
    """The rules with what lies in these bins now instead of what the settings say of their start."""
    changed = {bed: replace(rules.bins[bed], bedding=m.bedding, worms=m.worms) for bed, m in masses.items()}
    return replace(rules, bins={**rules.bins, **changed}) if changed else rules


def _begin(bed: Bin, tz: str) -> Millis:
    if bed.started is None:
        return 0
    midnight = datetime.combine(bed.started, datetime.min.time(), ZoneInfo(tz)).astimezone(UTC)
    return round(midnight.timestamp()) * SECOND


def _kilos(entries: Iterable[Entry], deed: Deed) -> float:
    return sum(e.amount for e in entries if e.deed is deed and e.amount is not None and e.unit == "kg")


def _worms(bed: Bin, entries: Iterable[Entry]) -> float | None:
    if bed.worms is None:
        return None
    kilos = [_SIGNS[e.deed] * e.amount for e in entries if e.deed in _WORMS and e.amount is not None]
    return max(bed.worms + sum(kilos), 0.0)


def _full(bed: Bin) -> float | None:
    floor, depth = bed.vessel.floor, bed.vessel.depth
    return floor * depth * DENSEST if floor and depth else None
