"""What to do when the watch itself is the trouble: a probe that cannot be trusted, a daemon that is not well."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from monitor import words
from monitor.advice import cautions
from monitor.advice.acts import Act, Order
from monitor.advice.daytime import before_the_night
from monitor.advice.scene import Scene, harms
from monitor.alarms.cycle import Alarm
from monitor.checks.findings import Condition, Kind
from monitor.readings import Millis
from monitor.rules import Bin, Zone

PROBE_TROUBLES: Mapping[Condition, str] = {
    Condition.SILENT: "battery, cable, place",
    Condition.FAULTY: "plug, cable, damp in it",
    Condition.STUCK: "it never changes",
    Condition.DRIFTING: "ice water tells which",
    Condition.UNWATCHED: "no good probe",
}
"""What to look for at a probe."""


@dataclass(frozen=True, slots=True)
class _Step:
    """What to do about one condition of the daemon."""

    words: str
    more: tuple[str, ...]
    urgent: bool = False
    at_harm: str = ""
    """The words when it has come to that no bin is watched."""


SYSTEM_TROUBLES: Mapping[Condition, _Step] = {
    Condition.BROKER_LOST: _Step(
        "see that the broker and the network are up",
        (
            "Without the broker no reading arrives and no bin is watched.",
            "`vermistat now` says what is still fresh.",
        ),
    ),
    Condition.STORE_FAILING: _Step(
        "see to the disk: nothing can be kept",
        ("Is the disk full, or the card dying? Copy the store away before anything else.",),
        urgent=True,
        at_harm="see to the disk: no bin is watched",
    ),
    Condition.NOTICES_FAILING: _Step(
        "see to the channel that takes no notices",
        ("What could not be sent waits and is tried again; the log says what and why.",),
    ),
    Condition.CLOCK_UNSURE: _Step(
        "set the clock, or let it reach the network",
        ("Until then times are a guess; harm is still told at once.",),
    ),
    Condition.STEP_FAILED: _Step(
        "read the log: a bin could not be judged",
        ("The other bins are judged as ever; that one is not.",),
    ),
    Condition.ROUND_MISSED: _Step(
        "read the log: a round came late",
        ("Is the machine too busy, or was it asleep?",),
    ),
    Condition.DATABASE_LOST: _Step(
        "see to the database that takes no readings",
        ("Nothing is lost: readings wait here and go on when it answers. Every bin is watched as ever.",),
    ),
    Condition.BACKUP_FAILING: _Step(
        "see to the disk that takes the backups",
        ("Every bin is watched as ever; but were the card to die now, all since the last backup would be gone.",),
    ),
    Condition.SETTINGS_REFUSED: _Step(
        "mend the settings, or take the change back",
        ("Until then the earlier settings stay in force as a whole; `vermistat check` tells every mistake.",),
    ),
}
"""What to look at when the daemon itself is not well."""


def probe_orders(scene: Scene) -> list[Order]:
    """One order for the doubtful probes of each bin, and one for each of the place's own."""
    groups: dict[str, list[Alarm]] = {}
    for alarm in scene.alarms:
        if alarm.key.condition in PROBE_TROUBLES:
            groups.setdefault(_group(scene, alarm), []).append(alarm)
    return [_look_at_probes(scene, group, alarms) for group, alarms in groups.items()]


def system_orders(scene: Scene) -> list[Order]:
    """One order for each condition of the daemon."""
    return [
        _see_to(scene, alarm, SYSTEM_TROUBLES[alarm.key.condition])
        for alarm in scene.alarms
        if alarm.key.condition in SYSTEM_TROUBLES
    ]


def left_over(scene: Scene, orders: Iterable[Order]) -> list[Order]:
    """A look for every alarm that nothing else has answered: none is passed over."""
    answered = {number for order in orders for number in order.alarms}
    return [_just_look(scene, alarm) for alarm in scene.alarms if alarm.number not in answered]


def owner(scene: Scene, probe: str) -> tuple[Bin, Zone] | None:
    """The bin and zone a probe belongs to, None for the place's own."""
    return next(
        (
            (bed, zone)
            for bed in scene.rules.bins.values()
            for zone in bed.zones
            if any(p.id == probe and p.stands(scene.at) for p in zone.probes)
        ),
        None,
    )


def _group(scene: Scene, alarm: Alarm) -> str:
    """The bin whose probes are looked at together, or the probe itself."""
    subject = alarm.key.subject
    if subject.kind in (Kind.BIN, Kind.ZONE):
        return subject.bed
    owned = owner(scene, subject.id)
    return owned[0].id if owned else subject.id


def _look_at_probes(scene: Scene, group: str, alarms: Sequence[Alarm]) -> Order:
    bed = scene.rules.bins.get(group)
    ranked = sorted(alarms, key=lambda a: (a.key.subject.kind is not Kind.PROBE, a.number))
    probes = [a for a in ranked if a.key.subject.kind is Kind.PROBE]
    first = ranked[0]
    target = first.key.subject.id if len(probes) == 1 else group
    return Order(
        act=Act.PROBE_CHECK,
        target=target,
        words=_probe_words(probes, first),
        why=_probe_why(scene, bed, ranked),
        cautions=cautions.that_belong(
            Act.PROBE_CHECK,
            mat=bool(bed and scene.rules.mats_of(bed.id)),
            last=cautions.ICE_WATER if any(a.key.condition is Condition.DRIFTING for a in ranked) else (),
        ),
        more=tuple(line for a in ranked for line in _told(scene, a)),
        by=before_the_night(first.raised_at, scene.tz),
        alarms=tuple(a.number for a in ranked),
        urgent=harms(ranked),
        bins=(bed.id,) if bed else (),
        fact=_probe_fact(scene, probes, first),
    )


def _probe_words(probes: Sequence[Alarm], first: Alarm) -> str:
    if len(probes) == 1:
        name = first.key.subject.id
        return f"look at {name if len(name) <= 24 else 'its probe'}: {PROBE_TROUBLES[first.key.condition]}"
    if not probes:
        return "look at its probes: no good one speaks for it"
    return f"look at {len(probes)} of its probes: battery, cable, place"


def _probe_fact(scene: Scene, probes: Sequence[Alarm], first: Alarm) -> str:
    since = words.clock_time(first.since, scene.tz, scene.at)
    return f"{first.key.condition} since {since}" if len(probes) == 1 else f"since {since}"


def _probe_why(scene: Scene, bed: Bin | None, alarms: Sequence[Alarm]) -> str:
    said = [_since(scene, a) for a in alarms if a.key.subject.kind is Kind.PROBE][:3]
    said = said or [_since(scene, a) for a in alarms[:3]]
    blind = _unwatched(bed, alarms) if bed else ""
    return "; ".join(filter(None, (*said, blind))) + "."


def _since(scene: Scene, alarm: Alarm) -> str:
    _, _, zone = alarm.key.subject.id.partition(".")
    name = zone if alarm.key.subject.kind is Kind.ZONE else alarm.key.subject.id
    return f"{name} {alarm.key.condition} since {words.clock_time(alarm.since, scene.tz, scene.at)}"


def _unwatched(bed: Bin, alarms: Sequence[Alarm]) -> str:
    """What of a bin nobody watches while these probes are not to be trusted."""
    lost = {a.key.subject.id for a in alarms}
    if bed.id in lost:
        return f"meanwhile nobody watches {bed.name}"
    blind = [zone.id for zone in bed.zones if f"{bed.id}.{zone.id}" in lost]
    blind += [what for zone in bed.zones if zone.id not in blind for what in _blind_to(zone, lost)]
    if not blind:
        return f"{bed.name} is still watched by its other probes"
    return f"meanwhile nobody watches {bed.name} {words.joined(blind)}"


def _blind_to(zone: Zone, lost: set[str]) -> list[str]:
    """The quantities of a zone whose every probe is lost."""
    kinds = dict.fromkeys(p.measures for p in zone.probes)
    gone = [m for m in kinds if all(p.id in lost for p in zone.probes if p.measures is m)]
    return [zone.id] if len(gone) == len(kinds) and gone else [f"{zone.id} {m}" for m in gone]


def _told(scene: Scene, alarm: Alarm) -> tuple[str, ...]:
    return (
        (f"{alarm.key.subject.id}: {alarm.evidence.arithmetic.rstrip('.')}.",) if alarm.evidence.arithmetic else ()
    )


def _see_to(scene: Scene, alarm: Alarm, step: _Step) -> Order:
    return Order(
        act=Act.SYSTEM_CHECK,
        target=str(alarm.key.condition),
        words=step.at_harm if step.at_harm and harms([alarm]) else step.words,
        why=_why(scene, alarm),
        more=step.more,
        by=scene.at if step.urgent or harms([alarm]) else _soon(scene, alarm),
        alarms=(alarm.number,),
        urgent=step.urgent or harms([alarm]),
        fact=f"since {words.clock_time(alarm.since, scene.tz, scene.at)}",
    )


def _just_look(scene: Scene, alarm: Alarm) -> Order:
    subject = alarm.key.subject
    bed = subject.bed if subject.kind in (Kind.BIN, Kind.ZONE) else ""
    return Order(
        act=Act.LOOK,
        target=subject.id or str(alarm.key.condition),
        words=f"look: {alarm.key.condition}",
        why=_why(scene, alarm),
        cautions=cautions.that_belong(Act.LOOK, mat=bool(scene.rules.mats)),
        by=_soon(scene, alarm),
        alarms=(alarm.number,),
        urgent=harms([alarm]),
        bins=(bed,) if bed in scene.rules.bins else (),
        fact=str(alarm.key.condition),
    )


def _why(scene: Scene, alarm: Alarm) -> str:
    text = alarm.evidence.arithmetic.rstrip(".") or str(alarm.key.condition)
    since = words.clock_time(alarm.since, scene.tz, scene.at)
    return f"{text[:1].upper()}{text[1:]}; since {since}."


def _soon(scene: Scene, alarm: Alarm) -> Millis:
    return before_the_night(alarm.raised_at, scene.tz)
