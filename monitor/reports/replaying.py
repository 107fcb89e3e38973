"""What other limits would have told: the days behind us judged twice, by the limits in force and by those of another file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypedDict

from monitor import words
from monitor.alarms.cycle import Event, Transition
from monitor.checks.findings import AlarmKey, Kind
from monitor.judge import CLIMATE_CONDITIONS
from monitor.readings import DAY, HOUR, Millis, Reading
from monitor.replay import Lived, Replayed, only, replay
from monitor.reports.saying import Saying, instant, millis
from monitor.rules import Level, Rules
from monitor.store.promises import Store

WARMS_UP: Millis = 4 * DAY
"""So long before the days that are compared both begin, so that delays and medians are what they were."""
ROUNDS_A_DAY = 1600
"""More than one a minute: as many rounds are looked through."""
SHOWN = 12
"""Episodes that are named; the rest is counted."""


class EpisodeShape(TypedDict):
    """One time that an alarm would have stood; `until` is null while it does."""

    about: str
    since: str
    until: str | None
    sentence: str


class SideShape(TypedDict):
    """What one set of limits tells: alarms and the hours they stood, notices written, those of them that would have woken
    somebody, and the alarms by the hour of the day at which they were raised.
    """

    alarms: int
    hours: float
    notices: int
    woken: int
    by_hour: list[int]


class ReplayShape(TypedDict):
    """`vermistat replay`: the days from `since` to `until`, by the limits in force and by the others; the episodes that only
    the first would have (`gone`), and those that only the others would have (`new`).
    """

    since: str
    until: str
    bins: list[str]
    other: str
    now: SideShape
    others: SideShape
    gone: list[EpisodeShape]
    new: list[EpisodeShape]


@dataclass(frozen=True, slots=True)
class Episode:
    """One time that an alarm stood."""

    key: AlarmKey
    level: Level
    began: Millis
    ended: Millis | None

    def meets(self, other: Episode) -> bool:
        """Whether both are about the same at some same moment."""
        far = 2**62
        return self.key == other.key and self.began <= (other.ended or far) and other.began <= (self.ended or far)


def replay_facts(
    store: Store, rules: Rules, others: Rules, *, at: Millis, days: int, beds: Collection[str], other: str
) -> ReplayShape:
    """Both sides of so many days. People's answers are in neither: nobody knows what they would have said to the other."""
    since = at - days * DAY
    lived = lived_of(store, rules, beds, since - WARMS_UP, at)
    here, there = (replay(lived, _by(only(r, beds))) for r in (rules, others))
    ours, theirs = (list(_since(episodes(one.transitions), since)) for one in (here, there))
    saying = Saying(rules, at)
    return {
        "since": instant(since),
        "until": instant(at),
        "bins": list(beds),
        "other": other,
        "now": _side(ours, here, since, at, rules),
        "others": _side(theirs, there, since, at, rules),
        "gone": [_shown(e, saying) for e in ours if not any(e.meets(o) for o in theirs)],
        "new": [_shown(e, saying) for e in theirs if not any(e.meets(o) for o in ours)],
    }


def lived_of(store: Store, rules: Rules, beds: Collection[str], start: Millis, end: Millis) -> Lived:
    """What the rounds of a span saw of some bins and the air around them."""
    rows = [row for row in store.rounds((1 + (end - start) // DAY) * ROUNDS_A_DAY) if start <= row.at <= end]
    rows.sort(key=lambda row: row.number)
    kept = only(rules, beds).sources()
    found: list[Reading] = []
    for probe in kept:
        found += store.window(probe, start - DAY, end + 1)
    first, last = (rows[0].upto_arrival, rows[-1].upto_arrival) if rows else (0, 0)
    return Lived(rows, sorted((r for r in found if 0 <= r.arrival <= max(first, last)), key=lambda r: r.arrival))


def episodes(transitions: Iterable[Transition]) -> Iterator[Episode]:
    """From raised to over, of the climate of beds alone."""
    standing: dict[AlarmKey, Episode] = {}
    for step in transitions:
        key = step.key
        if key.condition not in CLIMATE_CONDITIONS or key.subject.kind not in (Kind.BIN, Kind.ZONE):
            continue
        before = standing.get(key)
        if step.event is Event.RAISED and before is None:
            standing[key] = Episode(key, step.level or Level.COMFORT, step.at, None)
        elif before is not None and step.event is Event.ROSE:
            standing[key] = Episode(key, Level.HARM, before.began, None)
        elif before is not None and step.event in (Event.RETURNED, Event.REMOVED):
            del standing[key]
            yield Episode(key, before.level, before.began, step.at)
    yield from standing.values()


def replay_text(facts: ReplayShape, saying: Saying) -> str:
    """Both sides in sentences."""
    now, others = facts["now"], facts["others"]
    lines = [
        f"{words.joined(facts['bins'])}, from {saying.clock(millis(facts['since']))} to {saying.clock(millis(facts['until']))},"
        f" judged by the limits in force and by those of {facts['other']}:",
        "",
        f"{'':30}{'in force':>12}{'the others':>12}",
    ]
    for label, name in (
        ("alarms", "alarms"),
        ("hours in alarm", "hours"),
        ("notices", "notices"),
        ("of them by night", "woken"),
    ):
        lines.append(f"  {label:28}{_number(now[name]):>12}{_number(others[name]):>12}")  # type: ignore[literal-required]
    lines += _listed("Only by the limits in force", facts["gone"])
    lines += _listed("Only by the others", facts["new"])
    lines += [
        "",
        "Nothing was changed. What people answered is in neither: who would have said seen to the other is not known.",
    ]
    return "\n".join(lines)


def _by(rules: Rules) -> Callable[[str], Rules]:
    return lambda _version: rules


def _since(found: Iterable[Episode], since: Millis) -> Iterator[Episode]:
    return (e for e in found if e.ended is None or e.ended >= since)


def _side(found: Sequence[Episode], one: Replayed, since: Millis, at: Millis, rules: Rules) -> SideShape:
    notices = [n for n in one.notices if n.at >= since]
    hours = Counter(words.local(e.began, rules.site.timezone).hour for e in found)
    return {
        "alarms": len(found),
        "hours": round(sum((e.ended or at) - max(e.began, since) for e in found) / HOUR, 1),
        "notices": len(notices),
        "woken": sum(n.woke for n in notices),
        "by_hour": [hours[hour] for hour in range(24)],
    }


def _shown(one: Episode, saying: Saying) -> EpisodeShape:
    about = saying.about(one.key, one.level)
    span = (
        f"{saying.clock(one.began)} to {saying.clock(one.ended)}"
        if one.ended
        else f"since {saying.clock(one.began)}"
    )
    return {
        "about": about,
        "since": instant(one.began),
        "until": None if one.ended is None else instant(one.ended),
        "sentence": f"{about}, {span}",
    }


def _listed(title: str, found: Sequence[EpisodeShape]) -> Iterator[str]:
    if not found:
        return
    yield from ("", f"{title}:")
    yield from (f"  {one['sentence']}" for one in found[:SHOWN])
    if len(found) > SHOWN:
        yield f"  and {len(found) - SHOWN} more (--json names them all)"


def _number(value: float) -> str:
    return f"{value:g}"
