"""Who hears of each step, when, and why or why not. Restart-safe: everything it knows is handed in.

While somebody is awake a step is told in the round in which it happens. In their sleeping hours it is told only
when harm is entered and the advice holds something that they may do about it tonight; the rest waits for `up`
and is then told from what stands then. What is over never wakes. A step after which there is nothing else to do
than before is not told, unless it is harm.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from monitor import words
from monitor.advice.acts import AT_NIGHT, Act, Advice, Order
from monitor.alarms.cycle import Alarm, Event, State, Transition
from monitor.checks.findings import Condition, Kind, PastEpisode, Subject
from monitor.notify.hours import next_up, sleeping
from monitor.notify.notices import Decision, Notice, Untold, Verdict
from monitor.notify.text import AGAIN, BEGINS, ENDS, Over, compose, may, over_by_steps, over_in_the_past
from monitor.readings import Millis
from monitor.rules import Level, Person, Rules

CLIMATE = frozenset({Condition.COLD, Condition.HOT, Condition.DRY, Condition.WET, Condition.FLOODED})
"""What can harm a bed, and so may wake somebody."""

STRAIGHT_OUT = frozenset({Condition.STORE_FAILING})
"""Told at once at any hour: while nothing can be kept, a notice that waits for the morning may never be told."""

HUSHES = {
    Event.SUPPRESSED: "Suppressed by design: another alarm explains it.",
    Event.SHELVED: "Shelved for a while.",
    Event.OUT_OF_SERVICE: "Out of service while somebody works in the bin.",
}
"""Steps after which an alarm is not told; why, of one that stands no longer after its round."""

PAST = "past episode"
"""The event of a decision about an episode that only late readings show. Its alarm number is 0."""


@dataclass(frozen=True, slots=True)
class Planned:
    """What is told this round, why and why not, which queues are cleared, and what newly waits in them."""

    notices: tuple[Notice, ...]
    decisions: tuple[Decision, ...]
    told: tuple[tuple[str, str], ...]
    untold: tuple[Untold, ...]
    next_notice: int


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
) -> Planned:
    """Decide for each person about every step of this round, and about what waits.

    `transitions` may hold suppressed ones: each gets its decision. `alarms` are those that stand after the
    round and `stood` those that stood before it, by number: without `stood` it is not known of an alarm that is
    gone since when it stood, nor that it was suppressed. `advice` is what holds now in each place, `before` what
    held in the round before.
    """
    desk = _Desk(rules, alarms, stood or {}, advice, before, now, next_notice)
    for person in rules.people.values():
        fresh = [*(Untold(person.id, t.key.subject.place, t) for t in transitions), *_episodes(person, past, now)]
        places = {one.place for one in fresh} | {place for who, place in untold if who == person.id}
        for place in sorted(places):
            waiting = untold.get((person.id, place), ())
            _tell(desk, person, place, fresh=[one for one in fresh if one.place == place], waiting=waiting)
    _forget_the_gone(desk, untold)
    return Planned(
        tuple(desk.notices), tuple(desk.decisions), tuple(desk.told), tuple(desk.untold), desk.next_notice
    )


@dataclass(slots=True)
class _Desk:
    """One round at work."""

    rules: Rules
    alarms: Mapping[int, Alarm]
    stood: Mapping[int, Alarm]
    advice: Mapping[str, Advice]
    before: Mapping[str, Advice]
    now: Millis
    next_notice: int
    notices: list[Notice] = field(default_factory=list)
    decisions: list[Decision] = field(default_factory=list)
    told: list[tuple[str, str]] = field(default_factory=list)
    untold: list[Untold] = field(default_factory=list)

    @property
    def tz(self) -> str:
        return self.rules.site.timezone

    def clock(self, at: Millis) -> str:
        return words.clock_time(at, self.tz, self.now)

    def decide(
        self, one: Untold, verdict: Verdict, reason: str, *, until: Millis | None = None, notice: int | None = None
    ) -> None:
        step = one.transition
        event = PAST if one.began is not None else str(step.event)
        self.decisions.append(
            Decision(self.now, one.person, step.number, event, verdict, reason, until=until, notice=notice)
        )

    def orders(self, advice: Mapping[str, Advice], person: Person, place: str) -> tuple[Order, ...]:
        """The orders of a place that a person hears of."""
        known = advice.get(place)
        return tuple(o for o in known.orders if _hears_order(person, place, o)) if known else ()

    def standing(self, number: int) -> Alarm | None:
        """An alarm that is active and told of, None for any other."""
        alarm = self.alarms.get(number)
        return alarm if alarm is not None and alarm.active and not alarm.suppressed else None


def _episodes(person: Person, past: Sequence[PastEpisode], now: Millis) -> Iterator[Untold]:
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


def _tell(desk: _Desk, person: Person, place: str, *, fresh: Sequence[Untold], waiting: Sequence[Untold]) -> None:
    news = _news(desk, person, place, fresh=fresh, waiting=waiting)
    if not sleeping(person, desk.now, desk.tz):
        if news or waiting:
            _send(desk, person, place, news=news, waiting=waiting, woken_by=None)
        return
    woken_by = next((one for one in (*waiting, *news) if _wakes(desk, person, one)), None)
    if woken_by is not None:
        _send(desk, person, place, news=news, waiting=waiting, woken_by=woken_by)
        return
    until = next_up(person, desk.now, desk.tz)
    for one in news:
        desk.decide(one, Verdict.HELD, _why_held(desk, person, one, until), until=until)
    desk.untold.extend(news)


def _news(
    desk: _Desk, person: Person, place: str, *, fresh: Sequence[Untold], waiting: Sequence[Untold]
) -> list[Untold]:
    """What of this round is to be told at all. The rest gets its decision here."""
    same = _acts(desk.orders(desk.advice, person, place)) == _acts(desk.orders(desk.before, person, place))
    queued = {one.transition.number for one in waiting if one.transition.number}
    news: list[Untold] = []
    for one in fresh:
        reason = _not_at_all(desk, person, one)
        if reason is None and one.transition.number not in queued and same and _only_if_acts_change(one):
            reason = "What there is to do has not changed."
        if reason is None:
            news.append(one)
            if one.transition.number:
                queued.add(one.transition.number)
        else:
            desk.decide(one, Verdict.WITHHELD, reason)
    return news


def _acts(orders: Sequence[Order]) -> list[tuple[str, str]]:
    return [(order.act, order.target) for order in orders]


def _only_if_acts_change(one: Untold) -> bool:
    """Harm that begins and episodes that nobody could act on in time are told whatever there is to do."""
    if one.began is not None:
        return False
    if one.transition.event in (Event.UNSHELVED, Event.IN_SERVICE):
        return False  # it was asked for: to be told then
    return not (one.transition.event in BEGINS and one.transition.level is Level.HARM)


def _not_at_all(desk: _Desk, person: Person, one: Untold) -> str | None:
    """Why a step is nothing to tell this person, None when it is."""
    if not person.channels:
        return f"{person.id} has no channel."
    if not _hears(person, one.transition.key.subject, desk.rules):
        return f"{person.id} hears only of {words.joined(sorted(person.hears or ()))}."
    if one.transition.key.condition is Condition.POWER_BACK and one.transition.event in ENDS:
        return "That the power came back was told when it did."
    return _no_news(desk, one.transition)


def _no_news(desk: _Desk, step: Transition) -> str | None:
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


def _why_quiet(desk: _Desk, alarm: Alarm | None, step: Transition) -> str:
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


def _wakes(desk: _Desk, person: Person, one: Untold) -> bool:
    """Whether a step is worth somebody's sleep, as things stand now."""
    step = one.transition
    alarm = desk.standing(step.number)
    if alarm is None or step.event not in BEGINS or not _hears(person, step.key.subject, desk.rules):
        return False
    if step.key.condition in STRAIGHT_OUT:
        return True
    if step.key.condition not in CLIMATE or not _bad_enough(desk, alarm):
        return False
    return _hours_unsure(desk, alarm) or _something_to_do(desk, person, alarm) is not None


def _bad_enough(desk: _Desk, alarm: Alarm) -> bool:
    if alarm.level is Level.HARM:
        return True
    bed = desk.rules.bins.get(alarm.key.subject.bed)
    return bed is not None and bed.wake_for is Level.COMFORT


def _hours_unsure(desk: _Desk, alarm: Alarm) -> bool:
    """With the clock unsure nobody knows whether it is night, so harm is told at once."""
    unsure = any(a.key.condition is Condition.CLOCK_UNSURE and a.active for a in desk.alarms.values())
    return unsure and alarm.level is Level.HARM


def _something_to_do(desk: _Desk, person: Person, alarm: Alarm) -> Order | None:
    """What this person may do about an alarm tonight."""
    orders = desk.orders(desk.advice, person, alarm.key.subject.place)
    return next((o for o in orders if alarm.number in o.alarms and o.act in AT_NIGHT and may(person, o)), None)


def _why_held(desk: _Desk, person: Person, one: Untold, until: Millis) -> str:
    step = one.transition
    wait = f"{person.id} sleeps until {desk.clock(until)}"
    alarm = desk.standing(step.number)
    if one.began is not None or step.event in ENDS or alarm is None:
        return f"{wait}; what is over wakes nobody."
    if step.event is Event.FELL:
        return f"{wait}; what gets better wakes nobody."
    if step.key.condition not in CLIMATE:
        return f"{wait}; {step.key.condition} harms no bed by itself."
    if not _bad_enough(desk, alarm):
        return f"{wait}; it is out of comfort, not in harm."
    return f"{wait}; it is harm, but the advice holds nothing that {person.id} may do about it tonight."


def _send(
    desk: _Desk,
    person: Person,
    place: str,
    *,
    news: Sequence[Untold],
    waiting: Sequence[Untold],
    woken_by: Untold | None,
) -> None:
    """One notice with everything for this place, and the queue emptied."""
    if waiting:
        desk.told.append((person.id, place))
    kept = list(_still_worth_telling(desk, person, waiting))
    steps = [*kept, *news]
    if not steps:
        return
    notice = _notice(desk, person, place, steps, woke=woken_by is not None)
    desk.notices.append(notice)
    desk.next_notice += 1
    for one in steps:
        reason = _why_told(desk, person, one, fresh=one not in kept, woken_by=woken_by)
        desk.decide(one, Verdict.TOLD, reason, notice=notice.number)


def _still_worth_telling(desk: _Desk, person: Person, waiting: Sequence[Untold]) -> Iterator[Untold]:
    for one in waiting:
        reason = _not_at_all(desk, person, one)
        if reason is None:
            yield one
        else:
            desk.decide(one, Verdict.WITHHELD, reason)


def _why_told(desk: _Desk, person: Person, one: Untold, *, fresh: bool, woken_by: Untold | None) -> str:
    step = one.transition
    if woken_by is None:
        return (
            f"{person.id} is awake."
            if fresh
            else f"{person.id} is up; it waited since {desk.clock(step.round_at)}."
        )
    if one is not woken_by:
        return f"{person.id} is woken by alarm {woken_by.transition.number} here, so this rides along."
    if step.key.condition in STRAIGHT_OUT:
        return f"{person.id} sleeps, but while nothing can be kept this cannot wait."
    alarm = desk.standing(step.number)
    order = _something_to_do(desk, person, alarm) if alarm else None
    why = f"there is something to do: {order.words}" if order else "the clock is unsure, and so the hour"
    what = "harm is entered" if alarm and alarm.level is Level.HARM else "the bin says `wake_for: comfort`"
    return f"{person.id} sleeps, but {what} and {why}."


def _notice(desk: _Desk, person: Person, place: str, steps: Sequence[Untold], *, woke: bool) -> Notice:
    orders = desk.orders(desk.advice, person, place)
    numbers = {one.transition.number for one in steps}
    told = {n for n in numbers if desk.standing(n)}
    news = [order for order in orders if told & set(order.alarms)]
    answered = {n for order in news for n in order.alarms}
    news += [_bare(desk, desk.alarms[n]) for n in sorted(told - answered)]
    still = [] if woke else [o for o in orders if o not in news and any(map(desk.standing, o.alarms))]
    text = compose(news, still, _over(desk, steps), person=person, rules=desk.rules, place=place, now=desk.now)
    return Notice(
        number=desk.next_notice,
        person=person.id,
        place=place,
        channels=person.channels,
        at=desk.now,
        lines=text.lines,
        more=text.more,
        alarms=tuple(sorted((numbers | {n for order in news for n in order.alarms}) - {0})),
        woke=woke,
    )


def _bare(desk: _Desk, alarm: Alarm) -> Order:
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


def _over(desk: _Desk, steps: Sequence[Untold]) -> list[Over]:
    """What is over among the steps: one for each alarm that stands no longer, and each past episode."""
    found = [over_in_the_past(one.transition, one.began) for one in steps if one.began is not None]
    by_number: dict[int, list[Transition]] = {}
    for one in steps:
        if one.began is None:
            by_number.setdefault(one.transition.number, []).append(one.transition)
    ended = {number: mine for number, mine in by_number.items() if not desk.standing(number)}
    return found + [over_by_steps(mine, desk.stood.get(n) or desk.alarms.get(n)) for n, mine in ended.items()]


def _forget_the_gone(desk: _Desk, untold: Mapping[tuple[str, str], tuple[Untold, ...]]) -> None:
    """Nobody is left to hear of what waited for somebody who is no longer among the people."""
    for (who, place), waiting in untold.items():
        if who not in desk.rules.people:
            desk.told.append((who, place))
            for one in waiting:
                desk.decide(one, Verdict.WITHHELD, f"{who} is no longer among the people.")


def _hears(person: Person, subject: Subject, rules: Rules) -> bool:
    """Whether a person hears of a subject; the daemon's own troubles everybody hears of."""
    if person.hears is None or not subject.place:
        return True
    return subject.place in person.hears or bool(person.hears & _beds_of(subject, rules))


def _beds_of(subject: Subject, rules: Rules) -> frozenset[str]:
    """The bins a subject is about: its own, those on a mat, those whose air a place's probe measures."""
    if subject.kind in (Kind.BIN, Kind.ZONE):
        return frozenset({subject.bed})
    if subject.kind is Kind.MAT:
        return (
            frozenset(bed for bed, _ in rules.mats[subject.id].warms) if subject.id in rules.mats else frozenset()
        )
    owners = {b.id for b in rules.bins.values() for z in b.zones for p in z.probes if p.id == subject.id}
    return frozenset(owners or {b.id for b in rules.bins.values() if b.place == subject.place})


def _hears_order(person: Person, place: str, order: Order) -> bool:
    if person.hears is None or not place or place in person.hears or not order.bins:
        return True
    return bool(person.hears & set(order.bins))
