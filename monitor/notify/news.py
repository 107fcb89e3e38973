"""Whether there is anything to tell somebody, and why not: of steps, of what stands, of what goes on for long."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from monitor.advice.acts import Order
from monitor.alarms.cycle import Alarm, Event, State, Transition
from monitor.alarms.holds import shelf_key
from monitor.checks.findings import Condition, Kind, PastEpisode, Subject
from monitor.notify import escalate, habit
from monitor.notify.desk import Desk
from monitor.notify.duty import last_resort, not_their_turn
from monitor.notify.ledger import NOTHING_SAID, Said, act_key
from monitor.notify.notices import Untold, Verdict
from monitor.notify.text import AGAIN, BEGINS, ENDS
from monitor.notify.wake import AHEAD
from monitor.readings import Millis
from monitor.rules import Level, Person

HUSHES = {
    Event.SUPPRESSED: "Suppressed by design: another alarm explains it.",
    Event.SHELVED: "Shelved for a while.",
    Event.OUT_OF_SERVICE: "Out of service while somebody works in the bin.",
}
"""Steps after which an alarm is not told; why, of one that stands no longer after its round."""

ASKED_FOR = (Event.UNSHELVED, Event.IN_SERVICE)
"""Steps that somebody asked to be told of when they come."""


OF_MATS = frozenset({Condition.MAT_STRONG, Condition.MAT_UNNEEDED, Condition.MAT_UNTRIED})
"""What is said once of a mat: that it is so no longer is no news."""


def episodes(person: Person, past: Sequence[PastEpisode], now: Millis) -> Iterator[Untold]:
    """Past episodes as what is to be told to a person."""
    for one in past:
        step = Transition(
            key=one.key,
            number=0,
            event=Event.RETURNED,
            before=State.UNACKNOWLEDGED,
            after=State.NORMAL,
            level=one.level,
            at=one.ended,
            round_at=now,
            cause="Seen only in readings that came late.",
            evidence=one.evidence,
        )
        yield Untold(person.id, one.key.subject.place, step, began=one.began)


def news_of(
    desk: Desk, person: Person, place: str, *, fresh: Sequence[Untold], waiting: Sequence[Untold]
) -> list[Untold]:
    """What of this round is to be told at all. The rest gets its decision here."""
    if not fresh:
        return []
    same = _acts(desk.orders(desk.advice, person, place)) == _acts(desk.orders(desk.before, person, place))
    queued = {one.transition.number for one in waiting if one.transition.number}
    news: list[Untold] = []
    for one in fresh:
        reason = not_at_all(desk, person, one)
        if reason is None and one.transition.number not in queued and same and _only_if_acts_change(one):
            reason = "What there is to do has not changed."
        if reason is None and _gets_better(desk, person, one):
            reason = "It gets better, and what there is to do about it was told before."
        if reason is None:
            news.append(one)
            if one.transition.number:
                queued.add(one.transition.number)
        else:
            desk.decide(one, Verdict.WITHHELD, reason)
    return news


def _gets_better(desk: Desk, person: Person, one: Untold) -> bool:
    """Whether it only fell to a lower level, and all that is to be done about it was read before."""
    alarm = desk.standing(one.transition.number)
    if one.transition.event is not Event.FELL or alarm is None:
        return False
    said = desk.said.get((person.id, one.place), {})
    return all(alarm.number in said.get(act_key(o), NOTHING_SAID).alarms for o in desk.orders_for(alarm))


def _acts(orders: Sequence[Order]) -> list[tuple[str, str]]:
    return [(order.act, order.target) for order in orders]


def _only_if_acts_change(one: Untold) -> bool:
    """Harm that begins, or is to come, and episodes that nobody could act on in time are told whatever there is to do."""
    if one.began is not None:
        return False
    if one.transition.event in ASKED_FOR:
        return False  # it was asked for: to be told then
    begins = one.transition.event in BEGINS
    return not (begins and (one.transition.level is Level.HARM or one.transition.key.condition in AHEAD))


def not_at_all(desk: Desk, person: Person, one: Untold) -> str | None:
    """Why a step is nothing to tell this person, None when it is."""
    if not person.channels:
        return f"{person.id} has no channel."
    call = desk.called.get(one.transition.number)
    absent = _absent(desk, person, one.transition.key.subject, one.transition.level)
    if absent is not None and (call is None or not call.asks(person.id)):
        return absent
    if one.transition.key.condition is Condition.POWER_BACK and one.transition.event in ENDS:
        return "That the power came back was told when it did."
    if one.transition.key.condition in AHEAD | OF_MATS and one.transition.event in ENDS:
        return "What was told ahead came, or did not: its end asks nothing of anybody."
    alarm = desk.alarms.get(one.transition.number)
    if one.transition.key.condition in AHEAD | OF_MATS and (alarm is None or not alarm.active):
        return "It was over before it could be told."
    return _no_news(desk, one.transition) or _like_before(desk, one) or _explains(desk, person, one)


def _explains(desk: Desk, person: Person, one: Untold) -> str | None:
    """Why a probe's trouble is no news: it only explains, of the same bin, what this person was told before."""
    step = one.transition
    if step.event is not Event.RAISED or step.key.subject.kind is not Kind.PROBE:
        return None
    said = desk.said.get((person.id, one.place), {})
    told = {n for acts in said.values() for n in acts.alarms}
    explained = next((a for a in desk.alarms.values() if a.cause == step.key and a.number in told), None)
    if explained is None:
        return None
    for order in desk.orders_for(desk.alarms[step.number]) if step.number in desk.alarms else ():
        said[act_key(order)] = Said(desk.now, urgent=False, alarms=(step.number,))
    return f"It explains what was told before: {explained.key.subject} {explained.key.condition}."


def _absent(desk: Desk, person: Person, subject: Subject, level: Level | None) -> str | None:
    """Why it is not this person's turn; of harm somebody always hears."""
    why = not_their_turn(person, subject, desk.rules, desk.now)
    if why is not None and level is Level.HARM and person in last_resort(subject, desk.rules, desk.now):
        return None
    return why


def _like_before(desk: Desk, one: Untold) -> str | None:
    """Why what goes on for long is no news, None when it is."""
    step, kept = one.transition, desk.habits.get(shelf_key(one.transition.key))
    if one.began is not None or kept is None or step.level is Level.HARM or step.event in ASKED_FOR:
        return None
    alarm = desk.standing(step.number)
    orders = desk.orders_for(alarm) if alarm is not None else ()
    if not habit.is_known(kept, orders):
        return None
    return f"It is like the {kept.nights - 1} nights before, and is said once a week until something changes."


def _no_news(desk: Desk, step: Transition) -> str | None:
    """Why a step is nothing to tell anybody, None when it is."""
    alarm, earlier = desk.alarms.get(step.number), desk.stood.get(step.number)
    if step.event is Event.ACKNOWLEDGED:
        return f"Seen by {step.who or 'somebody'}: that asks nothing of anybody."
    if step.event in HUSHES or (alarm is not None and alarm.suppressed):
        return _why_quiet(desk, alarm, step)
    if step.event in AGAIN and (alarm is None or not alarm.active):
        return "It is over."
    if step.event in AGAIN and alarm is not None and alarm.state is State.ACKNOWLEDGED:
        return "Somebody has seen it before, and it is the same still."
    if step.event in ENDS and earlier is not None and earlier.suppressed:
        quiet = _why_quiet(desk, earlier, step)
        return f"{quiet} So nobody was told that it began." if earlier.cause else quiet
    return None


def _why_quiet(desk: Desk, alarm: Alarm | None, step: Transition) -> str:
    """Which of the three suppressions keeps an alarm from being told."""
    if alarm is not None and alarm.cause is not None:
        return f"Suppressed by design: {alarm.cause.subject} {alarm.cause.condition} explains it."
    if alarm is not None and alarm.shelf is not None:
        return f"Shelved by {alarm.shelf.who} until {desk.clock(alarm.shelf.until)}."
    if alarm is not None and alarm.work is not None:
        if alarm.work.until > desk.now and step.event not in ENDS:
            until = desk.clock(alarm.work.until)
            return f"Out of service: {alarm.work.who} works in {alarm.work.bed} until {until}."
        return f"Out of service: it was there while {alarm.work.who} worked in {alarm.work.bed}."
    return HUSHES.get(step.event, "It is suppressed.")


def _mine(desk: Desk, person: Person, place: str) -> Iterator[Alarm]:
    """The alarms of a place that stand, that nobody has answered, and that are this person's to hear of."""
    for alarm in desk.alarms.values():
        if alarm.key.subject.place != place or alarm.state is not State.UNACKNOWLEDGED or alarm.suppressed:
            continue
        if person.channels and _absent(desk, person, alarm.key.subject, alarm.level) is None:
            yield alarm


def unsaid(desk: Desk, person: Person, place: str, known: set[int]) -> list[Alarm]:
    """Alarms for which there is something to do that this person has not read of, although no step told it."""
    said = desk.said.get((person.id, place), {})
    found = []
    for alarm in _mine(desk, person, place):
        orders = desk.orders_for(alarm)
        if alarm.number in known or habit.is_known(desk.habits.get(shelf_key(alarm.key)), orders):
            continue
        if any(alarm.number not in said.get(act_key(o), NOTHING_SAID).alarms for o in orders):
            found.append(alarm)
    return found


def unanswered(desk: Desk, person: Person, place: str) -> list[Alarm]:
    """Harm that still waits for somebody's eyes is said again before the night."""
    return [a for a in _mine(desk, person, place) if escalate.waits(a)]


def reminders(desk: Desk, person: Person, place: str) -> list[str]:
    """The keys of what goes on for long and of which this person hears once a week, tonight: with one that is due go those
    that soon will be.
    """
    night = habit.night_of(desk.now, desk.tz)
    mine = {
        key: kept
        for key, kept in desk.habits.items()
        if kept.place == place
        and person.channels
        and _absent(desk, person, habit.subject_of(key, kept), None) is None
        and not habit.laid_aside(key, desk.alarms.values())
    }
    if not any(habit.due(kept, person.id, desk.now, night) for kept in mine.values()):
        return []
    return [key for key, kept in mine.items() if habit.soon_due(kept, person.id, desk.now, night)]
