"""What to do when the power came back: mats and what guards them do not all start again by themselves."""

from __future__ import annotations

from monitor import words
from monitor.advice import cautions
from monitor.advice.acts import Act, Order
from monitor.advice.daytime import before_the_night
from monitor.advice.scene import Scene
from monitor.alarms.cycle import Alarm
from monitor.checks.findings import Condition
from monitor.rules import Ability

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
    mats = list(scene.rules.mats)
    text = alarm.evidence.arithmetic.rstrip(".")
    back = words.clock_time(alarm.since, scene.tz, scene.at)
    return Order(
        act=Act.SYSTEM_CHECK,
        target=str(alarm.key.condition),
        words=_words(mats),
        why=f"{text[:1].upper()}{text[1:]}; power back at {back}.",
        cautions=cautions.that_belong(Act.MAT_CHECK, mat=True, first=(cautions.RCD,)) if mats else (),
        more=(*(MATS if mats else ()), PROBES),
        needs=Ability.MATS if mats else None,
        by=before_the_night(alarm.raised_at, scene.tz),
        alarms=(alarm.number,),
        fact=f"power came back at {back}",
    )


def _words(mats: list[str]) -> str:
    if not mats:
        return "see that every probe is back"
    if len(mats) > NAMED:
        return f"see that all {len(mats)} mats are on again"
    return f"see that {words.joined(mats)} {'is' if len(mats) == 1 else 'are'} on again"
