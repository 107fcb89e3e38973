"""What each plug should do: one order per plug, checked against every bin on it.

Heat harms in hours and cold in days, so a bin in heat harm switches its plug off whoever else is cold; where one
bin is too warm and another too cold, short of that, the plug stays as it is and both get something else.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from monitor import words
from monitor.advice import cautions
from monitor.advice.acts import Act, Order
from monitor.advice.cautions import Caution
from monitor.advice.daytime import before_the_night
from monitor.advice.reasons import fact_of, reason
from monitor.advice.scene import (
    WATERY,
    Scene,
    harms,
    hottest_allowed,
    joined_orders,
    limits_of,
    named,
    worm_of,
    zone_of,
)
from monitor.alarms.cycle import Alarm
from monitor.readings import HOUR, Measures, Millis
from monitor.rules import Ability, Bin, Control, Level, Mat, Role, Zone
from monitor.science.bands import ColdMeans

STEP = 2.0
"""°C a thermostat is moved at a time (proposal): a bed answers within a day, not within an hour."""

FREE_ROOM = 2.0
"""°C a bin must be below its hot limit before a mat without a thermostat is switched on for another (proposal)."""

LEAST_STEP = 0.25
"""°C below which turning a thermostat is not worth a walk (proposal)."""

ROOM_KEPT = 1.0
"""°C that every zone on the plug keeps below its hot limit when a thermostat is raised (proposal)."""

NOT_HOLDING = 1.0
"""°C below its setting from which a thermostat's bed says that the mat does not hold it (proposal)."""

ABOVE_COMFORT_LOW = 2.0
ABOVE_HARM_LOW = 4.0
"""°C above the limit at which a thermostat is aimed: the low end of comfort, or, for a worm that only eats
less in the cold, of harm (proposal)."""

WARMS_WITHIN: Millis = 4 * HOUR
"""So long a mat that was switched on is given before somebody is sent to look why its bed is cold (proposal)."""

Cases = Sequence[tuple[Bin, Alarm]]


@dataclass(slots=True)
class Plugs:
    """The orders for plugs, the bins they warm, and for the others why no plug can."""

    orders: list[Order] = field(default_factory=list)
    warmed: set[str] = field(default_factory=set)
    damp_first: dict[str, tuple[Mat, bool]] = field(default_factory=dict)
    """Dry bins over a mat that is to heat, with that mat and whether harm waits for it."""
    notes: dict[str, list[str]] = field(default_factory=dict)

    def note(self, cases: Cases, text: str) -> None:
        """Remember for these bins why a plug cannot help."""
        for bed, _ in cases:
            self.notes.setdefault(bed.id, []).append(text)


def plugs(scene: Scene) -> Plugs:
    """What to do at every plug that warms a bin with an alarm."""
    found = Plugs()
    for mat in scene.rules.mats.values():
        _decide(scene, mat, found)
    found.orders = joined_orders(found.orders)
    return found


def _decide(scene: Scene, mat: Mat, found: Plugs) -> None:
    on_it = [bed for bed in scene.beds() if any(bed.id == b for b, _ in mat.warms)]
    hot = [(bed, alarm) for bed in on_it for alarm in scene.hot(bed)]
    too_hot = {bed.id for bed, _ in hot}
    cold = [
        (bed, alarm)
        for bed in on_it
        if bed.id not in too_hot  # a bin with a hot end and a cold one gets no more heat at one end
        for alarm in scene.cold(bed)
        if serves(scene, mat, bed, alarm)
    ]
    dry = [(bed, alarm) for bed in on_it for alarm in scene.dry(bed)]
    if hot and (not cold or harms(a for _, a in hot)):
        found.orders.append(_less(scene, mat, hot))
        found.note(cold, f"{mat.id} stays off: {_names(hot)} on the same plug is too hot")
    elif hot:
        found.note(hot, f"{mat.id} stays as it is: {_names(cold)} on the same plug is too cold")
        found.note(cold, f"{mat.id} stays as it is: {_names(hot)} on the same plug is too hot")
    elif cold:
        _warm(scene, mat, cold=cold, dry=dry, found=found)
    elif harms(a for _, a in dry):
        found.orders.append(_until_damp(scene, mat, dry))


def serves(scene: Scene, mat: Mat, bed: Bin, alarm: Alarm) -> bool:
    """Whether the mat can warm what is cold: that zone itself, else, where no mat does, any part of its bin."""
    zone = zone_of(alarm, bed)
    if zone is None or zone.role is Role.AT_THE_MAT:
        return True
    direct = [m for m in scene.rules.mats_of(bed.id) if (bed.id, zone.id) in m.warms]
    return mat in direct or not direct


def _warm(scene: Scene, mat: Mat, *, cold: Cases, dry: Cases, found: Plugs) -> None:
    obstacle = _too_hot_to_heat(scene, mat)
    if obstacle:
        found.note(cold, obstacle)
    elif dry and mat.control is not Control.THERMOSTAT:
        found.orders.append(_until_damp(scene, mat, dry))
        found.note(cold, f"{mat.id} stays off: {_names(dry)} is dry over it, and no thermostat holds it")
    elif any(scene.of(bed, *WATERY) for bed, _ in dry):
        # such a bin is evened out, not damped: who knows which part of it lies dry over the mat
        found.orders.append(_until_damp(scene, mat, dry))
        found.note(cold, f"{mat.id} stays off: {_names(dry)} is dry at one end and wet at the other")
    elif dry:
        found.orders.append(_after_damping(scene, mat, cold, dry))
        found.warmed |= {bed.id for bed, _ in cold}
        for bed, _ in dry:
            found.damp_first[bed.id] = (mat, harms(a for _, a in cold))
    else:
        order = _ON[mat.control](scene, mat, cold, found)
        if order:
            found.orders.append(order)
            found.warmed |= {bed.id for bed, _ in cold}


def _on_by_hand(scene: Scene, mat: Mat, cold: Cases, found: Plugs) -> Order | None:
    switched = scene.switched(mat)
    if switched is None:
        return _see_that_it_is_on(scene, mat, cold, f"see that {named(mat)} is on")
    if switched.on:
        return _is_on(scene, mat, cold, found, switched.since)
    return _order(scene, Act.MAT_ON, mat, f"switch {named(mat)} on", cold, first=(cautions.NO_THERMOSTAT,))


def _on_past_timer(scene: Scene, mat: Mat, cold: Cases, found: Plugs) -> Order | None:
    switched = scene.switched(mat)
    if switched is not None and switched.on:
        return _is_on(scene, mat, cold, found, switched.since)
    text = f"switch {named(mat)} on past its timer"
    return _order(scene, Act.MAT_ON, mat, text, cold, first=(cautions.NO_THERMOSTAT,))


def _on_somehow(scene: Scene, mat: Mat, cold: Cases, found: Plugs) -> Order | None:
    switched = scene.switched(mat)
    if switched is not None and switched.on:
        return _is_on(scene, mat, cold, found, switched.since)
    more = (f"Nothing is known of what switches {mat.id}: say so under its `control`.",)
    return _see_that_it_is_on(scene, mat, cold, f"see that {named(mat)} is switched on", more)


def _see_that_it_is_on(scene: Scene, mat: Mat, cold: Cases, text: str, more: tuple[str, ...] = ()) -> Order:
    if scene.switched(mat) is None:
        more = (*more, f"Nobody wrote whether {mat.id} is on: `vermistat diary {mat.id} on`, or off, says so.")
    return _order(scene, Act.MAT_ON, mat, text, cold, first=(cautions.NO_THERMOSTAT,), more=more)


def _is_on(scene: Scene, mat: Mat, cold: Cases, found: Plugs, since: Millis | None) -> Order | None:
    """A mat that is on, and the bed is cold: it gets its time, and then somebody looks why."""
    when = "" if since is None else words.clock_time(since, scene.tz, scene.at)
    if since is not None and scene.at - since < WARMS_WITHIN:
        until = words.clock_time(since + WARMS_WITHIN, scene.tz, scene.at)
        found.note(cold, f"{mat.id} is on since {when}; look again by {until}")
        return None
    more = (
        "Is it warm to the hand? If not: plug, residual-current device, cable, fuse.",
        "A mat that is warm and loses is too weak: its bed needs insulation first.",
        *(() if mat.id in scene.plugs else (f"Is it off? `vermistat diary {mat.id} off` says so.",)),
    )
    text = f"look at {named(mat)}: on since {when}" if when else f"look at {named(mat)}: it is on"
    return _order(scene, Act.MAT_CHECK, mat, text, cold, first=(cautions.NO_THERMOSTAT,), more=more)


def _should_be_on(scene: Scene, mat: Mat, cold: Cases, found: Plugs) -> Order:
    more = (f"{mat.id} is always on by its settings, so it is broken, unplugged or too weak: plug, cable, fuse.",)
    return _order(scene, Act.MAT_CHECK, mat, f"look at {named(mat)}: it should be on", cold, more=more)


def _by_thermostat(scene: Scene, mat: Mat, cold: Cases, found: Plugs) -> Order | None:
    """Raise a thermostat that holds what it is set to, look at one that does not."""
    aim = max(_aim(bed, alarm) for bed, alarm in cold)
    if mat.set_to is None:
        return _look_at(scene, mat, cold, aim)
    beds = {bed.id for bed, _ in cold}
    here = [scene.present(bed.id, zone.id).temperature for bed, zone in warmed(scene, mat) if bed.id in beds]
    known = [value for value in here if value is not None]
    if not known or max(known) < mat.set_to - NOT_HOLDING:
        return _look_at(scene, mat, cold, mat.set_to)
    to = min(mat.set_to + STEP, aim, mat.set_to + _room(scene, mat) - ROOM_KEPT)
    if to < mat.set_to + LEAST_STEP:
        full = "" if aim < mat.set_to + LEAST_STEP else ", and the warmest zone on it bears no more"
        found.note(cold, f"{mat.id} holds the {_degrees(scene, mat.set_to)} it is set to{full}")
        return None
    text = f"raise {named(mat)}'s thermostat from {_degrees(scene, mat.set_to)} to {_degrees(scene, to)}"
    more = (
        f"At most {words.difference(STEP, scene.units)} at a time, then a day's patience (proposal).",
        f"The aim is {_degrees(scene, aim)}.",
    )
    return _order(scene, Act.MAT_RAISE, mat, text, cold, more=more)


_ON: Mapping[Control, Callable[[Scene, Mat, Cases, Plugs], Order | None]] = {
    Control.HAND: _on_by_hand,
    Control.TIMER: _on_past_timer,
    Control.UNKNOWN: _on_somehow,
    Control.ALWAYS: _should_be_on,
    Control.THERMOSTAT: _by_thermostat,
}


def _look_at(scene: Scene, mat: Mat, cold: Cases, setting: float) -> Order:
    more = (
        "Plug, residual-current device, cable, thermostat: is its probe in the bed, is the mat warm?",
        "A mat that is too weak stays warm and loses: its bed needs insulation first.",
    )
    text = f"look at {named(mat)}: it should hold {_degrees(scene, setting)}"
    return _order(scene, Act.MAT_CHECK, mat, text, cold, more=more)


def _after_damping(scene: Scene, mat: Mat, cold: Cases, dry: Cases) -> Order:
    text = f"then switch {named(mat)} on, under its thermostat"
    more = (f"First damp the side of {_names(dry)} that lies over {mat.id} and look underneath; only then heat.",)
    order = _order(scene, Act.MAT_ON, mat, text, cold, first=(cautions.DRY_AND_HOT,), more=more)
    return replace(order, by=None)  # its time is when the bed is damp


def _until_damp(scene: Scene, mat: Mat, cases: Cases) -> Order:
    text = f"keep {named(mat)} off until the bed over it is damp"
    more = (f"Dry bedding insulates {mat.id} (0.04 W/m K against 0.3 to 0.5 when damp: de Vries 1963, seen).",)
    order = _order(scene, Act.MAT_OFF, mat, text, cases, first=(cautions.DRY_AND_HOT,), more=more)
    return replace(order, by=None)


def _less(scene: Scene, mat: Mat, hot: Cases) -> Order:
    if mat.control is not Control.THERMOSTAT or harms(a for _, a in hot):
        return _off(scene, mat, hot)
    hottest = max((t for bed, _ in hot for t in scene.temperatures(bed).values()), default=None)
    if mat.set_to is not None and hottest is not None and hottest > mat.set_to + STEP:
        more = (
            f"It is set to {_degrees(scene, mat.set_to)}: warm now, it does not let go, or the heat is not its.",
        )
        return _order(scene, Act.MAT_CHECK, mat, f"look at {named(mat)}: it should be off now", hot, more=more)
    if mat.set_to is None:
        by = words.difference(STEP, scene.units)
        return _order(scene, Act.MAT_LOWER, mat, f"lower {named(mat)}'s thermostat by {by}", hot)
    to = _degrees(scene, mat.set_to - STEP)
    text = f"lower {named(mat)}'s thermostat from {_degrees(scene, mat.set_to)} to {to}"
    return _order(scene, Act.MAT_LOWER, mat, text, hot)


def _off(scene: Scene, mat: Mat, hot: Cases) -> Order:
    switched = scene.switched(mat)
    if switched is None or switched.on or mat.control in (Control.ALWAYS, Control.THERMOSTAT):
        return _order(scene, Act.MAT_OFF, mat, _OFF[mat.control].format(named(mat)), hot)
    when = "" if switched.since is None else f" since {words.clock_time(switched.since, scene.tz, scene.at)}"
    by = "its plug" if mat.id in scene.plugs else "the diary"
    more = (f"By {by} {mat.id} is off{when}: then the heat is not its.",)
    return _order(scene, Act.MAT_OFF, mat, f"see that {named(mat)} is off", hot, more=more)


_OFF: Mapping[Control, str] = {
    Control.HAND: "switch {} off",
    Control.UNKNOWN: "switch {} off",
    Control.TIMER: "switch {} off, timer too",
    Control.ALWAYS: "unplug {}",
    Control.THERMOSTAT: "unplug {}",
}


def _order(
    scene: Scene,
    act: Act,
    mat: Mat,
    text: str,
    cases: Cases,
    *,
    first: tuple[Caution, ...] = (),
    more: tuple[str, ...] = (),
) -> Order:
    ranked = sorted(cases, key=lambda case: (case[1].level is not Level.HARM, case[1].number))
    bed, alarm = ranked[0]
    because = reason(scene, alarm, bed)
    others = tuple(f"{b.name}: {reason(scene, a, b).why}" for b, a in ranked[1:])
    urgent = harms(a for _, a in ranked)
    return Order(
        act=act,
        target=mat.id,
        words=text,
        why=because.why,
        cautions=cautions.that_belong(act, mat=True, first=first),
        more=(
            *because.more,
            *others,
            *more,
            *_neighbours(scene, mat, [b for b, _ in ranked]),
            *_by_its_plug(scene, mat),
            *_load(scene.rules.mats.values()),
        ),
        needs=Ability.MATS,
        by=scene.at if urgent else before_the_night(alarm.raised_at, scene.tz),
        alarms=tuple(dict.fromkeys(a.number for _, a in ranked)),
        urgent=urgent,
        bins=tuple(dict.fromkeys(b.id for b, _ in ranked)),
        fact=_fact(scene, mat, bed, alarm) or because.fact,
    )


def _fact(scene: Scene, mat: Mat, bed: Bin, alarm: Alarm) -> str:
    """What the mat's own zone measures, for a cold bin as a whole; else the alarm's own zone says it better."""
    if zone_of(alarm, bed) is not None or alarm not in scene.cold(bed):
        return ""
    own = [zone for b, zone in warmed(scene, mat) if b is bed and zone.role is Role.LIVING]
    return fact_of(scene, bed, own[0]) if own else ""


def _aim(bed: Bin, alarm: Alarm) -> float:
    """°C at which a thermostat should hold this bin."""
    limits = limits_of(bed, zone_of(alarm, bed), Measures.TEMPERATURE)
    harm = max((h.bound.value for h in limits.harm if h.below), default=None)
    if limits.low is not None and not _only_harm_counts(bed):
        return limits.low.value + ABOVE_COMFORT_LOW
    floor = harm if harm is not None else alarm.evidence.bound
    return (floor if floor is not None else 0.0) + ABOVE_HARM_LOW


def _only_harm_counts(bed: Bin) -> bool:
    worm = worm_of(bed)
    return worm is not None and worm.cold_means is ColdMeans.FEED_LESS


def warmed(scene: Scene, mat: Mat) -> list[tuple[Bin, Zone]]:
    """Every zone a plug heats: those it is said to warm, and what lies at a mat in the same bins."""
    beds = {b for b, _ in mat.warms}
    return [
        (bed, zone)
        for bed in scene.rules.bins.values()
        if bed.id in beds
        for zone in bed.zones
        if (bed.id, zone.id) in mat.warms or zone.role is Role.AT_THE_MAT
    ]


def _rooms(scene: Scene, mat: Mat) -> list[tuple[float, Bin, Zone, float]]:
    """For every zone on the plug that is measured: °C left to its lowest hot limit, and that limit."""
    found = []
    for bed, zone in warmed(scene, mat):
        value = scene.present(bed.id, zone.id).temperature
        top = hottest_allowed(limits_of(bed, zone, Measures.TEMPERATURE))
        if value is not None and top is not None:
            found.append((top.value - value, bed, zone, top.value))
    return sorted(found, key=lambda item: item[0])


def _room(scene: Scene, mat: Mat) -> float:
    rooms = _rooms(scene, mat)
    return rooms[0][0] if rooms else math.inf


def _too_hot_to_heat(scene: Scene, mat: Mat) -> str | None:
    """Why this plug must not heat now, None when it may."""
    needed = 0.0 if mat.control is Control.THERMOSTAT else FREE_ROOM
    rooms = _rooms(scene, mat)
    if not rooms or rooms[0][0] > needed:
        return None
    left, bed, zone, top = rooms[0]
    value = words.temperature(top - left, scene.units, beside=top)
    without = "" if mat.control is Control.THERMOSTAT else ", and no thermostat holds the mat"
    return f"{mat.id} stays off: {bed.name} {zone.id} on it is {value}, its limit {_degrees(scene, top)}{without}"


def _neighbours(scene: Scene, mat: Mat, known: Sequence[Bin]) -> tuple[str, ...]:
    """What every other zone on the plug says of this order."""
    lines = [_neighbour(scene, mat, bed, zone) for bed, zone in warmed(scene, mat) if bed not in known]
    return tuple(lines)


def _by_its_plug(scene: Scene, mat: Mat) -> tuple[str, ...]:
    plug = scene.plugs.get(mat.id)
    if plug is None:
        return ()
    drawn = ("is on" if plug.on else "is off") if plug.watts is None else f"draws {plug.watts:.0f} W"
    return (f"By its plug {mat.id} {drawn}, {words.duration(max(scene.at - plug.at, 0))} ago.",)


def _load(mats: Iterable[Mat]) -> tuple[str, ...]:
    """Watts of everything that may hang on one outlet, and the current that is."""
    known = [(mat.id, mat.power) for mat in mats if mat.power]
    if len(known) < 2:
        return ()
    watts = sum(power for _, power in known)
    listed = words.joined([f"{name} {power:g} W" for name, power in known])
    amperes = f"{watts / 230:.1f} A at 230 V, {watts / 120:.1f} A at 120 V"
    return (f"On one outlet they add up: {listed}: {watts:g} W, {amperes}, with whatever else hangs on it.",)


def _neighbour(scene: Scene, mat: Mat, bed: Bin, zone: Zone) -> str:
    value = scene.present(bed.id, zone.id).temperature
    if value is None:
        return f"{mat.id} warms {bed.name} {zone.id} too, which is not measured now: feel it before and after."
    top = hottest_allowed(limits_of(bed, zone, Measures.TEMPERATURE))
    limit = f", its hot limit {_degrees(scene, top.value)}" if top else ""
    return f"{mat.id} warms {bed.name} {zone.id} too: {words.temperature(value, scene.units)} now{limit}."


def _degrees(scene: Scene, celsius: float) -> str:
    return words.limit(celsius, scene.units)


def _names(cases: Cases) -> str:
    return words.joined(list(dict.fromkeys(bed.name for bed, _ in cases)))
