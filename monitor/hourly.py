"""What each whole hour adds to what beds have learned, and what is told of it: a few zones each round, all within the hour.

Reads the store and decides nothing. What it has made of an hour is kept with its round or not at all: `keep` is called when the
round's transaction is done, and until then the next round makes the same of it again.
"""

from __future__ import annotations

import logging
import statistics
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from monitor.bed import hours as whole_hours
from monitor.bed import kept, living
from monitor.bed.hours import FLOOR, hour_of, thinned
from monitor.bed.living import ANEW, NO_DRIVE, Bed, Drive, Told
from monitor.bed.outside import KIND, TOLD, Outside, outside_of
from monitor.bed.room import Room, heard
from monitor.checks.values import percent
from monitor.diary import Entry, in_force, switches
from monitor.errors import BadValue, StoreError
from monitor.gathering import EVER
from monitor.masses import mass_of
from monitor.readings import DAY, HOUR, MINUTE, Measures, Millis
from monitor.rules import Bin, Mat, Probe, Rules, Zone, plug_id
from monitor.science import series
from monitor.store.promises import Standing, Store

log = logging.getLogger(__name__)

GRACE: Millis = 3 * MINUTE
"""How long an hour is over before it is taken up: readings take a while (proposal)."""
BACK: Millis = 2 * HOUR + 45 * MINUTE
"""How far before its end an hour needs readings."""
AT_ONCE = 50
"""Zones that one round looks at at least; of more, as many as are done within a quarter of an hour."""
ROUNDS_OF_AN_HOUR = 15
SILENT = 0.1
"""What a zone without a reading costs of that."""
LEARNS_FROM: Millis = 45 * DAY
"""How much of what is kept already is learned from when nothing was learned yet: as long as a room is remembered."""
ASKED = 24
"""Probes that are asked where their past begins."""


@dataclass(frozen=True, slots=True)
class Hours:
    """What one round makes of its hours: what is told of zones (bin → zone → told), and what is to be kept."""

    told: Mapping[str, Mapping[str, Told]] = field(default_factory=dict)
    documents: tuple[Standing, ...] = ()
    beds: Mapping[str, Bed] = field(default_factory=dict)
    rooms: Mapping[str, Room] = field(default_factory=dict)
    whole: Mapping[str, Millis] = field(default_factory=dict)
    """Key → when it was last written whole."""
    at: tuple[Millis, int] | None = None
    """The hour that was begun, and how many groups of bins of it are done."""


NOTHING = Hours()


def documents_of(store: Store, zones: Collection[str] | None = None) -> dict[str, Mapping[str, str]]:
    """All that is kept of what beds have learned, by kind; of `zones` (`fig.west`) alone, and every room. Raises StoreError."""
    under = None if zones is None else [kept.bed_key(zone) for zone in zones]
    beds = {kind: store.standing(kind, under) for kind in (kept.BED, kept.WATCH, kept.BED_HOUR)}
    return {**beds, **{kind: store.standing(kind) for kind in (kept.ROOM, kept.ROOM_HOUR)}}


def beds_in(documents: kept.Documents) -> dict[str, tuple[Bed, Millis | None]]:
    """Every zone that has learned, and when it was last kept whole. One that cannot be read is left out."""
    found = {}
    for key, body in documents[kept.BED].items():
        hours = kept.hours_under(documents[kept.BED_HOUR], key)
        try:
            found[key.partition(":")[2]] = kept.bed_of(body, documents[kept.WATCH].get(key), hours)
        except BadValue as wrong:
            log.warning("what %s has learned cannot be read, and is learned anew: %s", key, wrong)
    return found


def rooms_in(documents: kept.Documents) -> dict[str, tuple[Room, Millis | None]]:
    """The air of every place, and when it was last kept whole."""
    found = {}
    for key, body in documents[kept.ROOM].items():
        try:
            hours = kept.hours_under(documents[kept.ROOM_HOUR], key)
            found[key.partition(":")[2]] = kept.room_from(body, hours)
        except BadValue as wrong:
            log.warning("what is kept of the air of %s cannot be read, and is learned anew: %s", key, wrong)
    return found


def of_store(store: Store) -> Outside | None:
    """The outdoor forecast that is kept, None where none is or it cannot be read. Raises StoreError."""
    body = store.standing(KIND).get(TOLD)
    if body is None:
        return None
    try:
        return outside_of(body)
    except BadValue as wrong:
        log.warning("the outdoor forecast that is kept cannot be read: %s", wrong)
        return None


class Hourly:
    """Remembers what every zone has learned. Not for more than one thread."""

    _at: tuple[Millis, int] | None
    """The hour at work, and how many groups of bins of it are done."""

    def __init__(self, store: Store, rules: Rules, *, zones: Collection[str] | None = None) -> None:
        self._store = store
        self._use(rules)
        self.load(zones)

    def use(self, rules: Rules, *, anew: bool = False) -> None:
        """Other settings from the next round on; with `anew` ids have changed in the store."""
        self._use(rules)
        if anew:
            self.load()
        else:
            self._at = (self._at[0], 0) if self._at else None

    def _use(self, rules: Rules) -> None:
        self._rules = rules
        self._groups = living.together(rules)
        self._zones = sum(len(living.zones_of(bed)) for bed in rules.bins.values())
        self._probes = rules.sources()

    def load(self, zones: Collection[str] | None = None) -> None:
        """Take up what is kept; of `zones` alone for whoever shows no others. Raises StoreError."""
        documents = documents_of(self._store, zones)
        beds, rooms = beds_in(documents), rooms_in(documents)
        self._beds = {zone: bed for zone, (bed, _) in beds.items()}
        self._rooms = {place: room for place, (room, _) in rooms.items()}
        every = [(kept.bed_key(z), at) for z, (_, at) in beds.items()]
        every += [(kept.room_key(p), at) for p, (_, at) in rooms.items()]
        self._whole = {key: at for key, at in every if at is not None}
        newest = [room.newest for room in self._rooms.values() if room.newest is not None]
        newest += [bed.learned.past.newest for bed in self._beds.values() if bed.learned.past.newest is not None]
        self._at = (max(newest), 0) if newest else None

    def due(self, now: Millis, upto: int, diary: Sequence[Entry]) -> Hours:
        """What follows from the hours that are over by now, of readings up to the arrival `upto`. A store that cannot tell
        is asked again at the next round.
        """
        newest = (now - GRACE) // HOUR * HOUR
        if not self._zones or (self._at is not None and self._at >= (newest, len(self._groups))):
            return NOTHING
        try:
            if self._at is None:
                self._at = (self._begins(now) // HOUR * HOUR, 0)
            return self._work(newest, upto, diary, now)
        except StoreError as error:
            log.warning("no bed learns now: %s", error)
            return NOTHING

    def rooms(self, hours: Hours) -> Mapping[str, Room]:
        """The air of every place as it is known with these hours, kept or not."""
        return {**self._rooms, **hours.rooms}

    def keep(self, hours: Hours) -> None:
        """The round with these hours is kept."""
        self._beds |= hours.beds
        self._rooms |= hours.rooms
        self._whole |= hours.whole
        self._at = hours.at or self._at

    def _begins(self, now: Millis) -> Millis:
        """The first hour that anything is kept of, at most as far back as a room is remembered."""
        days = [now - LEARNS_FROM + n * DAY for n in range(LEARNS_FROM // DAY + 1)]
        probes = [p.id for p in self._probes.values() if p.measures is Measures.TEMPERATURE][:ASKED]
        firsts = [spans[0].start for probe in probes if (spans := self._store.spans(probe, days))]
        return max(0, min(firsts, default=now - HOUR) - HOUR)

    def _work(self, newest: Millis, upto: int, diary: Sequence[Entry], now: Millis) -> Hours:
        work = _Work(self, upto, diary, now)
        at, place = self._at or (newest, 0)
        left = float(max(AT_ONCE, -(-self._zones // ROUNDS_OF_AN_HOUR)))
        while left > 0:
            if place == len(self._groups):
                if at >= newest:
                    break
                at, place = at + HOUR, 0
            if place == 0:
                work.rooms_at(at)
            left -= work.beds_at(self._groups[place], at, tell=at == newest)
            place += 1
        return work.done((at, place))

    @property
    def newest(self) -> Millis | None:
        """The hour at work."""
        return self._at[0] if self._at else None

    # what `_Work` reads

    def bed(self, zone: str) -> Bed | None:
        """What a zone has learned."""
        return self._beds.get(zone)

    def room(self, place: str) -> Room:
        """The air of a place."""
        return self._rooms.get(place) or Room()

    def whole(self, key: str) -> Millis | None:
        """When something was last written whole."""
        return self._whole.get(key)

    @property
    def store(self) -> Store:
        """Where everything is kept."""
        return self._store

    @property
    def rules(self) -> Rules:
        """Those in force."""
        return self._rules

    def read(self, probe: Probe, start: Millis, end: Millis, upto: int) -> list[tuple[Millis, float]]:
        """The trusted readings of a probe while it stood where it does, as they are judged. Raises StoreError."""
        return [
            (r.at, value)
            for r in self._store.window(probe.id, start, end + 1)
            if r.arrival <= upto and r.quality.trusted and probe.stands(r.at)
            if (value := percent(probe, r.value)) is not None
        ]


def zone_names(beds: Iterable[Bin]) -> list[str]:
    """Every zone of these bins that can learn, as `fig.west`."""
    return [f"{bed.id}.{zone.id}" for bed in beds for zone in living.zones_of(bed)]


def shown(store: Store, rules: Rules, now: Millis, diary: Sequence[Entry]) -> Mapping[str, Mapping[str, Told]]:
    """What is told of every zone as of the newest whole hour that is kept, for whoever only looks. Raises StoreError."""
    hourly = Hourly(store, rules, zones=zone_names(rules.bins.values()))
    newest = hourly.newest
    if newest is None:
        return {}
    work = _Work(hourly, EVER, diary, now)
    for beds in living.together(rules):
        work.beds_at(beds, newest, tell=True)
    return work.done((newest, 0)).told


class _Work:
    """One round's hours at work."""

    def __init__(self, hourly: Hourly, upto: int, diary: Sequence[Entry], now: Millis) -> None:
        self._of, self._upto, self._now = hourly, upto, now
        self._diary = diary
        self._in_force = in_force(diary, now)
        self._beds: dict[str, Bed] = {}
        self._rooms: dict[str, Room] = {}
        self._whole: dict[str, Millis] = {}
        self._documents: dict[tuple[str, str], str] = {}
        self._told: dict[str, dict[str, Told]] = {}
        self._outside = of_store(hourly.store)

    def done(self, at: tuple[Millis, int]) -> Hours:
        """All of it."""
        documents = tuple(Standing(kind, key, body) for (kind, key), body in self._documents.items())
        return Hours(self._told, documents, self._beds, self._rooms, self._whole, at)

    def rooms_at(self, at: Millis) -> None:
        """The air of every place in the hour that ended at `at`."""
        for place in self._of.rules.places.values():
            room = self._room(place.id)
            if room.newest is not None and at <= room.newest:
                continue
            probes = [p for p in place.probes if p.measures is Measures.TEMPERATURE]
            air = self._air(probes, at)
            outdoors = self._outside.mean(at - HOUR, at) if self._outside else None
            after = self._rooms[place.id] = heard(room, at, air, outdoors=outdoors)
            if air is not None:
                key = kept.room_key(place.id)
                whole = self._is_whole(key, at)
                self._write(kept.room_documents(place.id, after, kept.Heard(at, air, outdoors), whole=whole))

    def beds_at(self, beds: Sequence[str], at: Millis, *, tell: bool) -> float:
        """The zones of a group of bins in that hour; what that cost."""
        cost = 0.0
        told: dict[tuple[str, str], Told] = {}
        for bed, zone in living.in_turn(beds, self._of.rules):
            one = self._zone_at(bed, zone, at, told, tell=tell)
            cost += SILENT if one is None else 1.0
            if one is not None:
                told[bed, zone.id] = one
                if tell:
                    self._told.setdefault(bed, {})[zone.id] = one
        return cost

    def _zone_at(
        self, bed: str, zone: Zone, at: Millis, others: Mapping[tuple[str, str], Told], *, tell: bool
    ) -> Told | None:
        name, rules = f"{bed}.{zone.id}", self._of.rules
        known = self._beds.get(name) or self._of.bed(name)
        newest = known.learned.past.newest if known else None
        if known is not None and newest is not None and at <= newest:
            return self._once_more(known, bed, zone, at, others) if tell and at == newest else None
        probes = [p for p in zone.probes if p.measures is Measures.TEMPERATURE]
        read = [one for p in probes if (one := thinned(self._of.read(p, at - BACK, at, self._upto)))]
        hour = hour_of(at, read, (), duty=None) if read else None
        if hour is None:
            return None
        mats = [mat for mat in rules.mats.values() if (bed, zone.id) in mat.warms]
        drive = self._drive(mats, bed, zone, at, others)
        room = self._room(rules.bins[bed].place)
        hour = replace(hour, air_c=room.past[-1] if room.newest == at and room.past else None, duty=drive.duty)
        why = living.changes(self._since(newest, at), name, mats) if newest is not None else ()
        watts = self._watts(mats)
        if known is None or ANEW in why:
            before, why = self._begun(bed, watts, at - HOUR), ()
        elif known.learned.zone.warmed != (watts is not None):
            before = living.as_warmed(known, self._begun(bed, watts, at), at)
        else:
            before = known
        after = living.took_up(before, hour, why)
        limits = living.edges(living.limits_of(rules.bins[bed], zone))
        told = living.tell(
            after, room, hour, limits=limits, drive=drive, outdoor=self._outdoor(at), came=self._came(at)
        )
        self._beds[name] = told.bed
        whole = self._is_whole(kept.bed_key(name), at, anyhow=before is not known)
        self._write(kept.bed_documents(name, told.bed, living.noted(told, why), whole=whole))
        return told

    def _once_more(
        self, known: Bed, bed: str, zone: Zone, at: Millis, others: Mapping[tuple[str, str], Told]
    ) -> Told | None:
        """What was told of an hour that is taken up already, as after a restart; nothing is noted of it."""
        if not known.learned.zone.recent:
            return None
        rules = self._of.rules
        mats = [mat for mat in rules.mats.values() if (bed, zone.id) in mat.warms]
        told = living.tell(
            known,
            self._room(rules.bins[bed].place),
            known.learned.zone.recent[-1],
            limits=living.edges(living.limits_of(rules.bins[bed], zone)),
            drive=self._drive(mats, bed, zone, at, others),
            outdoor=self._outdoor(at),
            came=self._came(at),
        )
        return replace(told, bed=known)

    def _outdoor(self, at: Millis) -> tuple[float, ...] | None:
        """The forecast that holds for an hour's end, if any does."""
        return self._outside.next_day(at) if self._outside else None

    def _came(self, at: Millis) -> Millis | None:
        """When the newest forecast came that an hour's end could have been told by."""
        came = self._outside.received if self._outside else None
        return None if came is None or came >= at + HOUR else came

    def _watts(self, mats: Sequence[Mat]) -> float | None:
        """What mats give to one of the bins on them; None where nothing ever tells that they are on."""
        if not mats or not all(living.is_known(mat, self._switches(mat)) for mat in mats):
            return None
        return sum((mat.power or 0.0) / len({bed for bed, _ in mat.warms}) for mat in mats)

    def _begun(self, bed: str, watts: float | None, at: Millis) -> Bed:
        rules = self._of.rules
        mass = mass_of(rules.bins[bed], self._in_force, at=at, tz=rules.site.timezone).bedding
        return living.begin(rules.bins[bed], at, watts=watts, mass=mass)

    def _drive(
        self, mats: Sequence[Mat], bed: str, zone: Zone, at: Millis, others: Mapping[tuple[str, str], Told]
    ) -> Drive:
        if not mats:
            return NO_DRIVE
        duties = [self._duty(mat, at) for mat in mats]
        duty = whole_hours.together([(d, mat.power) for (d, _), mat in zip(duties, mats, strict=True)])
        control = living.control_of(mats[0], self._of.rules)
        other = others.get(control) if control is not None and control != (bed, zone.id) else None
        tz, followed = self._of.rules.site.timezone, other.forecast if other else None
        plan = living.plan_of(mats[0], duty, at=at, tz=tz, followed=followed)
        return Drive(duty, duties[0][1], plan)

    def _duty(self, mat: Mat, at: Millis) -> tuple[float | None, whole_hours.Known]:
        plug = self._of.rules.plugs().get(plug_id(mat.id))
        read = self._of.read(plug, at - HOUR - whole_hours.HOLDS, at, self._upto) if plug else []
        by_timer = living.timed(mat, at - HOUR, self._of.rules.site.timezone)
        if by_timer is not None and not read:
            return by_timer.duties[0][0], whole_hours.Known.SETTINGS
        return whole_hours.duty_of(mat, read, self._switches(mat), start=at - HOUR, end=at)

    def _switches(self, mat: Mat) -> list[tuple[Millis, bool]]:
        """What was written of a mat: when, and whether it was switched on."""
        return switches(self._in_force, mat.id)

    def _since(self, newest: Millis, at: Millis) -> Iterator[Entry]:
        """What was written and had happened since a zone's newest hour, up to the end of this one."""
        return (e for e in self._diary if newest < max(e.at, e.written_at) <= at)

    def _air(self, probes: Iterable[Probe], at: Millis) -> float | None:
        found = []
        for probe in probes:
            read = thinned(self._of.read(probe, at - BACK, at, self._upto))
            mean = series.mean(series.without_outliers(read, floor=FLOOR), at - HOUR, at) if read else None
            found += [] if mean is None else [mean]
        return statistics.median(found) if found else None

    def _room(self, place: str) -> Room:
        return self._rooms.get(place) or self._of.room(place)

    def _is_whole(self, key: str, at: Millis, *, anyhow: bool = False) -> bool:
        whole = anyhow or kept.is_whole(key, at, self._whole.get(key) or self._of.whole(key))
        if whole:
            self._whole[key] = at
        return whole

    def _write(self, documents: Iterable[kept.Document]) -> None:
        for one in documents:
            self._documents[one.kind, one.key] = one.body
