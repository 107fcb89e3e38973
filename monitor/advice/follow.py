"""May a switch that follows us have a mat on? Asked anew in every round, from what stands, never from what was ordered.

An order to switch a mat on goes when the mat is on, waits for damping, never comes where a thermostat holds the mat, and
passes over zones that nobody measures: it is for a person who looks. This is for a switch that does not, so the mat is
off unless everything needed is known, and everything known speaks for it. We are never the only safety: the mat's own
thermostat stays in its line.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from monitor import words
from monitor.advice.plugs import serves, warmed
from monitor.advice.present import Present
from monitor.advice.scene import Scene, hottest_allowed, limits_of
from monitor.alarms.cycle import Alarm
from monitor.checks.findings import Condition, Kind
from monitor.readings import MINUTE, Measures, Millis
from monitor.rules import Bin, Control, Mat, Role, Rules

VALID: Millis = 10 * MINUTE
"""How long what a switch is told holds (proposal): ten rounds, so that a broker may restart meanwhile, and short enough to
harm no bed: 40 W in 35 kg of wet bedding (28 kg of water, 4.18 kJ/kg K) are 0.2 °C in that time."""

MAY_STAND = frozenset({Condition.COLD, Condition.COLD_AHEAD, Condition.MAT_DEAD, Condition.MAT_UNTRIED})
"""What may stand on a mat's bins, zones and probes while it is on. Whatever else does, also in a later version, keeps it off.
A mat that does not heat is told to people: kept off for it, it would stay so for ever, for a mat that is off does not heat.
"""


@dataclass(frozen=True, slots=True)
class Told:
    """What a switch is told of one mat, and why in one sentence. It holds until `valid_until`; after that it is off."""

    mat: str
    on: bool
    why: str
    at: Millis
    valid_until: Millis


@dataclass(frozen=True, slots=True)
class Stands:
    """What stands after a round. `zones` as for advice; `works` are bins that somebody works in, `failed` those whose
    step failed, `doubted` probes whose newest word is not believed. `doubt` says why nothing of this round can be relied
    on, and is empty when it can.
    """

    rules: Rules
    alarms: tuple[Alarm, ...]
    zones: Mapping[str, Present]
    at: Millis
    works: Collection[str] = ()
    failed: Collection[str] = ()
    doubted: Collection[str] = ()
    doubt: str = ""


def followed(stands: Stands) -> list[Told]:
    """What the switches of all mats that may be followed are told."""
    return [told(mat, stands) for mat in stands.rules.mats.values() if mat.follow]


def told(mat: Mat, stands: Stands) -> Told:
    """What one mat's switch is told."""
    against = next(_against(mat, stands), None)
    served = next(_served(mat, stands), None) if against is None else None
    why = against or served or "no alarm by cold stands that it serves."
    return Told(mat.id, served is not None, f"{why[:1].upper()}{why[1:]}", stands.at, stands.at + VALID)


def zones_needed(rules: Rules) -> set[str]:
    """The bins of which `Stands.zones` has to tell."""
    return {bed for mat in rules.mats.values() if mat.follow for bed, _ in mat.warms}


def _scene(stands: Stands, alarms: tuple[Alarm, ...]) -> Scene:
    return Scene("", stands.rules, stands.zones, alarms, stands.at)


def _beds(mat: Mat, rules: Rules) -> list[Bin]:
    return [bed for bed in rules.bins.values() if any(bed.id == b for b, _ in mat.warms)]


def _against(mat: Mat, stands: Stands) -> Iterator[str]:
    """Everything that keeps it off, the weightiest first."""
    if stands.doubt:
        yield stands.doubt
    if not mat.follow or mat.control is not Control.THERMOSTAT:
        yield f"{mat.id} is not to be followed: `follow` and a thermostat of its own are needed."
    for bed in _beds(mat, stands.rules):
        if bed.id in stands.works:
            yield f"somebody works in {bed.name}."
        if bed.id in stands.failed:
            yield f"{bed.name} could not be judged in this round."
    yield from _trouble(mat, stands)
    yield from _unknown(mat, stands)


def _trouble(mat: Mat, stands: Stands) -> Iterator[str]:
    """Whatever stands that is not cold: what is suppressed, shelved or seen as well, for the bed is as it is."""
    zones = warmed(_scene(stands, ()), mat)
    probes = {p.id for _, zone in zones for p in zone.probes}
    beds = {bed.id for bed in _beds(mat, stands.rules)}
    for alarm in stands.alarms:
        kind, id_, _ = alarm.key.subject
        about = {
            Kind.BIN: id_ in beds,
            Kind.ZONE: alarm.key.subject.bed in beds,
            Kind.PROBE: id_ in probes,
            Kind.MAT: id_ == mat.id,
        }
        if alarm.active and about.get(kind, False) and alarm.key.condition not in MAY_STAND:
            yield f"{id_}: {alarm.key.condition} (alarm {alarm.number})."


def _unknown(mat: Mat, stands: Stands) -> Iterator[str]:
    """Zones on it that nobody measures now, that have no limit, or that have reached it."""
    scene = _scene(stands, ())
    zones = warmed(scene, mat)
    if not any(zone.role is Role.AT_THE_MAT for _, zone in zones):
        yield f"nobody measures right above {mat.id}."
    for bed, zone in zones:
        value = scene.present(bed.id, zone.id).temperature
        top = hottest_allowed(limits_of(bed, zone, Measures.TEMPERATURE))
        for probe in (p.id for p in zone.probes if p.id in stands.doubted):
            yield f"what {probe} said last is not believed."
        if value is None:
            yield f"{bed.name} {zone.id} is not measured now."
        elif top is None:
            yield f"nobody says how warm {bed.name} {zone.id} may become."
        elif value >= top.value:
            shown = words.temperature(value, scene.units, beside=top.value)
            yield f"{bed.name} {zone.id} is {shown}, its limit {words.limit(top.value, scene.units)}."


def _served(mat: Mat, stands: Stands) -> Iterator[str]:
    scene = _scene(stands, tuple(a for a in stands.alarms if a.advised))
    beds = _beds(mat, stands.rules)
    for bed in beds:
        for alarm in scene.cold(bed):
            if serves(scene, mat, bed, alarm):
                yield f"{alarm.key.subject.id} is too cold (alarm {alarm.number})."
    for bed in beds:
        for alarm in scene.of(bed, Condition.COLD_AHEAD):
            if serves(scene, mat, bed, alarm):
                yield f"a cold night is told ahead of {alarm.key.subject.id} (alarm {alarm.number})."
