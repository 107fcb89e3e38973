"""One notice to one person about one place: what goes into it, the reasons for each part, and what is remembered of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial

from monitor.advice.acts import Act, Order
from monitor.alarms.cycle import Alarm, Transition
from monitor.alarms.holds import shelf_key
from monitor.notify import escalate, habit
from monitor.notify.alive import LATE as LATE_SIGN
from monitor.notify.desk import Desk
from monitor.notify.duty import away_until, first_hand
from monitor.notify.evening import LATE, daily
from monitor.notify.hours import sleeping
from monitor.notify.ledger import Said, act_key
from monitor.notify.news import not_at_all
from monitor.notify.notices import Notice, Slot, Untold, Verdict
from monitor.notify.text import Life, Over, Reminder, compose, over_by_steps, over_in_the_past
from monitor.notify.wake import new_tonight, turned_by, why_woken
from monitor.rules import Level, Person

STANDS, REMINDED, PASSED_ON = "stands", "goes on", "not answered"
"""The events of decisions that no step asked for: in the evening or because what to do has changed, once a week, and
when somebody else has not answered.
"""


def send(
    desk: Desk,
    person: Person,
    place: str,
    *,
    news: Sequence[Untold],
    waiting: Sequence[Untold],
    slot: Slot,
    stands: Sequence[Alarm] = (),
    woken_by: Untold | None = None,
    reminders: Sequence[str] = (),
) -> None:
    """One notice with everything for this place, and the queue emptied."""
    if waiting:
        desk.told.append((person.id, place))
    kept = list(_still_worth_telling(desk, person, waiting))
    steps = [*kept, *news]
    if not steps and not stands and not reminders:
        return
    extra = (*_unasked(desk, person), *_tonight(desk, place, slot))
    notice = written(desk, person, place, steps, stands=stands, slot=slot, reminders=reminders, extra=extra)
    desk.notices.append(notice)
    desk.next_notice += 1
    for one in steps:
        reason = _why_told(desk, person, one, fresh=one not in kept, woken_by=woken_by, slot=slot)
        desk.decide(one, Verdict.TOLD, reason, notice=notice.number)
    for alarm in stands:
        reason = _why_stands(person, slot)
        desk.note(person.id, alarm.number, STANDS, verdict=Verdict.TOLD, reason=reason, notice=notice.number)
    for key in reminders:
        _reminded(desk, person, key, notice)
    remember(desk, person, place, notice)


def _unasked(desk: Desk, person: Person) -> tuple[str, ...]:
    end = away_until(person, desk.now, desk.tz)
    return () if end is None else ("You are away, and nobody else is there: ask somebody to go and do it.",)


def _tonight(desk: Desk, place: str, slot: Slot) -> tuple[str, ...]:
    """Of beds that still learn no night is told by itself; where there is something to tell anyhow, one line says it roughly."""
    line = desk.roughly(place) if slot is Slot.EVENING else ""
    return (line,) if line else ()


def _reminded(desk: Desk, person: Person, key: str, notice: Notice) -> None:
    kept = desk.habits[key]
    number = next((a.number for a in desk.alarms.values() if shelf_key(a.key) == key), 0)
    reason = f"It has gone on for {kept.nights} nights; {person.id} is reminded once a week."
    desk.note(person.id, number, REMINDED, verdict=Verdict.TOLD, reason=reason, notice=notice.number)
    desk.habits[key] = habit.reminded(kept, person.id, desk.now)


def remember(desk: Desk, person: Person, place: str, notice: Notice) -> None:
    """Every act that this notice tells of, and nothing that it undoes; harm is a call."""
    numbers = {n for n in notice.alarms if desk.standing(n)}
    said = desk.said.setdefault((person.id, place), {})
    for order in desk.advice[place].orders if place in desk.advice else ():
        told = numbers & set(order.alarms)
        if told:
            for act in [act for act in said if turned_by(act, order)]:
                del said[act]
            old = said.get(act_key(order))
            urgent = order.urgent or any(desk.alarms[n].level is Level.HARM for n in told)
            said[act_key(order)] = Said(desk.now, urgent, tuple(sorted(told | set(old.alarms if old else ()))))
    for number in numbers:
        if escalate.waits(desk.alarms[number]):
            desk.calls[number] = escalate.asking(desk.calls.get(number), desk.alarms[number], person.id, desk.now)


def _still_worth_telling(desk: Desk, person: Person, waiting: Sequence[Untold]) -> Iterator[Untold]:
    for one in waiting:
        reason = not_at_all(desk, person, one)
        if reason is None:
            yield one
        else:
            desk.decide(one, Verdict.WITHHELD, reason)


def _why_told(desk: Desk, person: Person, one: Untold, *, fresh: bool, woken_by: Untold | None, slot: Slot) -> str:
    step = one.transition
    if slot is Slot.NIGHT:
        if one is woken_by:
            return why_woken(desk, person, one)
        by = f"alarm {woken_by.transition.number} here" if woken_by else "what has changed here"
        return f"{person.id} is woken by {by}, so this rides along."
    if slot is Slot.EVENING:
        since = "" if fresh else f"; it waited since {desk.clock(step.round_at)}"
        return f"It is {person.id}'s evening, when the night is decided{since}."
    if fresh:
        return f"{person.id} is awake."
    return f"{person.id} is up; it waited since {desk.clock(step.round_at)}."


def _why_stands(person: Person, slot: Slot) -> str:
    if slot is Slot.EVENING:
        return f"It is {person.id}'s evening, and this stands: it is not answered, or asks for something not said yet."
    if slot is Slot.NIGHT:
        return f"{person.id} sleeps, but what to do is now the opposite of what was said."
    return f"What there is to do about it has changed since {person.id} was told."


HOURS_ARE_A_GUESS = "The clock is unsure: hours named here are a guess, spans are not."
"""The last line of every notice that is written while nobody knows the time."""


def written(
    desk: Desk,
    person: Person,
    place: str,
    steps: Sequence[Untold],
    *,
    slot: Slot,
    stands: Sequence[Alarm] = (),
    reminders: Sequence[str] = (),
    extra: Sequence[str] = (),
) -> Notice:
    """A notice to a person about a place, from the advice of this moment."""
    goes_on = {a.number for a in desk.alarms.values() if a.active and shelf_key(a.key) in reminders}
    numbers = {one.transition.number for one in steps} | {a.number for a in stands}
    told = {n for n in numbers if desk.standing(n)}
    heard = desk.orders(desk.advice, person, place)
    every = desk.advice[place].orders if place in desk.advice else ()
    news = [order for order in every if told & set(order.alarms)]
    answered = {n for order in news for n in order.alarms}
    news += [_bare(desk, desk.alarms[n]) for n in sorted(told - answered)]
    quiet = slot in (Slot.NIGHT, Slot.PASSED_ON)
    still = [] if quiet else [o for o in heard if o not in news and _still_to_do(desk, o, goes_on)]
    text = compose(
        news, still, _over(desk, steps), person=person, rules=desk.rules, place=place, now=desk.now,
        reminders=[_reminder(desk, key) for key in reminders], extra=extra, tonight=slot is Slot.EVENING,
    )  # fmt: skip
    return Notice(
        number=desk.next_notice,
        person=person.id,
        place=place,
        channels=person.channels,
        at=desk.now,
        lines=(*text.lines, HOURS_ARE_A_GUESS) if desk.clock_unsure else text.lines,
        more=text.more,
        alarms=tuple(sorted((numbers | goes_on | {n for order in news for n in order.alarms}) - {0})),
        woke=slot is Slot.NIGHT,
        slot=slot,
    )


def _still_to_do(desk: Desk, order: Order, goes_on: set[int]) -> bool:
    """Whether an order told before is worth repeating: what goes on every night has its own line once a week."""
    standing = [alarm for n in order.alarms if (alarm := desk.standing(n)) is not None and n not in goes_on]
    return any(not habit.is_habitual(desk.habits.get(shelf_key(a.key))) for a in standing)


def _reminder(desk: Desk, key: str) -> Reminder:
    kept, rules = desk.habits[key], desk.rules
    return Reminder(
        title=habit.title(key, kept, rules),
        why=habit.why(key, kept, rules),
        caution=kept.caution,
        how=habit.how_to_accept(key, kept, rules),
    )


def _bare(desk: Desk, alarm: Alarm) -> Order:
    """What can be said of an alarm whose advice is not at hand: the alarm itself."""
    subject = alarm.key.subject
    bed = subject.bed
    return Order(
        act=Act.LOOK,
        target=subject.id or str(alarm.key.condition),
        words=f"look: {alarm.key.condition} since {desk.clock(alarm.since)}",
        why=f"{alarm.evidence.arithmetic.rstrip('.')}.",
        alarms=(alarm.number,),
        urgent=alarm.level is Level.HARM,
        bins=(bed,) if bed in desk.rules.bins else (),
    )


_UNDONE: Mapping[Act, str] = {Act.FEED_LESS: "Feed as usual again."}
"""What ends with the trouble it was asked for."""


def _then(desk: Desk, person: str, place: str, number: int) -> str:
    """What a person need no longer do, of what they were told to."""
    acts = desk.said.get((person, place), {})
    told = {act.rpartition("/")[0] for act, one in acts.items() if number in one.alarms}
    return next((text for act, text in _UNDONE.items() if str(act) in told), "")


def _over(desk: Desk, steps: Sequence[Untold]) -> list[Over]:
    """What is over among the steps: one for each alarm that stands no longer, and each past episode."""
    found = [over_in_the_past(one.transition, one.began) for one in steps if one.began is not None]
    by_number: dict[int, list[Transition]] = {}
    for one in steps:
        if one.began is None:
            by_number.setdefault(one.transition.number, []).append(one.transition)
    for number, mine in by_number.items():
        if desk.standing(number):
            continue
        over = over_by_steps(mine, desk.stood.get(number) or desk.alarms.get(number))
        then = "" if over.level is Level.HARM else _then(desk, steps[0].person, steps[0].place, number)
        found.append(replace(over, then=then))
    return found


# ── passed on, and a sign of life ─────────────────────────────────────────────────────────────────────────────


def pass_on(desk: Desk) -> None:
    """Harm that nobody has answered, to whoever is next."""
    found: list[tuple[Alarm, Person]] = []
    why: dict[int, str] = {}
    for alarm in desk.alarms.values():
        if not escalate.waits(alarm) or _is_known_to_somebody(desk, alarm):
            continue
        call = desk.calls.get(alarm.number)
        one = escalate.next_for(alarm, call, desk.rules, now=desk.now, can_hear=partial(_can_hear, desk, alarm))
        if one is not None:
            found.append((alarm, one.person))
            why[alarm.number] = _why_passed_on(desk, one)
    for (who, place), alarms in escalate.in_one_notice(found).items():
        person = desk.rules.people[who]
        extra = tuple(dict.fromkeys(why[a.number] for a in alarms))
        notice = written(desk, person, place, [], stands=alarms, slot=Slot.PASSED_ON, extra=extra)
        notice = replace(notice, woke=sleeping(person, desk.now, desk.tz))
        desk.notices.append(notice)
        desk.next_notice += 1
        for alarm in alarms:
            reason = why[alarm.number]
            desk.note(who, alarm.number, PASSED_ON, verdict=Verdict.TOLD, reason=reason, notice=notice.number)
        remember(desk, person, place, notice)


def _is_known_to_somebody(desk: Desk, alarm: Alarm) -> bool:
    """Whether somebody was told tonight, for another alarm, to do all that is to be done about this one."""
    if (call := desk.calls.get(alarm.number)) is not None and not call.answered:
        return False
    return any(desk.doable(person, alarm) for person in first_hand(alarm.key.subject, desk.rules, desk.now))


def _can_hear(desk: Desk, alarm: Alarm, person: Person) -> bool:
    return not sleeping(person, desk.now, desk.tz) or new_tonight(desk, person, alarm) is not None


def _why_passed_on(desk: Desk, one: escalate.Next) -> str:
    who = one.instead_of.id
    if one.asked_at is None:
        return f"You stand in for {who}, who can do nothing about it now."
    return f"{who} was told at {desk.clock(one.asked_at)} and has not answered."


def sign_of_life_for(desk: Desk, person: Person, life: Life) -> None:
    """Once a day, for whoever wants it and is there."""
    clock = person.sign_of_life
    if clock is None or not person.channels or away_until(person, desk.now, desk.tz) is not None:
        return
    at = daily(clock, desk.now, desk.tz)
    before = desk.lives.get(person.id)
    if before is not None and at <= before <= desk.now:
        return
    desk.lives[person.id] = at
    if desk.now - at > (LATE if before is None else LATE_SIGN):
        return  # too late for that of today; on the first day there was none to be late
    text = life(person)
    desk.notices.append(
        Notice(
            desk.next_notice, person.id, "", person.channels, desk.now, text.lines, text.more, (), slot=Slot.LIFE
        )
    )
    desk.next_notice += 1
