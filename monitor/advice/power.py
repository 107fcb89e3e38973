"""What to do when the power came back: mats and what guards them do not all start again by themselves."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from monitor import words
from monitor.advice import cautions
from monitor.advice.acts import Act, Order
from monitor.advice.daytime import before_the_night
from monitor.advice.present import Drawn
from monitor.advice.scene import Scene
from monitor.alarms.cycle import Alarm
from monitor.checks.findings import Condition
from monitor.readings import Measures
from monitor.rules import Ability, Bin, Role

BEDS = 4
"""So many beds are told of, those nearest to harm."""
NAMED = 3
"""So many mats are named in the first line."""

MATS = (
    "A thermostat or a timer may have lost its setting, and a residual-current device may have tripped.",
    "This program does not feel a mat: its bed shows within some hours whether it warms again.",
)
PROBES = (
    "A probe that does not speak for its usual silence from now on is told of by itself; until then its silence is"
    " put down to the power."
)


def power_orders(scene: Scene) -> list[Order]:
    """One order when the power came back."""
    return [_look_round(scene, a) for a in scene.alarms if a.key.condition is Condition.POWER_BACK]


def _look_round(scene: Scene, alarm: Alarm) -> Order:
    mats, plugs = list(scene.rules.mats), _spoken(scene, alarm)
    unsure = [mat for mat in mats if mat not in plugs or not plugs[mat].on]
    text = alarm.evidence.arithmetic.rstrip(".")
    back = words.clock_time(alarm.since, scene.tz, scene.at)
    return Order(
        act=Act.SYSTEM_CHECK,
        target=str(alarm.key.condition),
        words=_words(unsure),
        why=f"{text[:1].upper()}{text[1:]}; power back at {back}.",
        cautions=cautions.that_belong(Act.MAT_CHECK, mat=True, first=(cautions.RCD,)) if unsure else (),
        more=(*_plugs(plugs), *_beds(scene), *(MATS if unsure else ()), PROBES),
        needs=Ability.MATS if unsure else None,
        by=before_the_night(alarm.raised_at, scene.tz),
        alarms=(alarm.number,),
        fact=f"power came back at {back}",
    )


def _spoken(scene: Scene, alarm: Alarm) -> dict[str, Drawn]:
    """What plugs have said since the power came back."""
    return {mat: said for mat, said in scene.plugs.items() if said.at >= alarm.since}


def _plugs(plugs: Mapping[str, Drawn]) -> Iterator[str]:
    for mat, said in plugs.items():
        draws = "" if said.watts is None else f", it draws {said.watts:.0f} W"
        held = "" if said.on else "; a thermostat may hold it off"
        yield f"By its plug {mat} is {'on again' if said.on else 'off'}{draws}{held}."


def _beds(scene: Scene) -> Iterator[str]:
    """How far each bed is from harm by cold, the nearest first. How fast it cools nobody has told us."""
    known = [(near, bed) for bed in scene.rules.bins.values() if (near := _apart(scene, bed)) is not None]
    for (apart, zone, value), bed in sorted(known, key=lambda one: one[0][0])[:BEDS]:
        bound = value - apart
        side = words.side(value, bound, scene.units)
        shown = words.temperature(value, scene.units, beside=bound)
        yield f"{bed.name} now: {shown} in {zone}, {side}, which is harm by cold."
    if len(known) > BEDS:
        yield f"{words.amount(len(known) - BEDS, 'further bin')}: `vermistat now` shows all."


def _apart(scene: Scene, bed: Bin) -> tuple[float, str, float] | None:
    """°C of its warmest living zone above the first harm by cold, that zone and its value; None when not known."""
    limits = bed.limits.get(Measures.TEMPERATURE)
    bounds = [harm.bound.value for harm in limits.harm if harm.below] if limits else []
    zones = scene.temperatures(bed, roles=(Role.LIVING,))
    if not bounds or not zones:
        return None
    zone, value = max(zones.items(), key=lambda item: item[1])
    return value - max(bounds), zone, value


def _words(mats: list[str]) -> str:
    if not mats:
        return "see that every probe is back"
    if len(mats) > NAMED:
        return f"see that all {len(mats)} mats are on again"
    return f"see that {words.joined(mats)} {'is' if len(mats) == 1 else 'are'} on again"
