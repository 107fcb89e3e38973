"""The journal of alarms: every step of every alarm, and who worked in which bin, in the keeper's words."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from itertools import groupby
from operator import itemgetter

from monitor import words
from monitor.alarms.cycle import Event, State, Transition
from monitor.alarms.quiet import beds_of
from monitor.checks.findings import AlarmKey, Condition, Kind, Subject
from monitor.diary import Deed, Entry
from monitor.errors import RequestError
from monitor.readings import DAY, Millis
from monitor.reports.alarm_shapes import JournalEntryShape, JournalShape
from monitor.reports.held import bed_words
from monitor.reports.notes import plain
from monitor.reports.saying import Saying, instant, millis
from monitor.rules import Rules
from monitor.store.promises import Store

USUAL: Millis = 7 * DAY
"""How far back the journal begins when nobody says."""
MOST = 10_000
"""So many of the newest steps are shown at most; at the six a day that are too many for anybody, that is four years."""
DIARY = 5_000
WORK = (Deed.WORKING, Deed.WORKED)


def journal_facts(
    store: Store, rules: Rules, at: Millis, *, since: Millis | None = None, bed: str | None = None
) -> JournalShape:
    """Steps and work since a moment (else of the last week), of one bin if given, in the order in which they were taken up.
    Raises RequestError for a bin that nobody knows.
    """
    if bed is not None and bed not in rules.bins:
        raise RequestError(f"the settings know no bin called {bed}; known are {', '.join(rules.bins)}")
    start, saying = at - USUAL if since is None else since, Saying(rules, at)
    bin_of = {p.id: b.id for b in rules.bins.values() for zone in b.zones for p in zone.probes}
    steps = store.transitions(start, limit=MOST)
    mine = [s for s in steps if bed is None or bed in _beds(s.key, rules, bin_of)]
    work = [e for e in store.diary(DIARY) if e.deed in WORK and e.at >= start and bed in (None, _bed(e))]
    rows = [(s.round_at, _step(s, saying)) for s in mine] + [(e.written_at, _work(e, saying)) for e in work]
    return {
        "at": instant(at),
        "since": instant(start),
        "bin": bed,
        "whole": len(steps) < MOST,
        "entries": [row for _, row in sorted(rows, key=itemgetter(0))],
    }


def _beds(key: AlarmKey, rules: Rules, bin_of: Mapping[str, str]) -> set[str]:
    own = {key.subject.bed} if key.subject.kind in (Kind.BIN, Kind.ZONE) else set()
    return own | set(beds_of(key, rules, bin_of))


def _bed(entry: Entry) -> str:
    return entry.subject.partition(":")[2]


def step_words(step: Transition, saying: Saying) -> str:
    """One step as a sentence: "Fig: too cold, harm. It began. …"."""
    return f"{saying.about(step.key, step.level)}. {_SAYS[step.event](step, saying)}"


# ── one step in words ─────────────────────────────────────────────────────────────────────────────────────────


def _step(step: Transition, saying: Saying) -> JournalEntryShape:
    return {
        "at": instant(step.at),
        "taken_up_at": instant(step.round_at),
        "number": step.number,
        "about": saying.about(step.key, step.level),
        "event": str(step.event),
        "before": str(step.before),
        "after": str(step.after),
        "level": str(step.level) if step.level else None,
        "sentence": _SAYS[step.event](step, saying),
        "cause": step.cause,
        "who": step.who,
        "note": plain(step.note),
        "until": instant(step.until) if step.until is not None else None,
    }


def _measured(words_: str) -> Callable[[Transition, Saying], str]:
    def say(step: Transition, saying: Saying) -> str:
        evidence = f" {saying.evidence(step.evidence, step.event)}" if step.evidence else ""
        return f"{words_}.{evidence}"

    return say


def _raised(step: Transition, saying: Saying) -> str:
    again = step.before is State.RETURNED
    return _measured("There again, before anybody had seen that it was over" if again else "It began")(
        step, saying
    )


def _returned(step: Transition, saying: Saying) -> str:
    unseen = step.after is State.RETURNED
    return _measured("Over, and nobody has seen it yet" if unseen else "Over")(step, saying)


def _seen(step: Transition, _saying: Saying) -> str:
    over = ", and over with that" if step.after is State.NORMAL else ""
    return f"Seen by {step.who or 'somebody'}{over}."


_EXPLAINED = re.compile(r"Explained by (.+) \((\w+)(?::(.*))?\)\.")


def _suppressed(step: Transition, saying: Saying) -> str:
    """The row keeps the cause as a sentence alone; it is said by the names that the keeper uses."""
    found = _EXPLAINED.fullmatch(step.cause)
    try:
        key = AlarmKey(Subject(Kind(found[2]), found[3] or "", ""), Condition(found[1])) if found else None
    except ValueError:
        key = None
    return f"Not told: {saying.about(key, None)} explains it." if key else step.cause


def _held(step: Transition, saying: Saying) -> str:
    until = f" until {saying.clock(step.until)}" if step.until is not None else ""
    who = step.who or "somebody"
    if step.event is Event.SHELVED:
        return f"Shelved by {who}{until}."
    return f"Not told while {who} works there{until}."


def _cause(step: Transition, _saying: Saying) -> str:
    return f"{step.cause[:1].upper()}{step.cause[1:].rstrip('.')}."


_SAYS: Mapping[Event, Callable[[Transition, Saying], str]] = {
    Event.RAISED: _raised,
    Event.ROSE: _measured("It became harm"),
    Event.FELL: _measured("Out of harm, and still out of comfort"),
    Event.RETURNED: _returned,
    Event.ACKNOWLEDGED: _seen,
    Event.SUPPRESSED: _suppressed,
    Event.UNSUPPRESSED: lambda _step, _saying: "Told again: what explained it is over.",
    Event.SHELVED: _held,
    Event.UNSHELVED: _cause,
    Event.OUT_OF_SERVICE: _held,
    Event.IN_SERVICE: _cause,
    Event.REMOVED: lambda step, saying: f"Ended: {_cause(step, saying)}",
    Event.RENAMED: _cause,
}


def _work(entry: Entry, saying: Saying) -> JournalEntryShape:
    begins = entry.deed is Deed.WORKING
    name = bed_words(_bed(entry), saying)
    text = f" ({plain(entry.text)})" if entry.text else ""
    said = f"{entry.who} works in {name}{text}." if begins else f"The work of {entry.who} in {name} is over{text}."
    return {
        "at": instant(entry.at),
        "taken_up_at": instant(entry.written_at),
        "number": 0,
        "about": name,
        "event": str(entry.deed),
        "before": "",
        "after": "",
        "level": None,
        "sentence": said,
        "cause": plain(entry.text),
        "who": entry.who,
        "note": "",
        "until": None,
    }


# ── as text ───────────────────────────────────────────────────────────────────────────────────────────────────


def journal_text(facts: JournalShape, saying: Saying) -> str:
    """A day at a time, newest last."""
    entries, since = facts["entries"], saying.clock(millis(facts["since"]))
    name = f" of {bed_words(facts['bin'], saying)}" if facts["bin"] else ""
    if not entries:
        return f"Nothing{name} since {since}."
    lines = [f"Every step{name} since {since}, newest last."]
    if not facts["whole"]:
        lines.append(f"There is more: only the newest {MOST:,} are looked through.")
    for day, group in groupby(entries, key=lambda entry: _day(entry, saying)):
        lines += ["", day, *(_line(entry, saying) for entry in group)]
    return "\n".join(lines)


def _day(entry: JournalEntryShape, saying: Saying) -> str:
    return words.day_of(millis(entry["at"]), saying.rules.site.timezone)


def _line(entry: JournalEntryShape, saying: Saying) -> str:
    zone = saying.rules.site.timezone
    at = words.hours(words.local(millis(entry["at"]), zone), zone)
    note = f" “{entry['note']}”" if entry["note"] else ""
    what = f"{entry['number']}  {entry['about']}. " if entry["number"] else "–  "
    return f"  {at}  {what}{entry['sentence']}{note}"
