"""One decision for one place, out of everything that stands there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from monitor.advice.acts import IN_TURN, Advice, Order
from monitor.advice.foreseen import foreseen_orders
from monitor.advice.heat import heat_orders
from monitor.advice.plugs import plugs as at_every_plug
from monitor.advice.power import power_orders
from monitor.advice.present import Drawn, Present
from monitor.advice.scene import Scene, joined_orders
from monitor.advice.watch import left_over, probe_orders, system_orders
from monitor.advice.water import water_orders
from monitor.alarms.cycle import Alarm
from monitor.bed.room import Room
from monitor.checks.ahead import Nights
from monitor.diary import Entry, in_force
from monitor.masses import mass_of, rules_now
from monitor.readings import HOUR, Millis
from monitor.rules import Rules

STANDS_FOR: Millis = HOUR
"""How long advice may be followed without being made anew."""


def decide(
    place: str,
    *,
    rules: Rules,
    alarms: Sequence[Alarm],
    zones: Mapping[str, Present],
    at: Millis,
    diary: Sequence[Entry] = (),
    plugs: Mapping[str, Drawn] | None = None,
    nights: Nights | None = None,
    rooms: Mapping[str, Room] | None = None,
) -> Advice:
    """What to do in a place (`""`: about the daemon), most urgent first.

    `alarms` may hold more than the place's: those of other places, suppressed ones and those that are over count
    for nothing. `zones` says by `bin.zone` what is known of every zone of the bins in alarm and of
    those on the same plugs, `diary` what people did, `plugs` what mats draw, `nights` by bin
    and zone what is told ahead, `rooms` the air of places. Every alarm is answered by at least one
    order; no two orders undo each other on one target (`OPPOSITES`).
    """
    standing = tuple(a for a in alarms if a.key.subject.place == place and a.advised)
    scene = _scene(
        place,
        rules,
        standing,
        zones=zones,
        at=at,
        diary=tuple(in_force(diary, at)),
        plugs=plugs or {},
        nights=nights or {},
        rooms=rooms or {},
    )
    orders = joined_orders(_orders(scene))
    orders = [*orders, *left_over(scene, orders)]
    return Advice(place, at, tuple(sorted(orders, key=_turn)), at + STANDS_FOR)


def _scene(
    place: str,
    rules: Rules,
    standing: Sequence[Alarm],
    *,
    zones: Mapping[str, Present],
    at: Millis,
    diary: tuple[Entry, ...],
    plugs: Mapping[str, Drawn],
    nights: Nights,
    rooms: Mapping[str, Room],
) -> Scene:
    """With what lies in the bins now, as far as the diary tells."""
    told = {e.bed for e in diary} & rules.bins.keys()
    every = {bed: mass_of(rules.bins[bed], diary, at=at, tz=rules.site.timezone) for bed in told}
    masses = {bed: mass for bed, mass in every.items() if mass.moved or mass.worms != rules.bins[bed].worms}
    return Scene(
        place=place,
        rules=rules_now(rules, masses),
        zones=zones,
        alarms=tuple(sorted(standing, key=lambda a: a.number)),
        at=at,
        diary=diary,
        masses=masses,
        plugs=plugs,
        nights={f"{bed}.{zone}": told for bed, zones in nights.items() for zone, told in zones.items()},
        rooms=rooms,
    )


def _orders(scene: Scene) -> list[Order]:
    at_plugs = at_every_plug(scene)
    of_beds = [
        order
        for bed in scene.beds()
        for order in (*heat_orders(scene, bed, at_plugs), *water_orders(scene, bed, at_plugs))
    ]
    return [
        *at_plugs.orders,
        *of_beds,
        *foreseen_orders(scene, at_plugs),
        *probe_orders(scene),
        *system_orders(scene),
        *power_orders(scene),
    ]


def _turn(order: Order) -> tuple[bool, int]:
    return not order.urgent, IN_TURN.index(order.act)
