"""All that stands in one place at one moment, sorted by bin: what every part of the decision looks at."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from monitor.advice.acts import Act, Order
from monitor.advice.present import UNKNOWN, Drawn, Present
from monitor.alarms.cycle import Alarm
from monitor.bed.living import Told
from monitor.bed.room import Room
from monitor.checks.findings import Condition, Kind
from monitor.diary import SWITCHED, Deed, Entry
from monitor.errors import BadValue
from monitor.masses import Mass
from monitor.readings import Measures, Millis
from monitor.rules import Bin, Bound, Level, Limits, Mat, Role, Rules, Units, Zone
from monitor.science.bands import ColdMeans, Species
from monitor.science.worms import narrowest, species

WATERY = (Condition.WET, Condition.FLOODED)


@dataclass(frozen=True, slots=True)
class Switched:
    """Whether a mat is on, and since when, as far as the diary tells."""

    on: bool
    since: Millis | None


@dataclass(frozen=True, slots=True)
class Scene:
    """One place at one moment. `alarms` are all that stand there, active and unsuppressed."""

    place: str
    rules: Rules
    zones: Mapping[str, Present]
    alarms: tuple[Alarm, ...]
    at: Millis
    diary: tuple[Entry, ...] = ()
    """What still counts of it, by time, none of it ahead of `at`."""
    masses: Mapping[str, Mass] = field(default_factory=dict)
    """Of bins in which the diary makes it another mass than the settings do; `rules` has what lies in them now."""
    plugs: Mapping[str, Drawn] = field(default_factory=dict)
    """What the mats' plugs say, by mat."""
    nights: Mapping[str, Told] = field(default_factory=dict)
    """What is told ahead, by `bin.zone`."""
    rooms: Mapping[str, Room] = field(default_factory=dict)
    """The air of places, as far as it is known, by place."""

    @property
    def units(self) -> Units:
        """What the keeper reads."""
        return self.rules.site.units

    @property
    def tz(self) -> str:
        """The keeper's time zone."""
        return self.rules.site.timezone

    def present(self, bed: str, zone: str) -> Present:
        """What is known of a zone."""
        return self.zones.get(f"{bed}.{zone}", UNKNOWN)

    def of(self, bed: Bin, *conditions: Condition) -> tuple[Alarm, ...]:
        """The alarms of a bin and its zones with one of these conditions, harm first."""
        mine = [
            a
            for a in self.alarms
            if a.key.condition in conditions
            and a.key.subject.kind in (Kind.BIN, Kind.ZONE)
            and a.key.subject.bed == bed.id
        ]
        return tuple(sorted(mine, key=lambda a: (a.level is not Level.HARM, a.number)))

    def beds(self) -> Iterator[Bin]:
        """The bins of this place that have alarms of their own or of a zone, in the order of the settings."""
        named = {a.key.subject.bed for a in self.alarms if a.key.subject.kind in (Kind.BIN, Kind.ZONE)}
        return (bed for bed in self.rules.bins.values() if bed.id in named)

    def temperatures(self, bed: Bin, *, roles: Iterable[Role] = tuple(Role)) -> dict[str, float]:
        """What the zones of a bin measure, °C, by zone."""
        wanted = set(roles)
        known = {z.id: self.present(bed.id, z.id).temperature for z in bed.zones if z.role in wanted}
        return {zone: value for zone, value in known.items() if value is not None}

    def bed_temperature(self, bed: Bin) -> float | None:
        """The mean of what is known of its living zones, °C; of all zones when nothing is known of those."""
        known = self.temperatures(bed, roles=(Role.LIVING,)) or self.temperatures(bed)
        return sum(known.values()) / len(known) if known else None

    def air(self, bed: Bin) -> Present:
        """The air a bin stands in, as far as it is known (the fields `air` and `humidity`)."""
        known = [self.present(bed.id, z.id) for z in bed.zones]
        return next((p for p in known if p.air is not None or p.humidity is not None), UNKNOWN)

    def acts_on_cold(self, alarm: Alarm, bed: Bin) -> bool:
        """Whether this cold asks for warmth: always in harm, below comfort only for a worm that needs it."""
        return alarm.level is Level.HARM or self.needs_warmth(bed)

    def needs_warmth(self, bed: Bin) -> bool:
        """Whether what lives in a bin is to be kept in comfort, and does not only eat less in the cold."""
        worm = worm_of(bed)
        return worm is None or worm.cold_means is ColdMeans.ACT

    def cold(self, bed: Bin) -> tuple[Alarm, ...]:
        """The alarms of a bin that ask for warmth."""
        return tuple(a for a in self.of(bed, Condition.COLD) if self.acts_on_cold(a, bed))

    def hot(self, bed: Bin) -> tuple[Alarm, ...]:
        """The alarms of a bin that ask for cooling."""
        return self.of(bed, Condition.HOT)

    def last(self, bed: str, *deeds: Deed) -> Entry | None:
        """The newest entry about a bin, or one of its zones, that tells of one of these."""
        return next((e for e in reversed(self.diary) if e.bed == bed and e.deed in deeds), None)

    def switched(self, mat: Mat) -> Switched | None:
        """Whether a mat is on: by its plug, or by the diary where that is newer or the plug does not say."""
        mine = (e for e in reversed(self.diary) if e.subject == f"mat:{mat.id}")
        entry = next((e for e in mine if e.deed in SWITCHED), None)
        plug = self.plugs.get(mat.id)
        if plug is not None and (entry is None or plug.at >= entry.at):
            since = entry.at if entry is not None and (entry.deed is Deed.MAT_ON) is plug.on else None
            return Switched(plug.on, since)
        return None if entry is None else Switched(entry.deed is Deed.MAT_ON, entry.at)

    def dry(self, bed: Bin) -> tuple[Alarm, ...]:
        """The alarms of a bin that ask for water."""
        return self.of(bed, Condition.DRY)


def zone_of(alarm: Alarm, bed: Bin) -> Zone | None:
    """The zone an alarm is about, None when it is about the whole bin or a zone that is gone."""
    if alarm.key.subject.kind is not Kind.ZONE:
        return None
    wanted = alarm.key.subject.id.partition(".")[2]
    return next((z for z in bed.zones if z.id == wanted), None)


def worm_of(bed: Bin) -> Species | None:
    """What lives in a bin; None when no limits are known for it."""
    try:
        return narrowest([species(key) for key in bed.species])
    except BadValue:
        return None


def limits_of(bed: Bin, zone: Zone | None, measures: Measures) -> Limits:
    """What holds for a zone, or for the bin as a whole."""
    climate = bed.limits if zone is None else zone.limits
    return climate.get(measures) or Limits(None, None)


def hottest_allowed(limits: Limits) -> Bound | None:
    """The lowest of all limits on the hot side."""
    highs = [h.bound for h in limits.harm if not h.below] + ([limits.high] if limits.high else [])
    return min(highs, key=lambda bound: bound.value, default=None)


def harms(alarms: Iterable[Alarm]) -> bool:
    """Whether any of these has reached harm."""
    return any(a.level is Level.HARM for a in alarms)


def named(mat: Mat) -> str:
    """How a mat is called in a short clause: by its id, unless that leaves no room for what to do."""
    return mat.id if len(mat.id) <= 16 else "the mat"


def joined_orders(orders: Iterable[Order]) -> list[Order]:
    """Orders with the same act on the same target made one: the first one's words, everybody's alarms. Looks stay
    apart when they look for different things.
    """
    kept: dict[tuple[str, str, str], Order] = {}
    for order in orders:
        key = (order.act, order.target, order.words if order.act is Act.LOOK else "")
        first = kept.get(key)
        kept[key] = order if first is None else _both(first, order)
    return list(kept.values())


def _both(first: Order, second: Order) -> Order:
    return replace(
        first,
        alarms=tuple(dict.fromkeys((*first.alarms, *second.alarms))),
        bins=tuple(dict.fromkeys((*first.bins, *second.bins))),
        cautions=tuple(dict.fromkeys((*first.cautions, *second.cautions))),
        more=tuple(dict.fromkeys((*first.more, second.why, *second.more))),
        urgent=first.urgent or second.urgent,
        by=_sooner(first.by, second.by),
    )


def _sooner(one: Millis | None, other: Millis | None) -> Millis | None:
    times = [at for at in (one, other) if at is not None]
    return min(times, default=None)
