"""What to do about a bin that is too dry or too wet. Litres only where a mass and a calibrated probe give them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from monitor import words
from monitor.advice import cautions
from monitor.advice.acts import Act, Order
from monitor.advice.amounts import mass_lines, no_mass
from monitor.advice.daytime import next_morning
from monitor.advice.orders import bed_order
from monitor.advice.plugs import Plugs
from monitor.advice.scene import WATERY, Scene, harms, limits_of, named, worm_of, zone_of
from monitor.advice.warmth import chill, warmth
from monitor.alarms.cycle import Alarm
from monitor.checks.findings import Condition
from monitor.diary import Deed, Entry
from monitor.errors import BadValue
from monitor.readings import HOUR, Measures, Millis
from monitor.rules import Bin, Remedy, Role, Units
from monitor.science.units import gallons
from monitor.science.water import POUR_DEPTH, Dose, bedding_to_add, dose

LEAST_BEDDING = 0.05
"""kg of dry bedding below which a handful is a better word (proposal)."""

WETTEST = 99.9
"""%, for arithmetic that divides by what is not water (ours)."""

SETTLES: Millis = 6 * HOUR
"""After a watering that stands in the diary no other is advised for so long (proposal)."""

SETTLE = "Measure again after 4 to 12 h: the probe needs that long to settle (proposal)."
UNDERNEATH = "Look under the bin first: a dry top over a wet floor needs mixing, not water."
TAP = (
    "Standing for 24 to 48 h rids tap water of chlorine, not of chloramine; no work we found shows that household "
    "residuals kill worms. A dry bed does not wait for it: small pours now, and a can left standing for the next."
)


@dataclass(frozen=True, slots=True)
class _Bed:
    """The part of a bin that its water alarm is about, in numbers. `share` says how much of the bin that is."""

    moisture: float
    spread: float
    mass: float | None
    floor: float | None
    share: str


def water_orders(scene: Scene, bed: Bin, plugs: Plugs) -> list[Order]:
    """Everything to do about a bin's water."""
    dry, wet = scene.dry(bed), scene.of(bed, *WATERY)
    if dry and wet:
        return [_even_out(scene, bed, [*dry, *wet])]
    if wet:
        return _drier(scene, bed, wet)
    return [_wetter(scene, bed, dry, plugs)] if dry else []


def _wetter(scene: Scene, bed: Bin, dry: Sequence[Alarm], plugs: Plugs) -> Order:
    if bed.id in plugs.damp_first:
        return _damp_the_mats_side(scene, bed, dry, plugs)
    if scene.cold(bed):
        return _damp_the_top(scene, bed, dry) if harms(dry) else _not_yet(scene, bed, dry, "it is too cold")
    if warmth(scene, bed) is None:
        return _not_yet(scene, bed, dry, "cool it first")
    if (watered := _just_watered(scene, bed)) is not None:
        return _let_it_settle(scene, bed, dry, watered)
    known = _part(scene, bed, dry[0])
    if known is not None and _enough_by_now(bed, dry[0], known):
        more = ("Its alarm ends when it has stayed so for some hours: the limit is held against a day's median.",)
        order = _not_yet(scene, bed, dry, "it is damp again", more=more)
        return replace(order, fact=f"moisture is {words.percent(known.moisture)} now")
    return _water(scene, bed, dry, known)


def _water(scene: Scene, bed: Bin, dry: Sequence[Alarm], known: _Bed | None) -> Order:
    by = next_morning(max(dry[0].raised_at, scene.at - 2 * HOUR), scene.tz)
    warm = warmth(scene, bed)
    need = _dose(bed, dry[0], known)
    if known is None or need is None or need.first <= 0:
        text = f"sprinkle a little water, {warm}, then measure"
        no_litres = (_why_no_litres(scene, bed, known), UNDERNEATH, SETTLE, TAP)
        return bed_order(scene, Act.WATER, bed, text, dry, more=no_litres, by=by)
    text = f"sprinkle {_amount(need.first, scene.units)} of water, {warm}"
    also = f"{words.litres(need.low, need.high, scene.units)} in all, this much first"
    more = (
        *_arithmetic(scene, bed, dry[0], known=known, need=need),
        *chill(scene, bed, mass=known.mass, moisture=known.moisture, litres=need.first),
        UNDERNEATH,
        SETTLE,
        TAP,
    )
    return bed_order(scene, Act.WATER, bed, text, dry, also=also, more=more, by=by)


def _damp_the_mats_side(scene: Scene, bed: Bin, dry: Sequence[Alarm], plugs: Plugs) -> Order:
    """Dry over a mat that has to heat: this comes before the heat, a small pour, and a look underneath."""
    mat, harm = plugs.damp_first[bed.id]
    known = _part(scene, bed, dry[0])
    need = _dose(bed, dry[0], known)
    warm = warmth(scene, bed) or "bed-warm"
    if known is not None and need is not None and need.first > 0:
        text = f"damp {named(mat)}'s side: {_amount(need.first / 2, scene.units)}, {warm}"
        more = (
            "Half a first pour, as it goes to one side.",
            *_arithmetic(scene, bed, dry[0], known=known, need=need),
        )
    else:
        text = f"damp {named(mat)}'s side: a little water, {warm}"
        more = (_why_no_litres(scene, bed, known),)
    text = text if len(text) <= 60 else f"damp the mat's side with a little water, {warm}"
    also = "then look underneath before the mat heats"
    return bed_order(
        scene,
        Act.DAMPEN,
        bed,
        text,
        dry,
        also=also,
        more=(*more, UNDERNEATH, SETTLE, TAP),
        last=(cautions.DRY_AND_HOT,),
        urgent=harm or harms(dry),
    )


def _damp_the_top(scene: Scene, bed: Bin, dry: Sequence[Alarm]) -> Order:
    """Too dry to leave and too cold to water: a little, as warm as the bed."""
    warm = warmth(scene, bed)
    text = f"damp the top with a little water, {warm}"
    more = ("No more than damp while it is cold; the rest when it is warm again.", UNDERNEATH, SETTLE, TAP)
    return bed_order(scene, Act.DAMPEN, bed, text, dry, more=more)


def _not_yet(scene: Scene, bed: Bin, dry: Sequence[Alarm], why: str, *, more: tuple[str, ...] = ()) -> Order:
    text = f"do not water it yet: {why}"
    told = (
        "Cold water chills a bed: 4 L at 8 °C (1 gallon at 46 °F) take one of 35 kg (77 lb) from 22 to 20.3 °C.",
    )
    return bed_order(
        scene, Act.LOOK, bed, text, dry, more=more or told, first=(cautions.WATER_WARMTH,), hurries_not=True
    )


def _just_watered(scene: Scene, bed: Bin) -> Entry | None:
    watered = scene.last(bed.id, Deed.WATERED)
    return watered if watered is not None and scene.at - watered.at < SETTLES else None


def _let_it_settle(scene: Scene, bed: Bin, dry: Sequence[Alarm], watered: Entry) -> Order:
    """Water that was poured is not yet where the probe is: a second pour now would be one too many."""
    poured = words.clock_time(watered.at, scene.tz, scene.at)
    again = words.clock_time(watered.at + SETTLES, scene.tz, scene.at)
    amount = "" if watered.amount is None else f" {words.measured(watered.amount, watered.unit, scene.units)}"
    more = (f"By the diary watered{amount} {poured}. Measure again from {again} on.", SETTLE)
    return _not_yet(scene, bed, dry, f"it was watered {poured}", more=more)


def _enough_by_now(bed: Bin, alarm: Alarm, known: _Bed) -> bool:
    low = limits_of(bed, zone_of(alarm, bed), Measures.MOISTURE).low
    return low is not None and known.moisture >= low.value


def _even_out(scene: Scene, bed: Bin, alarms: Sequence[Alarm]) -> Order:
    more = ("Neither water nor dry bedding: the bin holds both, in the wrong places.", UNDERNEATH, SETTLE)
    text = "spread its wet end over its dry one"
    return bed_order(scene, Act.LOOK, bed, text, alarms, more=more, first=(cautions.DUST, cautions.GLOVES))


def _drier(scene: Scene, bed: Bin, wet: Sequence[Alarm]) -> list[Order]:
    orders = []
    flooded = any(a.key.condition is Condition.FLOODED for a in wet)
    if bed.vessel.drains is not False:
        where = "empty its tray" if bed.vessel.drains else "empty its tray, if it has one"
        text = "empty its tray, and see where the water came from" if flooded else where
        orders.append(bed_order(scene, Act.DRAIN, bed, text, wet, also="no more water"))
    if Remedy.AIR in bed.can and not scene.of(bed, Condition.COLD):
        orders.append(bed_order(scene, Act.AIR, bed, "open its cover", wet))
    return [*orders, _dry_bedding(scene, bed, wet)]


def _dry_bedding(scene: Scene, bed: Bin, wet: Sequence[Alarm]) -> Order:
    known = _part(scene, bed, wet[0])
    target = _target(bed, wet[0], high=True)
    need = _bedding(known, target)
    away = ", not over the mat" if scene.rules.mats_of(bed.id) else ""
    if known is None or known.mass is None or need is None or need[0] < LEAST_BEDDING:
        text = f"fork in a few handfuls of dry bedding{away}"
        no_amount = (_why_no_litres(scene, bed, known), SETTLE)
        return bed_order(scene, Act.DRY, bed, text, wet, also="no more water", more=no_amount)
    least, most = (words.kilograms(kilos, scene.units) for kilos in need)
    more = (
        *mass_lines(scene, bed),
        f"{words.kilograms(known.mass, scene.units)} at {known.moisture:.0f} ± {known.spread:.0f} %{known.share}, "
        f"aim {target:.0f} %, bedding at 8 %: m(A − T)/(T − M) = {least} to {most} (Cornell Composting; seen).",
        "The low end first.",
        SETTLE,
    )
    text = f"fork in about {least} of dry bedding{away}"
    return bed_order(scene, Act.DRY, bed, text, wet, also="no more water", more=more)


def _bedding(known: _Bed | None, target: float) -> tuple[float, float] | None:
    """kg of dry bedding, from the low end of what the probe may mean to the high one."""
    if known is None or known.mass is None:
        return None
    ends = [min(max(known.moisture + shift, 0.0), WETTEST) for shift in (-known.spread, known.spread)]
    try:
        least, most = (bedding_to_add(known.mass, end, target=target) for end in ends)
    except BadValue:  # an aim drier than dry bedding: nobody could have meant it
        return None
    return least, most


def _part(scene: Scene, bed: Bin, alarm: Alarm) -> _Bed | None:
    """The bin as a whole by the mean of its living zones, or one zone as its share of equal living zones."""
    living = [z for z in bed.zones if z.role is Role.LIVING] or list(bed.zones)
    zone = zone_of(alarm, bed)
    zones = [zone] if zone is not None else living
    known = [p for z in zones if (p := scene.present(bed.id, z.id)).moisture is not None]
    if not known:
        return None
    moisture = sum(p.moisture for p in known if p.moisture is not None) / len(known)
    parts = 1 if zone is None else max(len(living), 1)
    share = f", taken as one of {parts} equal zones" if parts > 1 else ""
    mass, floor = bed.bedding, bed.vessel.floor
    return _Bed(
        moisture=moisture,
        spread=max(p.spread for p in known),
        mass=None if mass is None else mass / parts,
        floor=None if floor is None else floor / parts,
        share=share,
    )


def _target(bed: Bin, alarm: Alarm, *, high: bool) -> float:
    """% that advice aims at, inside comfort: the near end of what the worm is known to like, else a quarter in."""
    limits = limits_of(bed, zone_of(alarm, bed), Measures.MOISTURE)
    worm = worm_of(bed)
    low = limits.low.value if limits.low else (limits.high.value - 20 if limits.high else 65.0)
    top = limits.high.value if limits.high else low + 20
    liked = None if worm is None else worm.target_moisture[1 if high else 0]
    if liked is not None and low < liked < top:
        return liked
    return top - (top - low) / 4 if high else low + (top - low) / 4


def _dose(bed: Bin, alarm: Alarm, known: _Bed | None) -> Dose | None:
    if known is None or known.mass is None:
        return None
    try:
        return dose(
            known.mass,
            known.moisture,
            target=_target(bed, alarm, high=False),
            uncertainty=known.spread,
            floor=known.floor,
            drains=bed.vessel.drains,
        )
    except BadValue:  # a moisture or a vessel that cannot be: no litres
        return None


def _arithmetic(scene: Scene, bed: Bin, alarm: Alarm, *, known: _Bed, need: Dose) -> tuple[str, ...]:
    target = _target(bed, alarm, high=False)
    mass = known.mass or 0.0
    pours = [f"a third of {_volume(scene, need.low)}"]
    if known.floor is not None:
        area = words.area(known.floor, scene.units)
        pours.append(f"{_volume(scene, POUR_DEPTH * known.floor)} for {area} of floor")
    half = "" if bed.vessel.drains else ", halved because it is not known to drain"
    return (
        *mass_lines(scene, bed),
        f"{words.kilograms(mass, scene.units)} at {known.moisture:.0f} ± {known.spread:.0f} %{known.share}, "
        f"aim {target:.0f} %: W = m(B − A)/(1 − B) = {_volume(scene, need.low)} to {_volume(scene, need.high)} "
        "(NRAES-54; seen, as quoted).",
        f"First pour {_volume(scene, need.first)}: the lower of {' and '.join(pours)}{half} (proposal).",
    )


def _why_no_litres(scene: Scene, bed: Bin, known: _Bed | None) -> str:
    if (why := no_mass(scene, bed)) is not None:
        return why
    if known is None:
        return "No amounts: no calibrated probe says how wet it is now."
    return f"No amounts: {known.moisture:.0f} ± {known.spread:.0f} % may already be inside comfort."


def _amount(litres: float, units: Units) -> str:
    return words.litres(litres, litres, units)


def _volume(scene: Scene, litres: float) -> str:
    if scene.units is Units.METRIC:
        return f"{litres:.1f} L"
    cups = f" ({16 * gallons(litres):.1f} cups)" if gallons(litres) < 0.25 else ""
    return f"{gallons(litres):.2f} gal{cups}"
