"""Who hears of each step, when, and why or why not. Restart-safe: everything it knows is handed in.

While somebody is awake, what must be done before their next slot is told in the round in which it happens, and so is
harm. What can wait is told together: at `evening` whatever matters tonight, at `up` the rest and what was over. In their
sleeping hours only `wake` decides. A step after which there is nothing else to do than before is not told, unless it is
harm; and what goes on night after night is a `habit`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from monitor.advice.acts import Advice, Order
from monitor.alarms.cycle import Alarm, Event, Priority, Transition
from monitor.alarms.holds import shelf_key
from monitor.alarms.priority import priority_of
from monitor.checks.findings import PastEpisode
from monitor.notify import escalate, habit
from monitor.notify.desk import CLIMATE, PAST, Desk
from monitor.notify.evening import LATE, has_hours, last_evening, last_up, matters_tonight, slot_after
from monitor.notify.hours import next_up, sleeping
from monitor.notify.ledger import EMPTY, Ledger, Said, act_key
from monitor.notify.news import ASKED_FOR, episodes, news_of, reminders, unanswered, unsaid
from monitor.notify.notices import Decision, Notice, Slot, Untold, Verdict
from monitor.notify.post import pass_on, send, sign_of_life_for
from monitor.notify.text import ENDS, Life
from monitor.notify.wake import turned, wakes, why_held
from monitor.notify.weekly import tell_weeks
from monitor.readings import DAY, Millis
from monitor.rules import Level, Person, Rules

__all__ = ["CLIMATE", "PAST", "Planned", "plan"]


@dataclass(frozen=True, slots=True)
class Planned:
    """What is told this round, why and why not, which queues are cleared, what newly waits in them, and what telling
    remembers from here on.
    """

    notices: tuple[Notice, ...]
    decisions: tuple[Decision, ...]
    told: tuple[tuple[str, str], ...]
    untold: tuple[Untold, ...]
    next_notice: int
    ledger: Ledger = EMPTY


def plan(
    *,
    rules: Rules,
    untold: Mapping[tuple[str, str], tuple[Untold, ...]],
    transitions: Sequence[Transition],
    past: Sequence[PastEpisode],
    alarms: Mapping[int, Alarm],
    advice: Mapping[str, Advice],
    before: Mapping[str, Advice],
    now: Millis,
    next_notice: int,
    stood: Mapping[int, Alarm] | None = None,
    ledger: Ledger = EMPTY,
    values: Mapping[int, float] | None = None,
    outlook: Mapping[str, Millis] | None = None,
    life: Life | None = None,
    heard: Mapping[date, bool] | None = None,
    roughly: Callable[[str], str] = lambda _place: "",
) -> Planned:
    """Decide for each person about every step of this round, and about what waits.

    `transitions` may hold suppressed ones: each gets its decision. `alarms` are those that stand after the
    round and `stood` those that stood before it, by number: without `stood` it is not known of an alarm that is
    gone since when it stood, nor that it was suppressed. `advice` is what holds now in each place, `before` what
    held in the round before. `values` are what decides each alarm now, `outlook` says by bin when harm is expected,
    `life` writes a sign of life for a person, `heard` says which weeks (by their Mondays) have any reading, and `roughly`
    writes a line about the night in a place whose beds still learn.
    """
    desk = Desk(
        rules, alarms, stood or {}, advice, before, outlook or {}, now, next_notice,
        evenings=dict(ledger.evenings), mornings=dict(ledger.mornings), lives=dict(ledger.lives),
        weeks=dict(ledger.weeks),
        said={queue: dict(acts) for queue, acts in ledger.said.items()},
        habits=dict(ledger.habits), calls=escalate.standing(ledger.calls, alarms), called=ledger.calls,
        roughly=roughly,
    )  # fmt: skip
    _carry(desk)
    _grow_habits(desk, values or {})
    for person in rules.people.values():
        _for_person(desk, person, transitions=transitions, past=past, untold=untold)
        if life is not None:
            sign_of_life_for(desk, person, life)
    tell_weeks(desk, heard or {})
    pass_on(desk)
    _forget_the_gone(desk, untold)
    return Planned(
        tuple(desk.notices),
        tuple(desk.decisions),
        tuple(desk.told),
        tuple(desk.untold),
        desk.next_notice,
        _kept(desk),
    )


def _kept(desk: Desk) -> Ledger:
    """What is remembered, without what is about nobody and nothing any more."""
    people = desk.rules.people
    said = {
        queue: alive
        for queue, acts in desk.said.items()
        if queue[0] in people and (alive := {act: one for act, one in acts.items() if _worth_keeping(desk, one)})
    }

    def known(kept: Mapping[str, Millis]) -> dict[str, Millis]:
        return {who: at for who, at in kept.items() if who in people}

    return Ledger(
        evenings=known(desk.evenings),
        mornings=known(desk.mornings),
        lives=known(desk.lives),
        weeks=known(desk.weeks),
        said=said,
        habits=desk.habits,
        calls=desk.calls,
    )


REMEMBERED: Millis = 2 * DAY
"""So long what was said of an alarm is remembered beyond it: until its end was told, too."""


def _worth_keeping(desk: Desk, one: Said) -> bool:
    return any(n in desk.alarms for n in one.alarms) or one.at > desk.now - REMEMBERED


def _carry(desk: Desk) -> None:
    """What was read of an act holds for every alarm that asks for the same."""
    for (_, place), acts in desk.said.items():
        for order in desk.advice[place].orders if place in desk.advice else ():
            one = acts.get(act_key(order))
            if one is not None and set(one.alarms) & set(order.alarms):
                acts[act_key(order)] = replace(one, alarms=tuple(sorted({*one.alarms, *order.alarms})))


def _grow_habits(desk: Desk, values: Mapping[int, float]) -> None:
    desk.habits, broken = habit.grown(
        desk.habits,
        desk.alarms.values(),
        orders={a.number: desk.orders_for(a) for a in desk.alarms.values() if habit.can_be(a)},
        values=values,
        rules=desk.rules,
        now=desk.now,
    )
    if broken:  # what has changed is to be said anew
        again = {a.number for a in desk.alarms.values() if shelf_key(a.key) in broken}
        for acts in desk.said.values():
            for act in [act for act, one in acts.items() if again & set(one.alarms)]:
                del acts[act]


@dataclass(frozen=True, slots=True)
class _Hour:
    """What this moment is for one person."""

    asleep: bool
    evening: bool
    """Their night is decided in this round."""
    morning: bool
    """They have got up since the round before."""


def _for_person(
    desk: Desk,
    person: Person,
    *,
    transitions: Sequence[Transition],
    past: Sequence[PastEpisode],
    untold: Mapping[tuple[str, str], tuple[Untold, ...]],
) -> None:
    hour = _hour(desk, person)
    fresh = [
        *(Untold(person.id, t.key.subject.place, t) for t in transitions),
        *episodes(person, past, desk.now),
    ]
    places = {one.place for one in fresh} | {place for who, place in untold if who == person.id}
    places |= set(desk.advice)
    if hour.evening:
        places |= {kept.place for kept in desk.habits.values()}
    for place in sorted(places):
        waiting = untold.get((person.id, place), ())
        mine = [one for one in fresh if one.place == place]
        _tell(desk, person, place, fresh=mine, waiting=waiting, hour=hour)


def _hour(desk: Desk, person: Person) -> _Hour:
    """Which slots begin for a person now; they are marked as decided."""
    now, tz = desk.now, desk.tz
    evening, up = last_evening(person, now, tz), last_up(person, now, tz)
    decided = desk.evenings.get(person.id, evening - 1)
    decided = decided if decided <= now else evening - 1  # kept by a clock that was ahead
    begins = evening > decided and now - evening <= LATE and not desk.clock_unsure
    asleep = sleeping(person, now, tz)
    gets_up = up is not None and not asleep and up > desk.mornings.get(person.id, up)
    desk.evenings[person.id] = evening
    if up is not None and not asleep:
        desk.mornings[person.id] = up
    return _Hour(asleep, begins, gets_up)


def _tell(
    desk: Desk, person: Person, place: str, *, fresh: Sequence[Untold], waiting: Sequence[Untold], hour: _Hour
) -> None:
    news = news_of(desk, person, place, fresh=fresh, waiting=waiting)
    known = {one.transition.number for one in (*waiting, *news)}
    changed = unsaid(desk, person, place, known)
    if hour.evening or hour.morning:
        _at_slot(desk, person, place, news=news, waiting=waiting, changed=changed, hour=hour)
    elif hour.asleep:
        _at_night(desk, person, place, news=news, waiting=waiting, changed=changed)
    else:
        _by_day(desk, person, place, news=news, waiting=waiting, changed=changed)


def _at_slot(
    desk: Desk,
    person: Person,
    place: str,
    *,
    news: Sequence[Untold],
    waiting: Sequence[Untold],
    changed: Sequence[Alarm],
    hour: _Hour,
) -> None:
    """`evening` and `up`: one notice with all that waits, if any of it belongs here."""
    habits = reminders(desk, person, place) if hour.evening else []
    stands = list(changed)
    belongs = [*waiting, *news]
    if hour.evening:
        known = {one.transition.number for one in belongs} | {a.number for a in changed}
        stands += [a for a in unanswered(desk, person, place) if a.number not in known]
        orders = desk.orders(desk.advice, person, place)
        if has_hours(person):
            belongs = [one for one in belongs if _tonight(desk, one, orders)]
            stands = [a for a in stands if matters_tonight(a, orders)]
    if belongs or stands or habits:
        slot = Slot.EVENING if hour.evening else Slot.MORNING
        send(desk, person, place, news=news, waiting=waiting, stands=stands, reminders=habits, slot=slot)
    else:
        _hold(desk, person, news)


def _tonight(desk: Desk, one: Untold, orders: tuple[Order, ...]) -> bool:
    return one.transition.event not in ENDS and matters_tonight(desk.standing(one.transition.number), orders)


def _at_night(
    desk: Desk,
    person: Person,
    place: str,
    *,
    news: Sequence[Untold],
    waiting: Sequence[Untold],
    changed: Sequence[Alarm],
) -> None:
    woken_by = next((one for one in (*waiting, *news) if wakes(desk, person, one)), None)
    undone = [a for a in changed if _undone(desk, person, place, a)]
    if woken_by is not None or undone:
        send(desk, person, place, news=news, waiting=waiting, stands=undone, woken_by=woken_by, slot=Slot.NIGHT)
    else:
        _hold(desk, person, news)


def _undone(desk: Desk, person: Person, place: str, alarm: Alarm) -> bool:
    """Whether harm asks, tonight and of this person, for the opposite of what they were told."""
    return desk.bad_enough(alarm) and any(turned(desk, person, o, place) for o in desk.doable(person, alarm))


def _by_day(
    desk: Desk,
    person: Person,
    place: str,
    *,
    news: Sequence[Untold],
    waiting: Sequence[Untold],
    changed: Sequence[Alarm],
) -> None:
    orders = desk.orders(desk.advice, person, place)
    due = [one for one in (*waiting, *news) if _cannot_wait(desk, person, one, orders)]
    stands = [a for a in changed if a.level is Level.HARM]
    if due or stands:
        send(desk, person, place, news=news, waiting=waiting, stands=stands, slot=Slot.AT_ONCE)
    else:
        _hold(desk, person, news)


def _slot(desk: Desk, person: Person, one: Untold, orders: tuple[Order, ...], since: Millis) -> Millis:
    return slot_after(person, since, desk.tz, tonight=_tonight(desk, one, orders))


def _cannot_wait(desk: Desk, person: Person, one: Untold, orders: tuple[Order, ...]) -> bool:
    """Whether it is told by day when it happens: harm, what blinds us, or what is to be done before the next slot."""
    step = one.transition
    if not has_hours(person) or step.level is Level.HARM or step.event in ASKED_FOR:
        return True
    slot = _slot(desk, person, one, orders, step.round_at)
    if slot <= desk.now:
        return True
    alarm = desk.standing(step.number)
    if alarm is None or step.event in ENDS or step.event is Event.FELL:
        return False
    if priority_of(step.key, alarm.level) is Priority.HIGH:
        return True
    dues = [o.by for o in orders if alarm.number in o.alarms and o.by is not None]
    return any(by < slot for by in dues)


def _hold(desk: Desk, person: Person, news: Sequence[Untold]) -> None:
    asleep = sleeping(person, desk.now, desk.tz)
    for one in news:
        if asleep:
            until = next_up(person, desk.now, desk.tz)
            reason = why_held(desk, person, one, until)
        else:
            orders = desk.orders(desk.advice, person, one.place)
            until = _slot(desk, person, one, orders, desk.now)
            reason = f"It can wait until {desk.clock(until)}, when {person.id} is told what has come together."
        desk.decide(one, Verdict.HELD, reason, until=until)
    desk.untold.extend(news)


def _forget_the_gone(desk: Desk, untold: Mapping[tuple[str, str], tuple[Untold, ...]]) -> None:
    """Nobody is left to hear of what waited for somebody who is no longer among the people."""
    for (who, place), waiting in untold.items():
        if who not in desk.rules.people:
            desk.told.append((who, place))
            for one in waiting:
                desk.decide(one, Verdict.WITHHELD, f"{who} is no longer among the people.")
