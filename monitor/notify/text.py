"""What a notice says. Line 1: bin, act, by when. Line 2: why, in numbers. Line 3: the one caution that fits.

The first two lines make sense when the whole is cut at 160 characters: line 1 is at most 90, and line 2 begins
with reading and limit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from monitor import words
from monitor.advice.acts import AT_NIGHT, Advice, Order
from monitor.advice.cautions import sourced
from monitor.alarms.cycle import Alarm, Event, Transition
from monitor.checks.findings import AlarmKey, Condition, Evidence, Kind
from monitor.readings import Millis
from monitor.rules import Ability, Level, Person, Rules, Units

FIRST_LINE = 90
CUT = 160
"""Characters after which a channel may cut the whole."""

FURTHER = 8
"""So many further acts stand in a notice as a line each; the rest is counted."""

PROGRAM = "Vermistat"

AGAIN = frozenset({Event.UNSUPPRESSED, Event.UNSHELVED, Event.IN_SERVICE})
"""What was not told for a while, and stands."""
BEGINS = frozenset({Event.RAISED, Event.ROSE}) | AGAIN
ENDS = frozenset({Event.RETURNED, Event.REMOVED})

_TOO = {
    Condition.COLD: "too cold",
    Condition.HOT: "too hot",
    Condition.DRY: "too dry",
    Condition.WET: "too wet",
}
_MAY = {Ability.WATER: "water", Ability.FEED: "feed", Ability.MATS: "see to mats"}


@dataclass(frozen=True, slots=True)
class Over:
    """Something that is over. `began` None: it was told when it began. `why`: what ended it besides itself."""

    key: AlarmKey
    level: Level | None
    began: Millis | None
    ended: Millis | None
    evidence: Evidence | None = None
    number: int = 0
    why: str = ""
    then: str = ""
    """What is to be done now that it is over, where that is anything."""


def over_in_the_past(step: Transition, began: Millis) -> Over:
    """A past episode that late readings show: its step is a RETURNED of number 0."""
    return Over(step.key, step.level, began, step.at, step.evidence)


def over_by_steps(mine: Sequence[Transition], stood: Alarm | None) -> Over:
    """One alarm's span: from its first beginning among these steps, else as it stood, to its last end."""
    last = mine[-1]
    begins = [_since(step) for step in mine if step.event in BEGINS - AGAIN]
    ended = last.event in ENDS
    return Over(
        key=last.key,
        level=Level.HARM if any(step.level is Level.HARM for step in mine) else last.level,
        began=begins[0] if begins else (stood.since if stood else None),
        ended=last.at if ended else None,
        evidence=last.evidence if ended else None,
        number=last.number,
        why=last.cause.rstrip(".") if last.event is Event.REMOVED else "",
    )


def _since(step: Transition) -> Millis:
    """When a condition began to hold: before its delay was full."""
    return step.at - (step.evidence.held if step.evidence else 0)


@dataclass(frozen=True, slots=True)
class Text:
    """The lines of a notice, and what stands behind "why?"."""

    lines: tuple[str, ...]
    more: tuple[str, ...]


Life = Callable[[Person], Text]
"""Writes a person's sign of life."""


@dataclass(frozen=True, slots=True)
class Reminder:
    """What goes on night after night: what to change or to accept, the numbers, the caution, how to accept it."""

    title: str
    why: str
    caution: str
    how: str


ONCE_A_WEEK = "This is said once a week, until something changes."


def compose(
    news: Sequence[Order],
    still: Sequence[Order],
    over: Sequence[Over],
    *,
    person: Person,
    rules: Rules,
    place: str,
    now: Millis,
    reminders: Sequence[Reminder] = (),
    extra: Sequence[str] = (),
    tonight: bool = False,
) -> Text:
    """One notice about one place: what is new to do, what is over, what goes on, what is still to do.

    What the person may do comes first. At least one of `news`, `over` and `reminders` holds something. `extra` stands
    behind the opening. `tonight`: it is the evening, so what is for the night is for now, not for tomorrow morning.
    """
    writer = _Writer(rules, place, now, tonight=tonight)
    ordered = sorted(news, key=lambda order: not may(person, order))
    behind: Sequence[Reminder] = reminders
    if ordered:
        lines = [*writer.opening(ordered[0], person), *extra]
        lines += [writer.line(order, person) for order in ordered[1 : 1 + FURTHER]]
        lines += [writer.over_line(one) for one in over]
    elif over and not reminders:
        lines = [writer.over_title(over[0]), writer.over_why(over[0]), *extra, *map(writer.over_line, over[1:])]
    else:
        first, *behind = reminders
        lines = [first.title, first.why, first.caution, first.how, *extra, *map(writer.over_line, over)]
    lines += [words.shorten(f"Goes on: {one.title}", FIRST_LINE) for one in behind]
    lines += [ONCE_A_WEEK] if len(behind) < len(reminders) else []
    lines += [words.shorten(f"Still: {writer.line(order, person)}", FIRST_LINE) for order in still[:FURTHER]]
    left = max(len(ordered) - 1 - FURTHER, 0) + max(len(still) - FURTHER, 0)
    if left:
        lines.append(f"And {words.amount(left, 'thing')} more: `vermistat now` shows all.")
    more = [*_behind([*ordered, *still], rules, writer), *(writer.over_more(one) for one in over)]
    more += [line for one in reminders for line in (f"{one.title}.", one.why, one.how)]
    return Text(tuple(filter(None, lines)), tuple(filter(None, more)))


def explain(advice: Advice, rules: Rules, now: Millis) -> tuple[str, ...]:
    """Everything behind the advice for a place: each act, its readings, limits, arithmetic and cautions."""
    writer = _Writer(rules, advice.place, now)
    return tuple(_behind(advice.orders, rules, writer)) or ("Nothing needs doing here.",)


def sentence(order: Order, rules: Rules, place: str, now: Millis) -> str:
    """An order as one line for anybody: "Fig: switch long-mat on now; west is 14.2 °C", at most 90 characters."""
    return _Writer(rules, place, now).line(order, None)


def may(person: Person, order: Order) -> bool:
    """Whether an order is this person's to do."""
    return order.needs is None or order.needs in person.may


class _Writer:
    """Writes for one place at one moment."""

    def __init__(self, rules: Rules, place: str, now: Millis, *, tonight: bool = False) -> None:
        self.rules, self.place, self.now, self.tonight = rules, place, now, tonight
        self.tz, self.units = rules.site.timezone, rules.site.units

    def clock(self, at: Millis) -> str:
        return words.clock_time(at, self.tz, self.now)

    def opening(self, order: Order, person: Person) -> list[str]:
        """The first three lines; line 1 gives up its reading when line 2 would lose its own to the cut."""
        room = CUT - 1 - len(order.why.partition(";")[0])
        return [self.line(order, person, room=min(room, FIRST_LINE)), order.why, *order.cautions[:1]]

    def line(self, order: Order, person: Person | None, *, room: int = FIRST_LINE) -> str:
        """Bin, act, by when; and the reading, or who may do it, where there is room."""
        head = f"{self.head(order)}: {self.timed(order)}"
        tail = order.fact
        if person is not None and order.needs is not None and not may(person, order):
            tail = f"for somebody who may {_MAY[order.needs]}"
        whole = f"{head}; {tail}" if tail else head
        return whole if len(whole) <= room else words.shorten(head, FIRST_LINE)

    def head(self, order: Order) -> str:
        """Whom it is for: the bins, else the place, else the program itself."""
        beds = [self.bed(bed) for bed in order.bins]
        if len(beds) > 2:
            beds = [*beds[:1], f"{len(beds) - 1} more"]
        return words.joined(beds) or self.place_name()

    def timed(self, order: Order) -> str:
        """The words of an order with its time where the act itself ends: before a colon, a comma or the end."""
        if order.by is None:
            return order.words
        when = "now" if order.by <= self.now else f"by {self.clock(order.by)}"
        if self.tonight and order.act in AT_NIGHT and not order.urgent:
            when = "tonight"
        ends = [at for at in (order.words.find(":"), order.words.find(",")) if at > 0]
        at = min(ends, default=len(order.words))
        return f"{order.words[:at]} {when}{order.words[at:]}"

    def over_title(self, over: Over) -> str:
        return words.shorten(f"{self.whose(over)}: over, {self.what(over)}{self.span(over)}", FIRST_LINE)

    def over_why(self, over: Over) -> str:
        usual = "Look how the worms are." if over.level is Level.HARM else "Nothing to do about it."
        then = over.then or usual
        return f"{self.reading(over)} {then}".strip()

    def over_line(self, over: Over) -> str:
        return words.shorten(f"Over: {self.whose(over)} {self.what(over)}{self.span(over)}.", FIRST_LINE)

    def over_more(self, over: Over) -> str:
        answer = f" Answer: `vermistat seen {over.number}`." if over.number and over.level is Level.HARM else ""
        return f"{self.over_line(over)} {self.reading(over)}{answer}".strip()

    def whose(self, over: Over) -> str:
        subject = over.key.subject
        if subject.kind in (Kind.BIN, Kind.ZONE):
            bed, _, zone = subject.id.partition(".")
            return f"{self.bed(bed)} {zone}".strip()
        return subject.id or PROGRAM

    def what(self, over: Over) -> str:
        level = " (harm)" if over.level is Level.HARM else ""
        return f"{_TOO.get(over.key.condition, str(over.key.condition))}{level}"

    def span(self, over: Over) -> str:
        """From when to when, as far as it is known, and what else ended it."""
        why = f" ({over.why})" if over.why else ""
        if over.ended is None:
            return f" from {self.clock(over.began)}{why}" if over.began is not None else why
        if over.began is None:
            return f" until {self.clock(over.ended)}{why}"
        return f" {self.clock(over.began)} to {self.clock(over.ended)}{why}"

    def reading(self, over: Over) -> str:
        """What was measured when it ended, or the furthest value of a past episode."""
        evidence = over.evidence
        if evidence is None or evidence.value is None or evidence.unit not in ("°C", "%"):
            return ""
        value = _in_units(evidence.value, evidence, self.units)
        if over.number:
            clear = "" if evidence.clear_at is None else self._back(evidence.clear_at, evidence)
            return f"Measured then: {value}{clear}."
        bound = "" if evidence.bound is None else f", limit {_limit_in_units(evidence, self.units)}"
        return f"{'Lowest' if evidence.below else 'Highest'} {value}{bound}; the readings came late."

    def _back(self, clear_at: float, evidence: Evidence) -> str:
        end = words.limit(clear_at, self.units) if evidence.unit == "°C" else words.percent(clear_at)
        return f", back {'above' if evidence.below else 'below'} {end}"

    def bed(self, bed: str) -> str:
        known = self.rules.bins.get(bed)
        return known.name if known else bed

    def place_name(self) -> str:
        known = self.rules.places.get(self.place)
        return known.name if known else self.place or PROGRAM


def _behind(orders: Sequence[Order], rules: Rules, writer: _Writer) -> Iterable[str]:
    """What stands behind each order, every line once; then the cautions with their sources, then how to answer."""
    lines = [(f"{writer.head(o)}: {writer.timed(o)}.", o.why, *o.more) for o in orders]
    cautions = [sourced(caution) for order in orders for caution in order.cautions]
    answers = [_answer(number) for order in orders for number in order.alarms]
    yield from dict.fromkeys([*(line for each in lines for line in each), *cautions, *answers])


def _answer(number: int) -> str:
    return f"Alarm {number}: answer with `vermistat seen {number}`, or `vermistat done {number}` when it is done."


def _in_units(value: float, evidence: Evidence, units: Units) -> str:
    if evidence.unit == "°C":
        return words.temperature(value, units, beside=evidence.bound)
    return words.percent(value, beside=evidence.bound)


def _limit_in_units(evidence: Evidence, units: Units) -> str:
    bound = evidence.bound or 0.0
    return words.limit(bound, units) if evidence.unit == "°C" else words.percent(bound)
