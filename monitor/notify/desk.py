"""One round of telling at work: what it was handed, and what it has decided so far."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from monitor import words
from monitor.advice.acts import AT_NIGHT, Advice, Order
from monitor.alarms.cycle import Alarm
from monitor.checks.findings import Condition
from monitor.notify.duty import hears_order
from monitor.notify.ledger import Call, Habit, Said
from monitor.notify.notices import Decision, Notice, Untold, Verdict
from monitor.notify.text import may
from monitor.readings import Millis
from monitor.rules import Level, Person, Rules

CLIMATE = frozenset({Condition.COLD, Condition.HOT, Condition.DRY, Condition.WET, Condition.FLOODED})
"""What can harm a bed, and so may wake somebody."""

PAST = "past episode"
"""The event of a decision about an episode that only late readings show. Its alarm number is 0."""

Queue = tuple[str, str]


@dataclass(slots=True)
class Desk:
    """What `plan` was handed, and the copies it changes."""

    rules: Rules
    alarms: Mapping[int, Alarm]
    stood: Mapping[int, Alarm]
    advice: Mapping[str, Advice]
    before: Mapping[str, Advice]
    outlook: Mapping[str, Millis]
    now: Millis
    next_notice: int
    evenings: dict[str, Millis]
    mornings: dict[str, Millis]
    lives: dict[str, Millis]
    weeks: dict[str, Millis]
    said: dict[Queue, dict[str, Said]]
    habits: dict[str, Habit]
    calls: dict[int, Call]
    called: Mapping[int, Call]
    """As they were before this round."""
    roughly: Callable[[str], str] = lambda _place: ""
    """What is expected of the night in a place whose beds still learn, as one line; empty where there is nothing to say."""
    notices: list[Notice] = field(default_factory=list)
    decisions: list[Decision] = field(default_factory=list)
    told: list[Queue] = field(default_factory=list)
    untold: list[Untold] = field(default_factory=list)

    @property
    def tz(self) -> str:
        """The people's time zone."""
        return self.rules.site.timezone

    def clock(self, at: Millis) -> str:
        """A moment as the people read it."""
        return words.clock_time(at, self.tz, self.now)

    def decide(
        self, one: Untold, verdict: Verdict, reason: str, *, until: Millis | None = None, notice: int | None = None
    ) -> None:
        """Record why a person was, or was not, told of one step."""
        step = one.transition
        event = PAST if one.began is not None else str(step.event)
        self.note(one.person, step.number, event, verdict=verdict, reason=reason, until=until, notice=notice)

    def note(
        self,
        person: str,
        alarm: int,
        event: str,
        *,
        verdict: Verdict,
        reason: str,
        until: Millis | None = None,
        notice: int | None = None,
    ) -> None:
        """Record a decision that no step asked for."""
        self.decisions.append(
            Decision(self.now, person, alarm, event, verdict, reason, until=until, notice=notice)
        )

    def orders(self, advice: Mapping[str, Advice], person: Person, place: str) -> tuple[Order, ...]:
        """The orders of a place that a person hears of."""
        known = advice.get(place)
        if known is None:
            return ()
        return tuple(o for o in known.orders if hears_order(person, place, o, self.rules, self.now))

    def orders_for(self, alarm: Alarm) -> tuple[Order, ...]:
        """What there is to do about an alarm, whoever may do it."""
        known = self.advice.get(alarm.key.subject.place)
        return tuple(o for o in known.orders if alarm.number in o.alarms) if known else ()

    def standing(self, number: int) -> Alarm | None:
        """An alarm that is active and told of, None for any other."""
        alarm = self.alarms.get(number)
        return alarm if alarm is not None and alarm.active and not alarm.suppressed else None

    def doable(self, person: Person, alarm: Alarm) -> Sequence[Order]:
        """What this person may do about an alarm tonight."""
        return [o for o in self.orders_for(alarm) if o.act in AT_NIGHT and may(person, o)]

    @property
    def clock_unsure(self) -> bool:
        """Whether nobody knows the hour."""
        return any(a.key.condition is Condition.CLOCK_UNSURE and a.active for a in self.alarms.values())

    def bad_enough(self, alarm: Alarm) -> bool:
        """Whether an alarm's level is one that the bin's settings wake for."""
        if alarm.level is Level.HARM:
            return True
        bed = self.rules.bins.get(alarm.key.subject.bed)
        return bed is not None and bed.wake_for is Level.COMFORT
