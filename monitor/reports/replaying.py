"""What other limits would have told: the days behind us judged twice, by the limits in force and by those of another file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypedDict

from monitor import words
from monitor.alarms.cycle import Transition
from monitor.alarms.review import Activation, activations
from monitor.judge import CLIMATE_CONDITIONS
from monitor.readings import DAY, HOUR, Millis
from monitor.replay import Lived, Replayed, only, replay
from monitor.reports.saying import Saying, instant, millis
from monitor.rules import Rules
from monitor.settings.wishes import Wished
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


class LineShape(TypedDict):
    """One line of a file that would be another; empty where none stands or would stand."""

    file: str
    line: int
    old: str
    new: str


class AcceptedShape(TypedDict):
    """What was written: the files, where the earlier ones are kept, and at whose wish."""

    files: list[str]
    kept: list[str]
    who: str
    why: str


class ReplayShape(TypedDict):
    """`vermistat replay`: the days from `since` to `until`, by the limits in force and by the others; the episodes that only
    the first would have (`gone`), and those that only the others would have (`new`). `changes` are the lines of the settings
    that would make it so, with `--set`; `accepted` is what became of them, null when nothing was written.
    """

    since: str
    until: str
    bins: list[str]
    other: str
    now: SideShape
    others: SideShape
    gone: list[EpisodeShape]
    new: list[EpisodeShape]
    changes: list[LineShape]
    accepted: AcceptedShape | None


@dataclass(frozen=True, slots=True)
class Twice:
    """Some bins' days from `since` to `at` judged by the limits in force and by others."""

    since: Millis
    at: Millis
    beds: tuple[str, ...]
    here: Replayed
    there: Replayed
    ours: tuple[Activation, ...]
    theirs: tuple[Activation, ...]

    @property
    def gone(self) -> list[Activation]:
        """Episodes that only the limits in force have."""
        return [e for e in self.ours if not any(_meet(e, o) for o in self.theirs)]

    @property
    def new(self) -> list[Activation]:
        """Episodes that only the others have."""
        return [e for e in self.theirs if not any(_meet(e, o) for o in self.ours)]

    @property
    def kept(self) -> list[Activation]:
        """Episodes of the limits in force that the others have too, though it may be for longer or shorter."""
        return [e for e in self.ours if any(_meet(e, o) for o in self.theirs)]


def twice(store: Store, rules: Rules, others: Rules, *, at: Millis, days: int, beds: Collection[str]) -> Twice:
    """So many days judged by both."""
    since = at - days * DAY
    lived = lived_of(store, rules, beds, since - WARMS_UP, at)
    here, there = (replay(lived, _by(only(r, beds))) for r in (rules, others))
    ours, theirs = (tuple(_since(episodes(one.transitions), since)) for one in (here, there))
    return Twice(since, at, tuple(beds), here, there, ours, theirs)


def replay_facts(
    store: Store, rules: Rules, others: Rules, *, at: Millis, days: int, beds: Collection[str], other: str
) -> ReplayShape:
    """Both sides of so many days. People's answers are in neither: nobody knows what they would have said to the other."""
    return facts_of(twice(store, rules, others, at=at, days=days, beds=beds), rules, other=other)


def facts_of(both: Twice, rules: Rules, *, other: str) -> ReplayShape:
    """The same as facts; `other` is how the others are called."""
    saying = Saying(rules, both.at)
    return {
        "since": instant(both.since),
        "until": instant(both.at),
        "bins": list(both.beds),
        "other": other,
        "now": _side(both.ours, both.here, both.since, both.at, rules),
        "others": _side(both.theirs, both.there, both.since, both.at, rules),
        "gone": [_shown(e, saying) for e in both.gone],
        "new": [_shown(e, saying) for e in both.new],
        "changes": [],
        "accepted": None,
    }


def lived_of(store: Store, rules: Rules, beds: Collection[str], start: Millis, end: Millis) -> Lived:
    """What the rounds of a span saw of some bins and the air around them."""
    rows = [row for row in store.rounds((1 + (end - start) // DAY) * ROUNDS_A_DAY) if start <= row.at <= end]
    rows.sort(key=lambda row: row.number)
    upto = rows[-1].upto_arrival if rows else 0
    found = [r for probe in only(rules, beds).sources() for r in store.window(probe, start - DAY, end + 1)]
    return Lived(rows, sorted((r for r in found if r.arrival <= upto), key=lambda r: r.arrival))


def episodes(transitions: Iterable[Transition]) -> list[Activation]:
    """Every time that an alarm of a bed's climate was there."""
    return activations(step for step in transitions if step.key.condition in CLIMATE_CONDITIONS)


def lines_of(would: Wished) -> list[LineShape]:
    """The lines of the keeper's files that would be others."""
    return [
        {"file": edit.file.name, "line": number, "old": old, "new": new}
        for edit in would.edits
        for number, old, new in edit.lines()
    ]


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
    lines += ["", "What people answered is in neither: who would have said seen to the other is not known."]
    lines += ["", *_changes(facts["changes"]), *_what_became(facts)]
    return "\n".join(lines)


def _changes(changes: Sequence[LineShape]) -> Iterator[str]:
    for one in changes:
        yield f"{one['file']}, line {one['line']}:"
        yield from (f"  {sign} {line.strip()}" for sign, line in (("−", one["old"]), ("+", one["new"])) if line)


def _what_became(facts: ReplayShape) -> Iterator[str]:
    done = facts["accepted"]
    if done is None:
        yield "Nothing was changed." + (" With --accept this is written." if facts["changes"] else "")
        return
    yield f"Written, at the wish of {done['who']}. The earlier file is kept as {words.joined(done['kept'])}."
    yield "A running Vermistat takes it up at its next round."


def _meet(one: Activation, other: Activation) -> bool:
    """Whether both are about the same at some same moment."""
    return (
        one.key == other.key
        and (other.ended is None or one.began <= other.ended)
        and (one.ended is None or other.began <= one.ended)
    )


def _by(rules: Rules) -> Callable[[str], Rules]:
    return lambda _version: rules


def _since(found: Iterable[Activation], since: Millis) -> Iterator[Activation]:
    return (e for e in found if e.ended is None or e.ended >= since)


def _side(found: Sequence[Activation], one: Replayed, since: Millis, at: Millis, rules: Rules) -> SideShape:
    notices = [n for n in one.notices if n.at >= since]
    hours = Counter(words.local(e.began, rules.site.timezone).hour for e in found)
    return {
        "alarms": len(found),
        "hours": round(sum((e.ended or at) - max(e.began, since) for e in found) / HOUR, 1),
        "notices": len(notices),
        "woken": sum(n.woke for n in notices),
        "by_hour": [hours[hour] for hour in range(24)],
    }


def _shown(one: Activation, saying: Saying) -> EpisodeShape:
    return {
        "about": saying.about(one.key, one.level),
        "since": instant(one.began),
        "until": None if one.ended is None else instant(one.ended),
        "sentence": episode_words(one, saying),
    }


def episode_words(one: Activation, saying: Saying) -> str:
    """What it was about, and from when to when."""
    span = (
        f"{saying.clock(one.began)} to {saying.clock(one.ended)}"
        if one.ended
        else f"since {saying.clock(one.began)}"
    )
    return f"{saying.about(one.key, one.level)}, {span}"


def _listed(title: str, found: Sequence[EpisodeShape]) -> Iterator[str]:
    if not found:
        return
    yield from ("", f"{title}:")
    yield from (f"  {one['sentence']}" for one in found[:SHOWN])
    if len(found) > SHOWN:
        yield f"  and {len(found) - SHOWN} more (--json names them all)"


def _number(value: float) -> str:
    return f"{value:g}"
