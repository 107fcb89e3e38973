"""What somebody has asked for, and what will become of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from monitor.advice.cautions import UNPLUG
from monitor.keeper import Asked
from monitor.reports.facts import watching
from monitor.reports.held import bed_words
from monitor.reports.notes import plain
from monitor.reports.saying import Saying, instant, millis
from monitor.reports.shapes import AskedShape
from monitor.rules import Level, Rules
from monitor.store.promises import RoundRow


def asked_facts(asked: Asked, rules: Rules, last: RoundRow | None) -> AskedShape:
    """What a command has left, and what will become of it."""
    waits, saying = not watching(last, asked.at), Saying(rules, asked.at)
    return {
        "request": asked.request,
        "at": instant(asked.at),
        "alarm": asked.number,
        "bin": asked.bed,
        "about": _about(asked, saying),
        "what": asked.what,
        "who": asked.who,
        "note": plain(asked.note),
        "until": instant(asked.until) if asked.until is not None else None,
        "sentence": " ".join(
            filter(None, (_when(waits=waits), _BECOMES[asked.what](asked), _caution(asked, rules)))
        ),
        "last_round": instant(last.at) if last else None,
        "waits": waits,
    }


def _about(asked: Asked, saying: Saying) -> str:
    if asked.bed is not None:
        return bed_words(asked.bed, saying)
    level = (asked.alarm.level or asked.alarm.worst) if asked.alarm else None
    return saying.about(asked.key, level) if asked.key else ""


def _when(*, waits: bool) -> str:
    if waits:
        return "It waits: no round seems to run. It counts as soon as `vermistat run` runs again."
    return "The next round takes it up, within about a minute."


def _caution(asked: Asked, rules: Rules) -> str:
    """Before hands go into a bin in which a mat lies, and after they were in it."""
    if asked.bed is None or not rules.mats_of(asked.bed):
        return ""
    return UNPLUG.words if asked.until is not None else "Is the mat plugged in again?"


def _seen(asked: Asked) -> str:
    if asked.alarm is not None and not asked.alarm.active:
        return "The trouble itself is over, so the alarm ends with it."
    return "The alarm stands until the readings themselves say that it is over."


def _done(asked: Asked) -> str:
    return f"It goes into the diary. {_seen(asked)}"


def _shelved(asked: Asked) -> str:
    worse = "" if asked.alarm is not None and asked.alarm.level is Level.HARM else ", unless it becomes harm"
    short = " That is as long as its priority allows." if asked.shortened else ""
    return f"Until then nobody is told of it{worse}; what still stands then is told again.{short}"


def _unshelved(_asked: Asked) -> str:
    return "If it still stands, it is told again."


def _working(asked: Asked) -> str:
    if asked.until is None:
        return "What still stands then is told."
    harm = "Harm that stands already stays told."
    return f"Until then what its probes say is kept and judged, and told to nobody. {harm} Done before? Say so with --done."


_BECOMES: Mapping[str, Callable[[Asked], str]] = {
    "seen": _seen,
    "done": _done,
    "shelve": _shelved,
    "later": _shelved,
    "unshelve": _unshelved,
    "working": _working,
}


def asked_text(facts: AskedShape, saying: Saying) -> str:
    """What was left, and what becomes of it."""
    note = f", “{facts['note']}”" if facts["note"] else ""
    until = f" until {saying.clock(millis(facts['until']))}" if facts["until"] else ""
    what = _SAID[facts["what"]]
    if facts["bin"] is not None:
        done = f"work in {facts['about']}{until}" if until else f"the work in {facts['about']} is over"
        return f"{facts['who']} says: {done}{note}.\n{facts['sentence']}"
    about = f" ({facts['about']})" if facts["about"] else ""
    return f"{facts['who']} says: alarm {facts['alarm']}{about} is {what}{until}{note}.\n{facts['sentence']}"


def answered_text(asked: Asked, rules: Rules, *, taken_up: bool) -> str:
    """The same for whoever is shown the next page: what was answered, and what became or will become of it."""
    saying = Saying(rules, asked.at)
    until = f" until {saying.clock(asked.until)}" if asked.until is not None else ""
    waits = "" if taken_up else "It waits for the next round. "
    what = f"{_about(asked, saying)} is {_SAID[asked.what]}{until}, says {asked.who}."
    return f"{what} {waits}{_BECOMES[asked.what](asked)}"


_SAID = {
    "seen": "seen",
    "done": "done",
    "shelve": "shelved",
    "later": "put off",
    "unshelve": "shelved no longer",
    "working": "",
}
