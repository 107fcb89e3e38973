"""What goes on night after night is told three times, and then once a week, until something changes.

A bin that lives below its comfort band all winter asks for nothing new on the fourth night: what helps is a change
for good, either of the place or of the limit. So the weekly line says both, with real numbers.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date, timedelta

from monitor import words
from monitor.advice.acts import Order
from monitor.alarms.cycle import Alarm, Priority, State
from monitor.alarms.holds import key_of, shelf_key
from monitor.alarms.priority import priority_of
from monitor.checks.findings import AlarmKey, Condition, Kind, Subject
from monitor.notify.ledger import Habit, act_key
from monitor.readings import DAY, HOUR, Measures, Millis
from monitor.rules import Level, Rules, Units
from monitor.words import local

LIKE_NIGHTS = 3
"""So many nights alike are told each; from the next on it is a habit (proposal)."""
APART_NIGHTS = 3
"""So many nights without it end a habit (proposal)."""
UNLIKE: Mapping[str, float] = {"°C": 2.0, "%": 5.0}
"""How much further out than ever before in these nights is no longer alike (proposal)."""
WEEK: Millis = 7 * DAY
EARLY: Millis = 2 * HOUR
"""A reminder may come this much early: an evening is not the same moment every week."""
MOST_LOWS = 4

_SIDE: Mapping[Condition, tuple[Measures, bool]] = {
    Condition.COLD: (Measures.TEMPERATURE, True),
    Condition.HOT: (Measures.TEMPERATURE, False),
    Condition.DRY: (Measures.MOISTURE, True),
    Condition.WET: (Measures.MOISTURE, False),
}


def night_of(now: Millis, tz: str) -> date:
    """The night that a moment belongs to, by the day on which it begins: from noon to noon."""
    return local(now - 12 * HOUR, tz).date()


def is_habitual(habit: Habit | None) -> bool:
    """Whether it is no news any more."""
    return habit is not None and habit.nights > LIKE_NIGHTS


def is_known(habit: Habit | None, orders: Iterable[Order]) -> bool:
    """Whether what there is to do about it is what there was in the nights before."""
    return is_habitual(habit) and habit is not None and {act_key(order) for order in orders} <= set(habit.acts)


NO_HABIT = frozenset({Condition.POWER_BACK, Condition.COLD_AHEAD, Condition.HEAT_AHEAD})
"""What is told each time it comes: no night is like the one before before it was."""


def can_be(alarm: Alarm) -> bool:
    """Whether an alarm may become a habit: never harm, nor what blinds us."""
    return (
        alarm.active
        and not alarm.suppressed
        and alarm.level is not Level.HARM
        and priority_of(alarm.key, alarm.level) is not Priority.HIGH
        and alarm.key.condition not in NO_HABIT
    )


def _seen_to(alarm: Alarm, now: Millis) -> bool:
    """Whether somebody has lately answered for a bed's water: a day's median follows slowly what was poured."""
    side = _SIDE.get(alarm.key.condition)
    wet = side is not None and side[0] is Measures.MOISTURE
    return wet and alarm.state is State.ACKNOWLEDGED and now - alarm.changed_at < LIKE_NIGHTS * DAY


def grown(
    habits: Mapping[str, Habit],
    alarms: Iterable[Alarm],
    *,
    orders: Mapping[int, tuple[Order, ...]],
    values: Mapping[int, float],
    rules: Rules,
    now: Millis,
) -> tuple[dict[str, Habit], frozenset[str]]:
    """The habits after a round, and the keys of those that ended because something changed: those are news again.

    `orders` and `values` are by alarm number: what there is to do about it, and what decides it now.
    """
    found, broken, night = dict(habits), set[str](), night_of(now, rules.site.timezone)
    for alarm in alarms:
        key = shelf_key(alarm.key)
        old = found.get(key)
        if alarm.active and (alarm.level is Level.HARM or _seen_to(alarm, now)):
            found.pop(key, None)
        elif can_be(alarm):
            mine, value = orders.get(alarm.number, ()), values.get(alarm.number)
            new = _with(old, alarm, orders=mine, value=value, rules=rules, night=night)
            if is_habitual(old) and not is_habitual(new):
                broken.add(key)
            if new != old:
                found[key] = new
    for key, habit in list(found.items()):
        gone = (night - date.fromisoformat(habit.last)).days > APART_NIGHTS
        if gone or not _known(key, rules):
            del found[key]
    return found, frozenset(broken)


def _with(
    old: Habit | None,
    alarm: Alarm,
    *,
    orders: tuple[Order, ...],
    value: float | None,
    rules: Rules,
    night: date,
) -> Habit:
    acts = tuple(sorted({act_key(order) for order in orders}))
    first = orders[0] if orders else None
    fresh = Habit(
        nights=1,
        last=night.isoformat(),
        place=alarm.key.subject.place,
        bound=_comfort(alarm.key, rules),
        tonight=acts,
        low=value,
        words=first.words if first else "",
        caution=first.cautions[0] if first and first.cautions else "",
        set_to=_settings(alarm.key, rules),
    )
    if old is None or (old.bound, old.set_to) != (fresh.bound, fresh.set_to) or _unlike(old, alarm.key, value):
        return fresh
    if old.last >= fresh.last:
        return replace(
            old,
            tonight=tuple(sorted({*old.tonight, *acts})),
            low=_further(alarm.key, old.low, value),
            words=fresh.words or old.words,
            caution=fresh.caution or old.caution,
        )
    return replace(
        fresh,
        nights=old.nights + 1,
        acts=tuple(sorted({*old.acts, *old.tonight})),
        worst=_further(alarm.key, old.worst, old.low),
        words=fresh.words or old.words,
        caution=fresh.caution or old.caution,
        told=old.told,
    )


def _unlike(old: Habit, key: AlarmKey, value: float | None) -> bool:
    """Whether it is much further out than in all the nights before."""
    side = _SIDE.get(key.condition)
    if side is None or value is None or old.worst is None or not is_habitual(old):
        return False
    apart = old.worst - value if side[1] else value - old.worst
    return apart > UNLIKE["°C" if side[0] is Measures.TEMPERATURE else "%"]


def _further(key: AlarmKey, one: float | None, other: float | None) -> float | None:
    side = _SIDE.get(key.condition)
    known = [value for value in (one, other) if value is not None]
    if not known:
        return None
    return (min if side is None or side[1] else max)(known)


def _known(key: str, rules: Rules) -> bool:
    subject = key_of(key).subject
    return subject.kind not in (Kind.BIN, Kind.ZONE) or subject.bed in rules.bins


def _settings(key: AlarmKey, rules: Rules) -> tuple[float, ...]:
    """What the thermostats of a bin are set to: turning one is a change."""
    return tuple(m.set_to for m in rules.mats_of(key.subject.bed) if m.set_to is not None)


def _comfort(key: AlarmKey, rules: Rules) -> float | None:
    """The comfort limit that a condition is about, None for conditions without one."""
    side, band = _SIDE.get(key.condition), _band(key, rules)
    return None if side is None or band is None else band[0 if side[1] else 1]


def _band(key: AlarmKey, rules: Rules) -> tuple[float | None, float | None] | None:
    side, bed = _SIDE.get(key.condition), rules.bins.get(key.subject.bed)
    if side is None or bed is None:
        return None
    zone = next((z for z in bed.zones if f"{bed.id}.{z.id}" == key.subject.id), None)
    limits = (zone.limits if zone else bed.limits).get(side[0])
    if limits is None:
        return None
    return limits.low.value if limits.low else None, limits.high.value if limits.high else None


# ── the weekly line ───────────────────────────────────────────────────────────────────────────────────────────


def due(habit: Habit, person: str, now: Millis, night: date) -> bool:
    """Whether a person is to be reminded: it is a habit, it was there last night or is there tonight, and a week is over."""
    return is_habitual(habit) and _lately(habit, night) and _apart(habit, person, now) >= WEEK - EARLY


def soon_due(habit: Habit, person: str, now: Millis, night: date) -> bool:
    """Whether it goes along with another that is due: a night, or half a week, before its own time."""
    return habit.nights >= LIKE_NIGHTS and _lately(habit, night) and _apart(habit, person, now) >= WEEK // 2


def _lately(habit: Habit, night: date) -> bool:
    return night - date.fromisoformat(habit.last) <= timedelta(days=1)


def _apart(habit: Habit, person: str, now: Millis) -> Millis:
    """How long ago a person was reminded; a long time if never."""
    return now - dict(habit.told).get(person, now - WEEK)


def subject_of(key: str, habit: Habit) -> Subject:
    """What a habit is about."""
    return key_of(key).subject._replace(place=habit.place)


def laid_aside(key: str, alarms: Iterable[Alarm]) -> bool:
    """Whether it is explained, put aside or worked on just now."""
    return any(alarm.suppressed for alarm in alarms if shelf_key(alarm.key) == key)


def reminded(habit: Habit, person: str, now: Millis) -> Habit:
    """The habit after a person was reminded of it."""
    return replace(habit, told=tuple(sorted({**dict(habit.told), person: now}.items())))


def title(key: str, habit: Habit, rules: Rules) -> str:
    """Bin, what to change, or what to accept; at most 90 characters."""
    name, units = _name(key, rules), rules.site.units
    act = habit.words or "look"
    accept = acceptable(key, habit, rules)
    other = "" if accept is None else f", or accept {_shown(key, accept, units)}"
    tail = f"; {_nights(key, habit)} {_beyond(key, habit, units)}"
    for whole in (f"{name}: {act}{other}{tail}", f"{name}: {act}{other}"):
        if len(whole) <= 90:
            return whole
    return words.shorten(f"{name}: {act}{tail}", 90)


def why(key: str, habit: Habit, rules: Rules) -> str:
    """The furthest value of these nights against the limit, in the keeper's units."""
    units = rules.site.units
    furthest = _further(key_of(key), habit.worst, habit.low)
    if furthest is None or habit.bound is None:
        return f"So it was on {_nights(key, habit)}."
    below = _SIDE[key_of(key).condition][1]
    said = "Lowest" if below else "Highest"
    end = "from" if below else "up to"
    shown = _shown(key, furthest, units, beside=habit.bound)
    return f"{said} in {_nights(key, habit)} {shown}, comfort {end} {_shown(key, habit.bound, units)}."


def how_to_accept(key: str, habit: Habit, rules: Rules) -> str:
    """How the limit is written that would let it be, or why there is none."""
    what = key_of(key)
    side, band = _SIDE.get(what.condition), _band(what, rules)
    if side is None or band is None:
        return ""
    accept = acceptable(key, habit, rules)
    if accept is None:
        worst = _further(what, habit.worst, habit.low)
        return f"{'It' if worst is None else _shown(key, worst, rules.site.units)} cannot be accepted: harm begins there."
    low, high = (accept, band[1]) if side[1] else (band[0], accept)
    if low is None or high is None:
        return ""
    quantity = "temperature" if side[0] is Measures.TEMPERATURE else "moisture"
    bed, _, zone = what.subject.id.partition(".")
    where = f"bins, {bed}" + (f", zones, {zone}" if zone else "")
    written = f"{_plain(low, side[0], rules.site.units)}..{_shown(key, high, rules.site.units)}"
    return f"To accept it, write under {where}: limits: {{{quantity}: {{comfort: {written}}}}}"


def acceptable(key: str, habit: Habit, rules: Rules) -> float | None:
    """A comfort limit that these nights would have kept, outside harm; None when there is none.

    In whole degrees (or points) of the keeper's own units.
    """
    what = key_of(key)
    side, bed = _SIDE.get(what.condition), rules.bins.get(what.subject.bed)
    furthest = _further(what, habit.worst, habit.low)
    if side is None or bed is None or furthest is None:
        return None
    measures, below = side
    step = _whole(furthest, measures, rules.site.units, below=below)
    zone = next((z for z in bed.zones if f"{bed.id}.{z.id}" == what.subject.id), None)
    limits = (zone.limits if zone else bed.limits).get(measures)
    harms = [h.bound.value for h in limits.harm if h.below is below] if limits else []
    inside = all(step > bound if below else step < bound for bound in harms)
    return step if inside else None


def _whole(value: float, measures: Measures, units: Units, *, below: bool) -> float:
    """The next whole number beyond a value, at least a tenth away from it."""
    if measures is Measures.TEMPERATURE and units is Units.US:
        there = _whole(value * 9 / 5 + 32, Measures.MOISTURE, units, below=below)
        return (there - 32) * 5 / 9
    return math.floor(value - 0.1) if below else math.ceil(value + 0.1)


def _nights(key: str, habit: Habit) -> str:
    return words.amount(habit.nights, "day" if key_of(key).condition is Condition.HOT else "night")


def _beyond(key: str, habit: Habit, units: Units) -> str:
    what = key_of(key)
    side = _SIDE.get(what.condition)
    if side is None or habit.bound is None:
        return str(what.condition)
    return f"{'below' if side[1] else 'above'} {_shown(key, habit.bound, units)}"


def _shown(key: str, value: float, units: Units, *, beside: float | None = None) -> str:
    if _SIDE[key_of(key).condition][0] is Measures.MOISTURE:
        return words.percent(value)
    return words.limit(value, units) if beside is None else words.temperature(value, units, beside=beside)


def _plain(value: float, measures: Measures, units: Units) -> str:
    shown = words.percent(value) if measures is Measures.MOISTURE else words.limit(value, units)
    return shown.partition(" ")[0].replace(words.MINUS, "-")


def _name(key: str, rules: Rules) -> str:
    subject = key_of(key).subject
    bed, _, zone = subject.id.partition(".")
    if subject.kind in (Kind.BIN, Kind.ZONE) and bed in rules.bins:
        return f"{rules.bins[bed].name} {zone}".strip()
    return subject.id
