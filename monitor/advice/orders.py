"""One order about one bin, with everything that belongs to it filled in."""

from __future__ import annotations

from collections.abc import Sequence

from monitor.advice import cautions
from monitor.advice.acts import Act, Order
from monitor.advice.cautions import Caution
from monitor.advice.daytime import before_the_night
from monitor.advice.reasons import reason
from monitor.advice.scene import Scene, harms
from monitor.alarms.cycle import Alarm
from monitor.readings import Millis
from monitor.rules import Ability, Bin

_NEEDS = {Act.WATER: Ability.WATER, Act.DAMPEN: Ability.WATER, Act.FEED_LESS: Ability.FEED}


def bed_order(
    scene: Scene,
    act: Act,
    bed: Bin,
    text: str,
    alarms: Sequence[Alarm],
    *,
    also: str = "",
    first: tuple[Caution, ...] = (),
    last: tuple[Caution, ...] = (),
    more: tuple[str, ...] = (),
    by: Millis | None = None,
    urgent: bool | None = None,
    hurries_not: bool = False,
) -> Order:
    """An order about a bin. `alarms` most urgent first: the first says why. `also` is a clause behind it.

    `first` and `last` are cautions besides those of the act. Without `by` it is for now in harm, and otherwise for
    before the night; with `hurries_not` it has no time.
    """
    because = reason(scene, alarms[0], bed)
    others = tuple(reason(scene, alarm, bed).why for alarm in alarms[1:])
    hurries = harms(alarms) if urgent is None else urgent
    soon = by or (scene.at if hurries else before_the_night(alarms[0].raised_at, scene.tz))
    return Order(
        act=act,
        target=bed.id,
        words=text,
        why=f"{because.why.removesuffix('.')}; {also.removesuffix('.')}." if also else because.why,
        cautions=cautions.that_belong(act, mat=bool(scene.rules.mats_of(bed.id)), first=first, last=last),
        more=(*more, *because.more, *others),
        needs=_NEEDS.get(act),
        by=None if hurries_not else soon,
        alarms=tuple(a.number for a in alarms),
        urgent=hurries,
        bins=(bed.id,),
        fact=because.fact,
    )
