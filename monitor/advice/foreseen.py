"""What to do about what is told ahead: tonight's cold, tomorrow's heat, and mats that do not do what they should.

Each answer is asked of the bed itself: is its mat enough, by when must it be on, what else helps, and what does the night cost.
One order for each plug, checked against every bin on it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import time
from typing import NamedTuple

from monitor import words
from monitor.advice import cautions
from monitor.advice.acts import Act, Order
from monitor.advice.daytime import EVENING as USUAL
from monitor.advice.daytime import before_the_night, next_of
from monitor.advice.orders import bed_order
from monitor.advice.plugs import Plugs, serves
from monitor.advice.reasons import reason
from monitor.advice.scene import Scene, named
from monitor.alarms.cycle import Alarm
from monitor.bed import enough as asking
from monitor.bed.enough import Answer, Chances, Enough, Help, Now, Switch
from monitor.bed.forecast import ON
from monitor.bed.living import MOIST, Told, control_of
from monitor.bed.plan import ALWAYS, Plan, switched
from monitor.bed.room import AHEAD, ahead
from monitor.bed.unsure import FAR
from monitor.checks.ahead import LASTS, Nights, chance_words
from monitor.checks.findings import Condition
from monitor.checks.mats import now_of
from monitor.readings import HOUR, Millis
from monitor.rules import Ability, Bin, Control, Mat, Person, Remedy, Rules

SEEN_TO_WITHIN: Millis = 4 * HOUR
"""A mat that does not heat is looked at so soon, while somebody is up (proposal)."""
NIGHT_H = 12
"""Hours that a night's energy is reckoned over."""
SAID: dict[Answer, str] = {
    Answer.ENOUGH: "On all night it is enough",
    Answer.UNSURE: "On all night it may not be enough",
    Answer.NOT_ENOUGH: "On all night it is not enough",
}


def foreseen_orders(scene: Scene, plugs: Plugs) -> list[Order]:
    """Everything to do about what is told ahead in this place."""
    found: list[Order] = []
    for bed in scene.beds():
        if cold := scene.of(bed, Condition.COLD_AHEAD):
            found += _cold(scene, bed, cold, plugs)
        if heat := scene.of(bed, Condition.HEAT_AHEAD):
            found += _heat(scene, bed, heat, plugs)
    return [*found, *_mats(scene, plugs)]


@dataclass(frozen=True, slots=True)
class _Case:
    """One bin that a cold night lies ahead of, and what its zone is told; None when that is not known now."""

    bed: Bin
    alarms: Sequence[Alarm]
    told: Told | None

    @property
    def now(self) -> Now | None:
        return now_of(self.told) if self.told is not None and self.told.forecast is not None else None


def _told(scene: Scene, bed: Bin, alarm: Alarm) -> Told | None:
    zone = alarm.key.subject.id.partition(".")[2] or alarm.evidence.zone or ""
    return scene.nights.get(f"{bed.id}.{zone}")


# ── a cold night ──────────────────────────────────────────────────────────────────────────────────────────────


def _cold(scene: Scene, bed: Bin, cold: Sequence[Alarm], plugs: Plugs) -> list[Order]:
    case = _Case(bed, cold, _told(scene, bed, cold[0]))
    now = case.now
    answer = asking.is_mat_enough(now) if now is not None else None
    orders: list[Order] = []
    note = ""
    for mat in scene.rules.mats_of(bed.id):
        if not serves(scene, mat, bed, cold[0]):
            continue
        order, said = _at_plug(scene, mat, case, answer, plugs)
        note = note or said
        orders += [order] if order is not None else []
    if not orders or (answer is not None and answer.answer is not Answer.ENOUGH) or (answer is None and not now):
        orders += _besides(scene, case, answer)
    if orders:
        return orders
    also = note or "nothing in its `can` helps, and no mat"
    return [bed_order(scene, Act.LOOK, bed, _look_words(note), cold, also=also, more=_helps(scene, case))]


def _look_words(note: str) -> str:
    return (
        "look again in an hour: its mat is on" if note.endswith(" on now") else "look and decide before the night"
    )


def _at_plug(scene: Scene, mat: Mat, case: _Case, answer: Enough | None, plugs: Plugs) -> tuple[Order | None, str]:
    """What to do at one plug, else why nothing."""
    other = next((o for o in plugs.orders if o.target == mat.id), None)
    if other is not None and other.act in (Act.MAT_OFF, Act.MAT_LOWER):
        return None, f"{mat.id} stays off: {other.why}"
    switched = scene.switched(mat)
    if mat.control is Control.THERMOSTAT or mat.control is Control.ALWAYS:
        return None, f"{mat.id} does by itself what it can"
    if switched is not None and switched.on:
        return None, f"{mat.id} is on now"
    says = _plug_says(scene, mat)
    if says is not None and says.switch is not Switch.ON and case.bed.id in says.wanted_by:
        return (
            None,
            f"{mat.id} stays as it is: {_names(scene, says.hindered_by)} on the same plug would get too hot",
        )
    return _switch_on(scene, mat, case, answer), ""


def _plug_says(scene: Scene, mat: Mat) -> asking.Says | None:
    """What every bin on it says, as far as their zones are told."""
    found = []
    for bed, zone in mat.warms:
        told = scene.nights.get(f"{bed}.{zone}")
        if told is None or told.forecast is None or not told.bed.learned.zone.warmed:
            continue
        off, on = now_of(told).ask(Plan()), now_of(told).ask(ALWAYS)
        if off is not None and on is not None:
            cold_off, cold_on, hot_on = (side.chance or 0.0 for side in (off.alarm[0], on.alarm[0], on.alarm[1]))
            found.append(Chances(bed, cold_off, cold_on, hot_on))
    return asking.plug_says(found) if found else None


def _switch_on(scene: Scene, mat: Mat, case: _Case, answer: Enough | None) -> Order:
    because = reason(scene, case.alarms[0], case.bed)
    now, latest = case.now, None
    by = next_evening(scene)
    if now is not None and answer is not None:
        latest = asking.latest_on(now, awake(scene, now.at))
        by = by if _can_wait(now, by) else latest or scene.at
    text = f"switch {named(mat)} on" if answer is not None else f"see that {named(mat)} is on"
    return Order(
        act=Act.MAT_ON,
        target=mat.id,
        words=text,
        why=because.why,
        cautions=cautions.that_belong(Act.MAT_ON, mat=True, first=(cautions.NO_THERMOSTAT,)),
        more=(*_answer_words(scene, mat, case, answer, latest), *because.more),
        needs=Ability.MATS,
        by=by,
        alarms=tuple(a.number for a in case.alarms),
        bins=(case.bed.id,),
        fact=because.fact,
    )


def next_evening(scene: Scene) -> Millis:
    """When the night is decided next by whoever may see to mats: the soonest of their evenings."""
    people = _who(scene)
    return next_of([p.evening or USUAL for p in people] or [USUAL], after=scene.at, tz=scene.tz)


def _who(scene: Scene) -> list[Person]:
    """Whoever hears of this place and may see to its mats."""
    return [
        person
        for person in scene.rules.people.values()
        if Ability.MATS in person.may and person.channels and (person.hears is None or scene.place in person.hears)
    ]


def _can_wait(now: Now, evening: Millis) -> bool:
    """Whether switching on in the evening keeps the chance below what a night is told from."""
    steps = (evening - now.at) // HOUR
    told = now.ask(switched(steps)) if 0 <= steps < AHEAD else None
    return told is not None and (told.alarm[0].chance or 0.0) < ON


def _answer_words(
    scene: Scene, mat: Mat, case: _Case, answer: Enough | None, latest: Millis | None
) -> Iterator[str]:
    """Is it enough, by when, what it costs; or why nobody can say."""
    if answer is None or case.now is None:
        written = f"`vermistat diary {mat.id} on`, or off, says so, and its bed learns what it adds"
        yield f"Nobody wrote whether {mat.id} is on: {written}."
        return
    low, high, least = (words.temperature(t, scene.units) for t in (answer.low, answer.high, answer.least))
    yield (
        f"{SAID[answer.answer]}: then expected down to {least} within 24 h ({low} to {high}), "
        f"{chance_words(answer.chance_on)} below the limit instead of {chance_words(answer.chance_off)} with it off."
    )
    zone = case.alarms[0].key.subject.id.partition(".")[2] or case.alarms[0].evidence.zone
    if control_of(mat, scene.rules) != (case.bed.id, zone):
        yield FAR
    if latest is not None and latest > scene.at:
        last = words.clock_time(latest, scene.tz, scene.at)
        yield f"Switched on by {last}, the latest hour at which somebody is up, it still is."
    on = case.now.ask(ALWAYS)
    if mat.power and on is not None:
        yield energy_words(scene, asking.night_kwh(on, mat.power, NIGHT_H))


def energy_words(scene: Scene, kwh: float) -> str:
    """What a night takes, and costs where the settings say what a kilowatt-hour does."""
    price = scene.rules.energy
    cost = f", {kwh * price.price:.2f} {price.currency}" if price is not None else ""
    return f"On for {NIGHT_H} h it takes {kwh:.2f} kWh{cost}."


def _besides(scene: Scene, case: _Case, answer: Enough | None) -> list[Order]:
    """What warms or keeps warm besides a mat, as far as its `can` allows."""
    bed, alarms = case.bed, case.alarms
    more = (*_helps(scene, case), *(() if answer is None else _not_enough_words(scene, answer)))
    if Remedy.INSULATE in bed.can:
        over = "around the sides, never over its mat" if scene.rules.mats_of(bed.id) else "around the sides"
        text = f"wrap it before the night, {over}"
        return [
            bed_order(
                scene,
                Act.INSULATE,
                bed,
                text,
                alarms,
                more=more,
                first=(cautions.AIR_HOLES,),
                by=next_evening(scene),
            )
        ]
    if Remedy.COVER in bed.can:
        return [
            bed_order(
                scene, Act.COVER, bed, "close its cover for the night", alarms, more=more, by=next_evening(scene)
            )
        ]
    if Remedy.MOVE in bed.can:
        best = next(iter(_places(scene, case)), None)
        where = f"{best.name} for the night" if best else "a warmer place"
        text = f"move it to {where}, two people or a trolley"
        return [
            bed_order(
                scene, Act.MOVE, bed, text, alarms, more=more, last=(cautions.WARM_SLOWLY,), by=next_evening(scene)
            )
        ]
    return []


def _not_enough_words(scene: Scene, answer: Enough) -> tuple[str, ...]:
    least = words.temperature(answer.least, scene.units)
    return (
        f"Its mat alone: {SAID[answer.answer].lower()}, {least} at least, {chance_words(answer.chance_on)} below.",
    )


def _helps(scene: Scene, case: _Case) -> tuple[str, ...]:
    """What else helps, and by how much: the least of each that brings the chance below 1 in 10."""
    now, bed = case.now, case.bed
    kilos = bed.bedding
    if now is None or not kilos:
        return ()
    options = asking.what_else(now, holds=kilos * MOIST, area=_area(bed))
    said = [_option_words(option, scene) for option in options]
    said += [_place_words(other, scene) for other in _places(scene, case)]
    where = (f"Insulation goes {asking.NOT_THERE[0]}.",) if any(o.help is Help.FOAM for o in options) else ()
    return (*said, *where)


class _Other(NamedTuple):
    """Another place: its name, the coldest of its air that is expected, and P(below the limit) there without a mat."""

    name: str
    coldest: float
    chance: float


def _places(scene: Scene, case: _Case) -> list[_Other]:
    """Where else it could stand tonight, the best first, as far as it may be moved and the air there is known: only what
    halves the chance that is left with its mat on all night.
    """
    now = case.now
    here = now.ask(ALWAYS) if now is not None else None
    if now is None or here is None or here.least[1].chance is None or Remedy.MOVE not in case.bed.can:
        return []
    found = []
    for place in scene.rules.places.values():
        room = scene.rooms.get(place.id)
        if place.id == case.bed.place or room is None or room.newest is None or now.at - room.newest > LASTS:
            continue
        told = replace(now, room=room, outdoor=None).ask(Plan())
        if told is None or told.least[1].chance is None or told.least[1].chance >= here.least[1].chance / 2:
            continue
        members = ahead(room)[1]
        coldest = sum(min(member) for member in members) / len(members)
        found.append(_Other(place.name, coldest, told.least[1].chance))
    return sorted(found, key=lambda other: (other.chance, -other.coldest))


def _place_words(other: _Other, scene: Scene) -> str:
    coldest = words.temperature(other.coldest, scene.units)
    return f"In {other.name}, whose air is {coldest} at its coldest within a day, and without its mat: " + (
        f"{chance_words(other.chance)} below the limit."
    )


def _option_words(option: asking.Option, scene: Scene) -> str:
    what = {
        Help.FOAM: f"{option.amount:g} mm of foam all round",
        Help.PLACE: f"a place at {words.limit(option.amount, scene.units)}",
        Help.MAT: f"another mat of {option.amount:g} W under its own thermostat",
    }[option.help]
    return f"With {what}: {chance_words(option.chance)} below the limit."


def _area(bed: Bin) -> float | None:
    """m² of walls and lid, of a vessel half as long again as wide."""
    floor, depth = bed.vessel.floor, bed.vessel.depth
    if not floor or not depth:
        return None
    width = math.sqrt(floor / 1.5)
    return floor + 2 * (width + 1.5 * width) * depth


def awake(scene: Scene, at: Millis) -> list[bool]:
    """Whether anybody who may see to mats is up at the beginning of each of the next hours."""
    people = _who(scene)
    hours = [at + step * HOUR for step in range(AHEAD)]
    return [not people or any(_is_up(person, hour, scene.tz) for person in people) for hour in hours]


def _is_up(person: Person, at: Millis, tz: str) -> bool:
    if person.evening is None or person.up is None or person.evening == person.up:
        return True
    clock = words.local(at, tz).time().replace(tzinfo=None)
    return _between(person.up, person.evening, clock)


def _between(first: time, last: time, clock: time) -> bool:
    return first <= clock <= last if first <= last else clock >= first or clock <= last


def _names(scene: Scene, beds: Sequence[str]) -> str:
    return words.joined([scene.rules.bins[bed].name for bed in beds if bed in scene.rules.bins])


# ── heat ──────────────────────────────────────────────────────────────────────────────────────────────────────


def _heat(scene: Scene, bed: Bin, heat: Sequence[Alarm], plugs: Plugs) -> list[Order]:
    orders = []
    for mat in scene.rules.mats_of(bed.id):
        switched = scene.switched(mat)
        other = next((o for o in plugs.orders if o.target == mat.id), None)
        by_hand = mat.control in (Control.HAND, Control.UNKNOWN, Control.TIMER)
        cold = any(
            scene.of(b, Condition.COLD, Condition.COLD_AHEAD)
            for b in scene.beds()
            if any(b.id == x for x, _ in mat.warms)
        )
        if by_hand and switched is not None and switched.on and other is None and not cold:
            orders.append(_switch_off(scene, mat, bed, heat))
    if Remedy.SHADE in bed.can:
        orders.append(bed_order(scene, Act.SHADE, bed, "shade it before the sun is on it", heat))
    if Remedy.AIR in bed.can:
        first = (cautions.NO_FLOOD,)
        orders.append(bed_order(scene, Act.AIR, bed, "open its cover while the air is cooler", heat, first=first))
    if not orders:
        both = (cautions.BOTTLES, cautions.NO_FLOOD)
        orders.append(bed_order(scene, Act.LOOK, bed, "look and decide before it gets hot", heat, first=both))
    return orders


def _switch_off(scene: Scene, mat: Mat, bed: Bin, heat: Sequence[Alarm]) -> Order:
    because = reason(scene, heat[0], bed)
    return Order(
        act=Act.MAT_OFF,
        target=mat.id,
        words=f"switch {named(mat)} off",
        why=because.why,
        cautions=cautions.that_belong(Act.MAT_OFF, mat=True),
        more=because.more,
        needs=Ability.MATS,
        by=scene.at,
        alarms=tuple(a.number for a in heat),
        bins=(bed.id,),
        fact=because.fact,
    )


# ── beds that still learn ─────────────────────────────────────────────────────────────────────────────────────


def roughly(place: str, rules: Rules, nights: Nights, at: Millis) -> str:
    """One line of the night in a place with beds that have no errors of their own to tell by: of the one nearest its limit."""
    found = []
    for bed in rules.bins.values():
        for told in nights.get(bed.id, {}).values() if bed.place == place else ():
            forecast = told.forecast
            if (
                forecast is not None
                and not forecast.may_alarm
                and at - told.at <= LASTS
                and told.limits[0] is not None
            ):
                side = forecast.least[0]
                found.append((side.point - told.limits[0], bed.name, side.low, side.high))
    if not found:
        return ""
    _, name, low, high = min(found)
    units = rules.site.units
    cold, warm = words.temperature(low, units), words.temperature(high, units)
    return words.shorten(f"Tonight, roughly: {name} {cold} to {warm} at its coldest; it still learns.", 90)


# ── mats ──────────────────────────────────────────────────────────────────────────────────────────────────────


def _mats(scene: Scene, plugs: Plugs) -> Iterator[Order]:
    for alarm in scene.alarms:
        mat = scene.rules.mats.get(alarm.key.subject.id)
        if mat is None or alarm.key.condition not in _OF_MATS:
            continue
        other = next((o for o in plugs.orders if o.target == mat.id), None)
        off = other is not None and other.act in (Act.MAT_OFF, Act.MAT_LOWER)
        name = named(mat)
        if alarm.key.condition is Condition.MAT_UNNEEDED:
            said = _Said(Act.LOOK, f"unplug {name} for the warm months", "not needed for a week", _UNNEEDED)
        elif alarm.key.condition is Condition.MAT_UNTRIED:
            hours = alarm.evidence.statistic or "4 h"
            said = _Said(Act.LOOK, f"try {name} one afternoon, on for {hours}", "before the cold comes", _UNTRIED)
        elif alarm.key.condition is Condition.MAT_STRONG:
            said = _Said(Act.LOOK, f"give {name} a thermostat, or fewer hours", "too warm all night", _STRONG)
        elif off:
            said = _Said(Act.LOOK, f"look later why {name} does not heat", "it does not heat", _DEAD)
        else:
            said = _Said(Act.MAT_CHECK, f"look at {name}: it does not heat", "its bed stays cold", _DEAD)
        yield _of_mat(scene, alarm, mat, said)


class _Said(NamedTuple):
    act: Act
    words: str
    fact: str
    more: tuple[str, ...]


_OF_MATS = (Condition.MAT_DEAD, Condition.MAT_STRONG, Condition.MAT_UNNEEDED, Condition.MAT_UNTRIED)
_UNNEEDED = (
    "Wait with it where nights may still turn: what is told ahead says so in the evening before.",
    "Wipe it, look at cable and plug, and keep it dry and flat, never folded.",
)
_UNTRIED = (
    "Write it down: `vermistat diary` with the mat's id and on, then off. What its bed does tells whether it lives.",
    "The same hours teach the bed how strong its mat is, so that a cold night's advice can be reckoned.",
    "Stay near while it is on for the first time after the summer, and feel whether it is warm and nothing smells.",
)
_DEAD = (
    "Is it warm to the hand? If not: plug, residual-current device, cable, fuse, thermostat.",
    "Only a mat that has died whole is found so; one at half its strength is not.",
    "What has been done about it, written with `vermistat done`, begins the watch anew.",
)
_STRONG = (
    "A thermostat in the line, its probe in the bed right above the mat, is what stops it when nobody looks.",
    "Or a mat of fewer watts: mats are sold from 10 W on (common practice).",
)


def _of_mat(scene: Scene, alarm: Alarm, mat: Mat, said: _Said) -> Order:
    arithmetic = alarm.evidence.arithmetic.rstrip(".")
    since = words.clock_time(alarm.since, scene.tz, scene.at)
    soon = min(before_the_night(alarm.raised_at, scene.tz), alarm.raised_at + SEEN_TO_WITHIN)
    return Order(
        act=said.act,
        target=mat.id,
        words=said.words,
        why=f"{arithmetic[:1].upper()}{arithmetic[1:]}; since {since}.",
        cautions=cautions.that_belong(said.act, mat=True),
        more=said.more,
        needs=Ability.MATS,
        by=soon if said.act is Act.MAT_CHECK else None,
        alarms=(alarm.number,),
        bins=tuple(dict.fromkeys(bed for bed, _ in mat.warms)),
        fact=said.fact,
    )
