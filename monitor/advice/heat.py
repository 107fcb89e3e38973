"""What to do about a bin that is too cold or too hot, besides its plugs: only what its `can` allows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from monitor import words
from monitor.advice import cautions
from monitor.advice.acts import Act, Order
from monitor.advice.daytime import EVENING, next_of
from monitor.advice.orders import bed_order
from monitor.advice.plugs import Plugs
from monitor.advice.reasons import limit_words
from monitor.advice.scene import Scene, harms, zone_of
from monitor.alarms.cycle import Alarm
from monitor.checks.findings import Condition
from monitor.rules import Bin, Remedy, Role

LIFTED_ALONE = 15.0
"""kg above which a bin is for two or for a trolley (proposal; NIOSH's load constant is 23 kg, from memory)."""

BED_DENSITY = 600.0
"""kg/m³ of a moist worm bed (common practice: 500 to 700)."""

DRY_AIR = 60.0
"""%RH below which a fan over a damp cover cools (proposal)."""

NOTHING = "look and decide: nothing in its `can` helps"


def heat_orders(scene: Scene, bed: Bin, plugs: Plugs) -> list[Order]:
    """Everything to do about a bin's heat that is not done at a plug."""
    hot, cold = scene.hot(bed), scene.cold(bed)
    eats_less = tuple(a for a in scene.of(bed, Condition.COLD) if a not in cold)
    if hot and (cold or eats_less):
        return _both_ends(scene, bed, hot=hot, cold=[*cold, *eats_less], plugs=plugs)
    if hot:
        return _cool(scene, bed, hot, plugs)
    if cold:
        return _warm(scene, bed, [*cold, *eats_less], plugs)
    return [_eat_less_in_the_cold(scene, bed, eats_less)] if eats_less else []


def _warm(scene: Scene, bed: Bin, cold: Sequence[Alarm], plugs: Plugs) -> list[Order]:
    plugged, urgent = bed.id in plugs.warmed, harms(cold)
    if plugged and not urgent:
        return []
    note = _note(plugs, bed)
    orders = [wrap] if (wrap := _wrap(scene, bed, cold)) else []
    if not plugged and Remedy.MOVE in bed.can and (urgent or not orders):
        orders.append(_move(scene, bed, cold, to="warmer"))
    return _saying(note, orders) or ([] if plugged else [_look(scene, bed, cold, note)])


def _wrap(scene: Scene, bed: Bin, cold: Sequence[Alarm]) -> Order | None:
    """Blankets or a cover; neither while the air is warmer than the bed, which they would keep cold."""
    air, inside = scene.air(bed).air, scene.bed_temperature(bed)
    if air is not None and inside is not None and air > inside:
        return None
    more = () if air is None else (f"The air is {words.temperature(air, scene.units)}, colder than the bed.",)
    if Remedy.INSULATE in bed.can:
        mats = scene.rules.mats_of(bed.id)
        text = f"wrap it in blankets, none over {_mats(mats)}" if mats else "wrap it in blankets"
        return bed_order(scene, Act.INSULATE, bed, text, cold, more=more)
    if Remedy.COVER in bed.can:
        return bed_order(scene, Act.COVER, bed, "close its cover", cold, more=more)
    return None


def _mats(mats: Sequence[object]) -> str:
    return "its mat" if len(mats) == 1 else "its mats"


def _move(scene: Scene, bed: Bin, alarms: Sequence[Alarm], *, to: str) -> Order:
    kilos = weight(bed)
    alone = kilos is not None and kilos <= LIFTED_ALONE
    text = f"move it to a {to} place" + ("" if alone else ", two people or a trolley")
    slowly = (cautions.WARM_SLOWLY,) if to == "warmer" else ()
    about = "weight unknown" if kilos is None else f"it weighs about {words.kilograms(kilos, scene.units)}"
    more = (f"Lifting: {about}; more than {words.kilograms(LIFTED_ALONE, scene.units)} is for two (proposal).",)
    return bed_order(scene, Act.MOVE, bed, text, alarms, more=more, last=slowly)


def weight(bed: Bin) -> float | None:
    """kg of a bin with all that is in it, as far as the settings tell; None when they do not."""
    floor, depth = bed.vessel.floor, bed.vessel.depth
    by_size = floor * depth * BED_DENSITY if floor and depth else None
    bedding = bed.bedding if bed.bedding is not None else by_size
    return None if bedding is None else bedding + (bed.worms or 0.0)


def _cool(scene: Scene, bed: Bin, hot: Sequence[Alarm], plugs: Plugs) -> list[Order]:
    plugged = any(bed.id in order.bins for order in plugs.orders)
    note, urgent = _note(plugs, bed), harms(hot)
    if all(_at_the_mat(bed, alarm) for alarm in hot):
        return [] if plugged else [_look(scene, bed, hot, note)]
    orders = []
    if Remedy.SHADE in bed.can:
        orders.append(bed_order(scene, Act.SHADE, bed, "shade it from the sun", hot))
    if Remedy.AIR in bed.can:
        orders.append(_air(scene, bed, hot))
    if Remedy.MOVE in bed.can and (urgent or not (orders or plugged)):
        orders.append(_move(scene, bed, hot, to="cooler"))
    if not orders and not plugged:
        orders.append(_look(scene, bed, hot, note))
        note = ""
    return [*_with_bottles(_saying(note, orders)), _no_food(scene, bed, hot)]


def _with_bottles(orders: Sequence[Order]) -> list[Order]:
    """What cools without being written into any `can`, behind the first order, with its caution."""
    if not orders or orders[0].act is Act.LOOK:  # which has them among what it names
        return list(orders)
    said = tuple(dict.fromkeys((*orders[0].cautions, cautions.BOTTLES.words)))
    more = (*orders[0].more, "Frozen bottles help too, wrapped in cloth and at one end only.")
    return [replace(orders[0], cautions=said, more=more), *orders[1:]]


def _at_the_mat(bed: Bin, alarm: Alarm) -> bool:
    zone = zone_of(alarm, bed)
    return zone is not None and zone.role is Role.AT_THE_MAT


def _air(scene: Scene, bed: Bin, hot: Sequence[Alarm]) -> Order:
    """Cooler air helps now; warmer air would heat the bed, and waits for the night."""
    around, inside = scene.air(bed), scene.bed_temperature(bed)
    cooler = around.air is not None and inside is not None and around.air < inside
    text = "open its cover" if cooler else "open its cover for the night"
    by = None if cooler else next_of((EVENING,), after=scene.at, tz=scene.tz)
    more: tuple[str, ...] = ("No fan: it cools only over a damp cover in air known to be dry.",)
    if around.humidity is not None and around.humidity < DRY_AIR:
        more = (f"The air holds {words.percent(around.humidity)} humidity: a fan over a damp cover cools too.",)
    return bed_order(scene, Act.AIR, bed, text, hot, first=(cautions.NO_FLOOD,), more=more, by=by)


def _no_food(scene: Scene, bed: Bin, hot: Sequence[Alarm]) -> Order:
    more = (
        "Fresh food heats: a pocket of it can pass 40 °C (104 °F) (Cornell Composting, Compost Physics; seen).",
    )
    return bed_order(
        scene, Act.FEED_LESS, bed, "give no food while it is hot", hot, more=more, urgent=False, hurries_not=True
    )


def _eat_less_in_the_cold(scene: Scene, bed: Bin, cold: Sequence[Alarm]) -> Order:
    more = ("These worms live on below comfort and only eat less; food they leave sours.",)
    return bed_order(scene, Act.FEED_LESS, bed, "feed less while it is cold", cold, more=more, hurries_not=True)


def _both_ends(
    scene: Scene, bed: Bin, *, hot: Sequence[Alarm], cold: Sequence[Alarm], plugs: Plugs
) -> list[Order]:
    """One end too hot, the other too cold: nothing that warms or cools the whole bin."""
    if all(_at_the_mat(bed, alarm) for alarm in hot) and (wrap := _wrap(scene, bed, cold)):
        return [wrap]
    also = f"and the other end: {limit_words(scene, cold[0], bed)}"
    more = (
        "Look for what heats one end: the mat, the sun, a pocket of fresh food.",
        "Worms walk to where they can live: leave them a way through damp bedding.",
    )
    text = "look: one end is hot, the other cold"
    alarms = [*hot, *cold]
    return [bed_order(scene, Act.LOOK, bed, text, alarms, also=also, first=(cautions.NO_FLOOD,), more=more)]


def _look(scene: Scene, bed: Bin, alarms: Sequence[Alarm], note: str) -> Order:
    """Nothing possible: say so, and what could be thought about."""
    too_hot = alarms[0].key.condition is Condition.HOT
    also = note or ("no mat warms it" if not too_hot and not scene.rules.mats_of(bed.id) else "")
    if too_hot:
        more = (
            "Think about: shade, a cooler room, frozen bottles wrapped in cloth at one end, air in the night.",
            "Write what you can do into its `can` (shade, air, move), and it is advised next time.",
        )
        first = (cautions.BOTTLES, cautions.NO_FLOOD)
        return bed_order(scene, Act.LOOK, bed, NOTHING, alarms, also=also, first=first, more=more)
    more = (
        "Think about: a listed mat with its own thermostat, blankets around the sides, a warmer room.",
        "Write what you can do into its `can` (insulate, cover, move), and it is advised next time.",
    )
    return bed_order(scene, Act.LOOK, bed, NOTHING, alarms, also=also, first=(cautions.NO_FLAMES,), more=more)


def _saying(note: str, orders: Sequence[Order]) -> list[Order]:
    """The first of some orders also says why no plug can help."""
    if not note or not orders:
        return list(orders)
    return [replace(orders[0], why=f"{orders[0].why.removesuffix('.')}; {note}."), *orders[1:]]


def _note(plugs: Plugs, bed: Bin) -> str:
    return "; ".join(dict.fromkeys(plugs.notes.get(bed.id, ())))
