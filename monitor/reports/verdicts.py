"""What people called useful or needless, and once a month one change that would have spared them the needless."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TypedDict
from zoneinfo import ZoneInfo

from monitor import words
from monitor.alarms.review import Activation
from monitor.diary import EVERY, Deed, Entry, in_force
from monitor.errors import RequestError, SettingsError
from monitor.readings import DAY, HOUR, SECOND, Measures, Millis
from monitor.replay import Lived, only, replay
from monitor.reports.replaying import WARMS_UP, episodes, lived_of
from monitor.reports.saying import Saying, instant
from monitor.rules import Limits, Rules, Units
from monitor.settings import Settings
from monitor.settings import quantities as q
from monitor.settings.limits import QUANTITY
from monitor.settings.wishes import wish_of, wished
from monitor.store.promises import Store
from monitor.verdicts import Called

LOOKS_BACK: Millis = 30 * DAY
OFTEN = 3
"""So often needless within a month, and never useful, and a change is looked for (proposal)."""
STEPS = {Measures.TEMPERATURE: (1.0, 2.0), Measures.MOISTURE: (2.0, 4.0)}
"""By how much an end of comfort is moved to see what that would have done, °C or points (proposal)."""
LONGER = (2, 4)
"""How many times as long something would have to last (proposal)."""
LONGEST: Millis = 12 * HOUR
SIDES: Mapping[str, tuple[Measures, bool]] = {
    "cold": (Measures.TEMPERATURE, True),
    "hot": (Measures.TEMPERATURE, False),
    "dry": (Measures.MOISTURE, True),
    "wet": (Measures.MOISTURE, False),
}


class CalledSoShape(TypedDict):
    """`vermistat useful` and `vermistat needless`: what was left, about which notice."""

    request: int
    notice: int
    called: str
    who: str


class CalledShape(TypedDict):
    """One kind of trouble in one bin: how often its notices were called needless and useful in the last 30 days."""

    bin: str
    condition: str
    needless: int
    useful: int


class ChangeShape(TypedDict):
    """The change of this month: as `vermistat replay --set` takes it, what it would have spared and what it would have missed."""

    set: str
    spared: int
    of: int
    missed: int
    fewer_alarms: int
    sentence: str


class VerdictsShape(TypedDict):
    """`vermistat verdicts`. `month` is the month whose one change `change` is, reckoned from the 30 days before it."""

    at: str
    called: list[CalledShape]
    month: str
    change: ChangeShape | None


@dataclass(frozen=True, slots=True)
class Verdict:
    """One notice about one alarm, and what it was called."""

    at: Millis
    bed: str
    condition: str
    alarm: int
    useful: bool


def verdicts_in(entries: Iterable[Entry]) -> list[Verdict]:
    """Every verdict of the diary; the newest of each alarm."""
    found: dict[int, Verdict] = {}
    for entry in entries:
        if entry.deed in (Deed.USEFUL, Deed.NEEDLESS) and entry.alarm is not None:
            condition = entry.text.partition(":")[0]
            found[entry.alarm] = Verdict(entry.at, entry.bed, condition, entry.alarm, entry.deed is Deed.USEFUL)
    return list(found.values())


def verdict_facts(store: Store, settings: Settings, at: Millis, *, environ: Mapping[str, str]) -> VerdictsShape:
    """What was called what, and the one change of this month: from the 30 days before it, so that it stays the same all month."""
    every = verdicts_in(in_force(store.diary(EVERY), at))
    begins = _month(at, settings.rules.site.timezone)
    recent = _counted([v for v in every if v.at > at - LOOKS_BACK])
    before = [v for v in every if begins - LOOKS_BACK < v.at <= begins]
    return {
        "at": instant(at),
        "called": recent,
        "month": f"{words.local(at, settings.rules.site.timezone):%Y-%m}",
        "change": _change(store, settings, before, begins, environ=environ),
    }


def _month(at: Millis, tz: str) -> Millis:
    first = words.local(at, tz).replace(day=1, hour=0, minute=0, second=0, microsecond=0, tzinfo=None)
    return round(datetime.combine(first.date(), first.time(), ZoneInfo(tz)).timestamp()) * SECOND


def _counted(verdicts: Sequence[Verdict]) -> list[CalledShape]:
    needless = Counter((v.bed, v.condition) for v in verdicts if not v.useful)
    useful = Counter((v.bed, v.condition) for v in verdicts if v.useful)
    return [
        {
            "bin": bed,
            "condition": condition,
            "needless": needless[bed, condition],
            "useful": useful[bed, condition],
        }
        for bed, condition in sorted({*needless, *useful})
    ]


def _change(
    store: Store, settings: Settings, verdicts: Sequence[Verdict], end: Millis, *, environ: Mapping[str, str]
) -> ChangeShape | None:
    rules = settings.rules
    blamed = [
        one
        for one in sorted(_counted(verdicts), key=lambda c: -c["needless"])
        if one["needless"] >= OFTEN
        and not one["useful"]
        and one["condition"] in SIDES
        and one["bin"] in rules.bins
    ]
    return _of(store, settings, blamed[0], verdicts, end, environ=environ) if blamed else None


def _of(
    store: Store,
    settings: Settings,
    blamed: CalledShape,
    verdicts: Sequence[Verdict],
    end: Millis,
    *,
    environ: Mapping[str, str],
) -> ChangeShape | None:
    """Of all that is tried on the same 30 days the change that misses least, then spares most, then is smallest."""
    bed, rules = blamed["bin"], settings.rules
    began = {v.alarm: _began(store, v.alarm) for v in verdicts if v.bed == bed}
    lived = lived_of(store, rules, [bed], end - LOOKS_BACK - WARMS_UP, end)
    here = _judged(lived, rules, bed)
    best: tuple[tuple[int, int, int], ChangeShape] | None = None
    for number, text in enumerate(_candidates(rules, bed, blamed["condition"])):
        try:
            others = wished(settings, [wish_of(text, rules)], environ=environ).settings.rules
        except (RequestError, SettingsError):
            continue  # beyond harm, or a file that is kept by hand
        there = _judged(lived, others, bed)
        gone = {n for n, at in began.items() if at is not None and not _is_in(at, blamed["condition"], there)}
        spared = sum(v.alarm in gone and not v.useful and v.condition == blamed["condition"] for v in verdicts)
        missed = sum(v.alarm in gone and v.useful for v in verdicts)
        rank = (missed, -spared, number)
        if spared and (best is None or rank < best[0]):
            best = rank, _shaped(text, blamed, spared=spared, missed=missed, fewer=len(here) - len(there))
    return best[1] if best else None


def _judged(lived: Lived, rules: Rules, bed: str) -> list[Activation]:
    mine = only(rules, [bed])
    return episodes(replay(lived, lambda _version: mine).transitions)


def _began(store: Store, alarm: int) -> Millis | None:
    steps = store.story(alarm).transitions
    return steps[0].at if steps else None


def _is_in(at: Millis, condition: str, found: Iterable[Activation]) -> bool:
    return any(
        str(one.key.condition) == condition and one.began - HOUR <= at and (one.ended is None or at <= one.ended)
        for one in found
    )


def _candidates(rules: Rules, bed: str, condition: str) -> Iterator[str]:
    """Longer delays, then wider comfort, as they would be written."""
    measure, below = SIDES[condition]
    limits, units = rules.bins[bed].limits[measure], rules.site.units
    for times in LONGER:
        longer = min(limits.comfort_delay * times, LONGEST)
        if longer > limits.comfort_delay:
            yield f"{bed}.{measure}.comfort_delay={q.written(longer, q.SPAN, units)}"
    for step in STEPS[measure]:
        band = _band(limits, measure, units, step=-step if below else step, below=below)
        if band:
            yield f"{bed}.{measure}.comfort={band}"


def _band(limits: Limits, measure: Measures, units: Units, *, step: float, below: bool) -> str | None:
    if limits.low is None or limits.high is None:
        return None
    low, high = limits.low.value + (step if below else 0), limits.high.value + (0 if below else step)
    ends = [q.written(end, QUANTITY[measure], units) for end in (low, high)]
    return f"{ends[0].rpartition(' ')[0]}..{ends[1]}"


def _shaped(text: str, blamed: CalledShape, *, spared: int, missed: int, fewer: int) -> ChangeShape:
    of = blamed["needless"]
    return {
        "set": text,
        "spared": spared,
        "of": of,
        "missed": missed,
        "fewer_alarms": fewer,
        "sentence": f"{_change_words(text, spared=spared, of=of, missed=missed)}. See it before you take it: "
        f"`vermistat replay --set '{text}'`",
    }


def _change_words(text: str, *, spared: int, of: int, missed: int) -> str:
    miss = (
        "and missed none that was called useful" if not missed else f"and missed {missed} that were called useful"
    )
    return f"{text} would have spared {spared} of {of} that were called needless, {miss}"


def change_words(change: ChangeShape) -> str:
    """The change in one sentence, without the command that shows it."""
    return _change_words(change["set"], spared=change["spared"], of=change["of"], missed=change["missed"])


def called_text(called: Called) -> str:
    """What was left."""
    word = "useful" if called.useful else "needless"
    return f"Notice {called.notice} is called {word} by {called.who}: {called.title}"


def verdicts_text(facts: VerdictsShape, saying: Saying) -> str:
    """The same in sentences."""
    lines = counted_text(facts, saying)
    if not lines:
        lines = ["No notice was called useful or needless in the last 30 days: `vermistat needless NUMBER` does."]
    if facts["change"]:
        lines += ["", f"The one change of this month: {facts['change']['sentence']}."]
    return "\n".join(lines)


def counted_text(facts: VerdictsShape, saying: Saying) -> list[str]:
    """How often each kind of trouble of a bin was called what, a sentence each."""
    return [
        f"{saying.rules.bins[one['bin']].name if one['bin'] in saying.rules.bins else one['bin']}, {one['condition']}: "
        f"called needless {words.amount(one['needless'], 'time')}, useful {words.amount(one['useful'], 'time')}"
        for one in facts["called"]
    ]
