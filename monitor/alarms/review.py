"""How well the alarms serve: the figures of `alarms.benchmarks`, reckoned from the recorded steps.

Pure, and over steps alone. Every function takes the scale, so that the same code answers for a plant, as printed, and for a
keeper. What proposes a remedy is `alarms.proposals`.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby

from monitor.alarms.benchmarks import BEGINS_FLOOD, CHATTERS, ENDS_FLOOD, KEEPER, Scale
from monitor.alarms.cycle import Alarm, Event, Priority, State, Transition
from monitor.alarms.priority import priority_of
from monitor.checks.findings import AlarmKey, Evidence
from monitor.readings import DAY, Millis
from monitor.rules import Level


@dataclass(frozen=True, slots=True)
class Delays:
    """How long a condition lasts before it is an alarm, and how long it is over before the alarm is."""

    on: Millis = 0
    off: Millis = 0


@dataclass(frozen=True, slots=True)
class Activation:
    """One time that an alarm was there: from the step that raised it to the one that ended it, None while it stands."""

    key: AlarmKey
    number: int
    began: Millis
    ended: Millis | None
    level: Level | None
    evidence: Evidence | None = None
    end: Evidence | None = None
    seen: bool = False


@dataclass(frozen=True, slots=True)
class Annunciation:
    """One time that an alarm asked for attention, at that priority: raised, risen, or told again."""

    at: Millis
    key: AlarmKey
    priority: Priority


_QUIETER: Mapping[Event, tuple[str, bool]] = {
    Event.SUPPRESSED: ("cause", True),
    Event.UNSUPPRESSED: ("cause", False),
    Event.SHELVED: ("shelf", True),
    Event.UNSHELVED: ("shelf", False),
    Event.OUT_OF_SERVICE: ("work", True),
    Event.IN_SERVICE: ("work", False),
}


def annunciations(steps: Sequence[Transition]) -> list[Annunciation]:
    """What was told, in order: at most one of an alarm and a round, and none of what was suppressed in it."""
    quiet: defaultdict[int, set[str]] = defaultdict(set)
    found = []
    for (number, at), group in groupby(_by_rounds(steps), key=lambda s: (s.number, s.round_at)):
        mine = list(group)
        for step in mine:
            if step.event in _QUIETER:
                what, begins = _QUIETER[step.event]
                (quiet[number].add if begins else quiet[number].discard)(what)
        if not quiet[number] and any(_asks(step) for step in mine) and _is_there(mine[-1]):
            found.append(Annunciation(at, mine[-1].key, priority_of(mine[-1].key, mine[-1].level)))
    return sorted(found, key=lambda one: one.at)


def _by_rounds(steps: Sequence[Transition]) -> list[Transition]:
    return sorted(steps, key=lambda s: (s.number, s.round_at))  # stable: the steps of a round keep their order


def _asks(step: Transition) -> bool:
    if step.event in (Event.UNSUPPRESSED, Event.UNSHELVED, Event.IN_SERVICE):
        return step.after is State.UNACKNOWLEDGED  # what somebody has seen before is not told again
    return step.event in (Event.RAISED, Event.ROSE)


def _is_there(step: Transition) -> bool:
    return step.after in (State.UNACKNOWLEDGED, State.ACKNOWLEDGED)


def activations(steps: Iterable[Transition], standing: Iterable[Alarm] = ()) -> list[Activation]:
    """Every time that an alarm was there, in the order of beginning. `standing` also brings those whose beginning lies
    before the steps.
    """
    found: list[Activation] = []
    there: dict[int, Activation] = {}
    begun: set[int] = set()
    for step in steps:
        if step.event is Event.RAISED:
            begun.add(step.number)
            there[step.number] = Activation(step.key, step.number, step.at, None, step.level, step.evidence)
        elif step.number in there:
            now = _moved(there[step.number], step)
            there[step.number] = now
            if now.ended is not None:
                found.append(there.pop(step.number))
    older = [_of_standing(a) for a in standing if a.active and a.number not in begun]
    return sorted([*found, *there.values(), *older], key=lambda a: (a.began, a.number))


def _moved(one: Activation, step: Transition) -> Activation:
    if step.event in (Event.RETURNED, Event.REMOVED):
        return replace(one, ended=step.at, end=step.evidence)
    if step.event is Event.ACKNOWLEDGED:
        return replace(one, seen=True)
    return replace(one, level=step.level) if step.event is Event.ROSE else one


def _of_standing(alarm: Alarm) -> Activation:
    seen = alarm.state is State.ACKNOWLEDGED
    return Activation(alarm.key, alarm.number, alarm.raised_at, None, alarm.level, alarm.evidence, seen=seen)


# ── figures ───────────────────────────────────────────────────────────────────────────────────────────────────


def rate(count: float, span: Millis, scale: Scale = KEEPER) -> float:
    """Alarms in what the scale has for ten minutes."""
    return count * scale.ten_minutes / span if span > 0 else 0.0


def most(times: Sequence[Millis], scale: Scale = KEEPER) -> int:
    """The most within any such span; both its ends count as one, so a span holds what lies less than it apart."""
    ordered, first, found = sorted(times), 0, 0
    for last, at in enumerate(ordered):
        while at - ordered[first] >= scale.ten_minutes:
            first += 1
        found = max(found, last - first + 1)
    return found


def busy(times: Iterable[Millis], start: Millis, end: Millis, scale: Scale = KEEPER) -> float:
    """Per cent of the whole spans from `start` on in which more come than begin a flood."""
    whole = max((end - start) // scale.ten_minutes, 1)
    counts = Counter((at - start) // scale.ten_minutes for at in times if start <= at < end)
    return 100 * sum(n > BEGINS_FLOOD for span, n in counts.items() if span < whole) / whole


def floods(times: Sequence[Millis], end: Millis, scale: Scale = KEEPER) -> list[tuple[Millis, Millis]]:
    """From when to when it was a flood: since more than ten came within the span, until fewer than five did."""
    changes = sorted([(at, 1) for at in times] + [(at + scale.ten_minutes, -1) for at in times])
    within, began = 0, None
    found: list[tuple[Millis, Millis]] = []
    for at, change in changes:
        within += change
        if began is None and within > BEGINS_FLOOD:
            began = at
        elif began is not None and within < ENDS_FLOOD:
            found.append((began, min(at, end)))
            began = None
    return found


@dataclass(frozen=True, slots=True)
class Chatter:
    """An alarm that came and went: how often at most within `window`, and those activations."""

    key: AlarmKey
    window: Millis
    times: tuple[Activation, ...]


def chatter_window(delays: Delays, scale: Scale = KEEPER) -> Millis:
    """In what span three times are chattering: twice the shortest in which they are possible."""
    return max(scale.chatter, 2 * (CHATTERS - 1) * (delays.on + delays.off))


def chattering(
    found: Iterable[Activation], delays: Callable[[AlarmKey], Delays], scale: Scale = KEEPER
) -> list[Chatter]:
    """Alarms that were there three times or more within their window, the worst first."""
    by_key: defaultdict[AlarmKey, list[Activation]] = defaultdict(list)
    for one in found:
        by_key[one.key].append(one)
    chatters = []
    for key, mine in by_key.items():
        window = chatter_window(delays(key), scale)
        worst = max(([b for b in mine if a.began <= b.began <= a.began + window] for a in mine), key=len)
        if len(worst) >= CHATTERS:
            chatters.append(Chatter(key, window, tuple(worst)))
    return sorted(chatters, key=lambda c: -len(c.times))


def fleeting(
    found: Iterable[Activation], delays: Callable[[AlarmKey], Delays], scale: Scale = KEEPER
) -> list[Activation]:
    """Those that were gone before anybody could have acted, and nobody had seen."""
    return [
        a for a in found if not a.seen and a.ended is not None and _lasted(a, delays(a.key).off) < scale.fleeting
    ]


def _lasted(one: Activation, off: Millis) -> Millis:
    """Without the delay of its end, in which it was over already."""
    return max((one.ended or one.began) - one.began - off, 0)


def stale(found: Iterable[Activation], at: Millis, scale: Scale = KEEPER) -> list[Activation]:
    """Those that at a moment had been there for longer than that."""
    return [a for a in found if a.began + scale.stale < at and (a.ended is None or a.ended > at)]


def most_stale(found: Sequence[Activation], start: Millis, end: Millis, scale: Scale = KEEPER) -> int:
    """The most of them on any day from `start` on."""
    days = range(start, end, DAY)
    return max((sum(_stale_on(a, day, min(day + DAY, end), scale) for a in found) for day in days), default=0)


def _stale_on(one: Activation, start: Millis, end: Millis, scale: Scale) -> bool:
    since, until = one.began + scale.stale, end if one.ended is None else min(one.ended, end)
    return max(since, start) < until


@dataclass(frozen=True, slots=True)
class Review:
    """All figures of a stretch of time."""

    start: Millis
    end: Millis
    told: tuple[Annunciation, ...]
    most: int
    busy: float
    floods: tuple[tuple[Millis, Millis], ...]
    chattering: tuple[Chatter, ...]
    fleeting: tuple[Activation, ...]
    stale: tuple[Activation, ...]
    most_stale: int
    frequent: tuple[tuple[AlarmKey, int], ...]
    """The ten told most often, with how often."""
    priorities: Mapping[Priority, int]
    shelved: int
    """How often somebody has shelved an alarm, longer shelves of one not counted anew."""
    unnamed: int
    """Suppressions by nobody."""
    activations: tuple[Activation, ...] = field(default=(), repr=False)

    @property
    def rate(self) -> float:
        """Alarms told in what is ten minutes to a keeper: a day."""
        return rate(len(self.told), self.end - self.start)

    @property
    def flood(self) -> float:
        """Per cent of the time in a flood."""
        return 100 * sum(b - a for a, b in self.floods) / (self.end - self.start)

    def share(self, count: float) -> float:
        """Per cent of all that was told."""
        return 100 * count / len(self.told) if self.told else 0.0


def review(
    steps: Sequence[Transition],
    standing: Iterable[Alarm],
    *,
    start: Millis,
    end: Millis,
    delays: Callable[[AlarmKey], Delays] = lambda _key: Delays(),
    scale: Scale = KEEPER,
) -> Review:
    """Every figure of start <= at < end. `steps`, in the order of their rounds, may begin earlier: so more is found of
    what was there already when it began.
    """
    told = [one for one in annunciations(steps) if start <= one.at < end]
    times = [one.at for one in told]
    there = [a for a in activations(steps, standing) if a.ended is None or a.ended > start]
    began = [a for a in there if start <= a.began < end]
    counts = Counter(one.key for one in told)
    held = [s for s in steps if start <= s.round_at < end and s.event in (Event.SHELVED, Event.OUT_OF_SERVICE)]
    return Review(
        start=start,
        end=end,
        told=tuple(told),
        most=most(times, scale),
        busy=busy(times, start, end, scale),
        floods=tuple(floods(times, end, scale)),
        chattering=tuple(chattering(began, delays, scale)),
        fleeting=tuple(fleeting(began, delays, scale)),
        stale=tuple(stale(there, end, scale)),
        most_stale=most_stale(there, start, end, scale),
        frequent=tuple(sorted(counts.items(), key=lambda item: (-item[1], str(item[0])))[:10]),
        priorities={p: sum(one.priority is p for one in told) for p in Priority},
        shelved=len({(s.key, s.until) for s in held if s.event is Event.SHELVED}),
        unnamed=sum(not s.who for s in held),
        activations=tuple(there),
    )
