"""What is worth somebody's sleep: harm that is likely before they get up, and something they may do about it tonight.

Decided anew in every round for what waits, from what stands then.
"""

from __future__ import annotations

from monitor.advice.acts import OPPOSITES, Order
from monitor.alarms.cycle import Alarm, Event
from monitor.checks.findings import Condition, Kind
from monitor.notify.desk import CLIMATE, Desk
from monitor.notify.duty import hears
from monitor.notify.evening import harm_before, last_evening
from monitor.notify.hours import next_up
from monitor.notify.ledger import Said, act_key
from monitor.notify.notices import Untold
from monitor.notify.text import BEGINS, ENDS
from monitor.readings import Millis
from monitor.rules import Level, Person

STRAIGHT_OUT = frozenset({Condition.STORE_FAILING})
"""Told at once at any hour: while nothing can be kept, a notice that waits for the morning may never be told."""

DEAF = frozenset({Condition.BROKER_LOST})
"""Wakes only if harm was last thought possible: else nothing is lost by the morning."""


AHEAD = frozenset({Condition.COLD_AHEAD, Condition.HEAT_AHEAD})
"""What is told before it is there; wakes nobody by itself."""


def wakes(desk: Desk, person: Person, one: Untold) -> bool:
    """Whether a step is worth somebody's sleep, as things stand now."""
    step = one.transition
    alarm = desk.standing(step.number)
    if alarm is None or step.event not in BEGINS:
        return False
    if step.key.condition in STRAIGHT_OUT:
        return True
    if step.key.condition in DEAF:
        return threatened(desk, person) is not None
    return (
        step.key.condition in CLIMATE
        and _likely(desk, person, alarm)
        and _worth_it(desk, person, alarm, step.event)
    )


def _worth_it(desk: Desk, person: Person, alarm: Alarm, event: Event) -> bool:
    if desk.clock_unsure and alarm.level is Level.HARM:
        return True
    if event in (Event.UNSHELVED, Event.IN_SERVICE):
        return bool(desk.doable(person, alarm))  # told as pressing before, and put aside until now
    return new_tonight(desk, person, alarm) is not None


def _likely(desk: Desk, person: Person, alarm: Alarm) -> bool:
    if desk.bad_enough(alarm):
        return True
    return harm_before(alarm, next_up(person, desk.now, desk.tz), desk.outlook) and not _read_ahead(
        desk, person, alarm
    )


def _read_ahead(desk: Desk, person: Person, alarm: Alarm) -> bool:
    """Whether this person has decided tonight already, knowing that harm was likely before the morning."""
    ahead = {
        a.number
        for a in desk.alarms.values()
        if a.key.condition in AHEAD and a.key.subject.bed == alarm.key.subject.bed
    }
    since = last_evening(person, desk.now, desk.tz)
    said = desk.said.get((person.id, alarm.key.subject.place), {})
    return any(one.at >= since and ahead & set(one.alarms) for one in said.values())


def new_tonight(desk: Desk, person: Person, alarm: Alarm) -> Order | None:
    """Something this person may do about an alarm, that they were not already told tonight is pressing."""
    said = desk.said.get((person.id, alarm.key.subject.place), {})
    since = last_evening(person, desk.now, desk.tz)
    return next((o for o in desk.doable(person, alarm) if not _pressed(said.get(act_key(o)), since)), None)


def _pressed(said: Said | None, since: Millis) -> bool:
    return said is not None and said.urgent and said.at >= since


def threatened(desk: Desk, person: Person) -> str | None:
    """What a bed was when it was last heard of, out of comfort or expected to come to harm before this person is up;
    None when no bed of theirs was near harm.
    """
    for alarm in desk.alarms.values():
        bed = alarm.key.subject.kind in (Kind.BIN, Kind.ZONE) and alarm.key.condition in CLIMATE
        if bed and alarm.active and hears(person, alarm.key.subject, desk.rules):
            return f"{alarm.key.subject.id} was {alarm.key.condition}"
    up = next_up(person, desk.now, desk.tz)
    expected = next((bed for bed, at in desk.outlook.items() if at < up and bed in desk.rules.bins), None)
    return None if expected is None else f"harm was expected in {expected}"


def turned_by(act: str, order: Order) -> bool:
    """Whether an order undoes an act of the ledger."""
    done, _, target = act.rpartition("/")
    return target == order.target and any({done, str(order.act)} == {*map(str, pair)} for pair in OPPOSITES)


def turned(desk: Desk, person: Person, order: Order, place: str) -> bool:
    """Whether an order undoes what this person was last told to do on that target."""
    return any(turned_by(act, order) for act in desk.said.get((person.id, place), {}))


def why_held(desk: Desk, person: Person, one: Untold, until: Millis) -> str:
    """Why a step waits for the morning, as a sentence."""
    return f"{person.id} sleeps until {desk.clock(until)}; {_why_not_now(desk, person, one)}."


def _why_not_now(desk: Desk, person: Person, one: Untold) -> str:
    step, alarm = one.transition, desk.standing(one.transition.number)
    if one.began is not None or step.event in ENDS or alarm is None:
        return "what is over wakes nobody"
    if step.event is Event.FELL:
        return "what gets better wakes nobody"
    if step.key.condition in DEAF:
        return "no bed was near harm when it was last heard of"
    if step.key.condition not in CLIMATE:
        return f"{step.key.condition} harms no bed by itself"
    return _why_not_worth_it(desk, person, alarm)


def _why_not_worth_it(desk: Desk, person: Person, alarm: Alarm) -> str:
    if not _likely(desk, person, alarm):
        return "it is out of comfort, not in harm"
    if desk.doable(person, alarm):
        return f"it is harm, but what {person.id} may do about it was told as pressing tonight already"
    return f"it is harm, but the advice holds nothing that {person.id} may do about it tonight"


def why_woken(desk: Desk, person: Person, one: Untold) -> str:
    """Why a step could not wait for the morning, as a sentence."""
    step = one.transition
    if step.key.condition in STRAIGHT_OUT:
        return f"{person.id} sleeps, but while nothing can be kept this cannot wait."
    if step.key.condition in DEAF:
        near = threatened(desk, person)
        return f"{person.id} sleeps, but {near} when it was last heard of, and now nobody watches."
    alarm = desk.standing(step.number)
    order = next(iter(desk.doable(person, alarm)), None) if alarm else None
    why = f"there is something to do: {order.words}" if order else "the clock is unsure, and so the hour"
    what = "harm is entered" if alarm and alarm.level is Level.HARM else _why_not_harm(desk, alarm)
    return f"{person.id} sleeps, but {what} and {why}."


def _why_not_harm(desk: Desk, alarm: Alarm | None) -> str:
    expected = alarm is not None and alarm.key.subject.bed in desk.outlook
    return "harm is expected before morning" if expected else "the bin says `wake_for: comfort`"
