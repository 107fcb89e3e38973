"""The diary as it is shown: every entry in the keeper's units, corrected ones with what stands for them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from monitor import words
from monitor.asked import entry_of
from monitor.diary import EVERY, Deed, Entry, corrected_by
from monitor.jotting import Jotted
from monitor.readings import MINUTE, Millis
from monitor.reports.facts import watching
from monitor.reports.notes import plain
from monitor.reports.saying import Saying, instant, millis, zone_words
from monitor.reports.shapes import DiaryListShape, JottingShape
from monitor.rules import Rules
from monitor.store.promises import Store

SHOWN = 50
"""So many of the newest entries are listed where nobody says since when."""
LATER: Millis = 10 * MINUTE
"""An entry that is written so long after what it tells of says when it was."""


def diary_facts(
    store: Store,
    rules: Rules,
    at: Millis,
    *,
    bed: str | None = None,
    since: Millis | None = None,
    most: int = SHOWN,
) -> DiaryListShape:
    """The entries of a bin (None: of everything) from `since` on (None: the newest `most`)."""
    saying = Saying(rules, at)
    kept = store.diary(EVERY)
    waiting = [e for r in store.asked() if r.what == "diary" and (e := entry_of(r)) is not None]
    corrected = corrected_by([*kept, *waiting])
    every = sorted([*((e, False) for e in kept), *((e, True) for e in waiting)], key=lambda pair: pair[0].at)
    mine = [(e, w) for e, w in every if bed is None or is_about(rules, bed, e)]
    shown = mine[-most:] if since is None else [(e, w) for e, w in mine if e.at >= since]
    entries = [_jotting(e, saying, corrected, waits=waits) for e, waits in shown]
    return {
        "at": instant(at),
        "entries": entries,
        "earlier": len(mine) - len(shown),
        "written": None,
        "waits": False,
        "sentence": "",
    }


def written_facts(store: Store, rules: Rules, jotted: Jotted) -> DiaryListShape:
    """What one call has left."""
    last, entry = store.load().last_round, jotted.entry
    waits = not watching(last, entry.written_at)
    when = (
        "It waits: no round seems to run. It counts as soon as `vermistat run` runs again."
        if waits
        else "The next round takes it up, within about a minute."
    )
    instead = f" It stands for entry {entry.corrects}, which is kept as corrected." if entry.corrects else ""
    return {
        "at": instant(entry.written_at),
        "entries": [],
        "earlier": 0,
        "written": _jotting(entry, Saying(rules, entry.written_at), {}, waits=True),
        "waits": waits,
        "sentence": f"{when}{instead} Not right? `--corrects {jotted.request}` with what is.",
    }


def entry_words(entry: Entry, saying: Saying) -> str:
    """One entry as it is read: "Fig: fed 1.5 kg, kitchen scraps"."""
    return _sentence(entry, saying)


def is_about(rules: Rules, bed: str, entry: Entry) -> bool:
    """Whether an entry is about a bin: itself, a zone, a probe or a mat of it."""
    kind = entry.subject.partition(":")[0]
    if kind == "mat":
        return any(m.id == entry.id for m in rules.mats_of(bed))
    if kind == "probe":
        return any(p.id == entry.id for z in rules.bins[bed].zones for p in z.probes)
    return entry.bed == bed


def _jotting(entry: Entry, saying: Saying, corrected: Mapping[int, int], *, waits: bool) -> JottingShape:
    return {
        "number": entry.number or None,
        "at": instant(entry.at),
        "written_at": instant(entry.written_at),
        "who": plain(entry.who),
        "about": _about(entry, saying),
        "subject": entry.subject,
        "deed": str(entry.deed),
        "amount": entry.amount,
        "unit": entry.unit,
        "text": plain(entry.text),
        "sentence": _sentence(entry, saying),
        "alarm": entry.alarm,
        "corrects": entry.corrects,
        "corrected_by": corrected.get(entry.number) if entry.number else None,
        "waits": waits,
    }


def _about(entry: Entry, saying: Saying) -> str:
    """Who or what: "Fig", "Fig west", "long-mat"; the site's own name for the site."""
    if entry.bed:
        bed = saying.rules.bins.get(entry.bed)
        zone = entry.id.partition(".")[2]
        return entry.id if bed is None else f"{bed.name} {zone and zone_words(bed, zone)}".strip()
    return entry.id or saying.rules.site.name


def _sentence(entry: Entry, saying: Saying) -> str:
    """ "Fig: fed 1.5 kg, kitchen scraps"."""
    amount = "" if entry.amount is None else f" {words.measured(entry.amount, entry.unit, saying.units)}"
    alarm = f" what alarm {entry.alarm} asked" if entry.deed is Deed.DONE and entry.alarm else ""
    if entry.deed is Deed.NOTE:
        return f"{_about(entry, saying)}: {plain(entry.text) or '–'}"
    text = f", {plain(entry.text)}" if entry.text else ""
    return f"{_about(entry, saying)}: {entry.deed}{alarm}{amount}{text}"


# ── in sentences ──────────────────────────────────────────────────────────────────────────────────────────────


def diary_text(facts: DiaryListShape, saying: Saying) -> str:
    """One entry a line, the newest last."""
    if facts["written"] is not None:
        return "\n".join([_line(facts["written"], saying), facts["sentence"]])
    lines = [_line(one, saying) for one in facts["entries"]]
    return "\n".join([*_earlier(facts["earlier"]), *lines]) or _nothing(facts)


def _earlier(count: int) -> Iterator[str]:
    if count:
        yield f"{words.amount(count, 'earlier entry', 'earlier entries')}: say since when with --since."


def _nothing(facts: DiaryListShape) -> str:
    return "Nothing is written here yet: `vermistat diary fig fed 1.5 kg` writes the first line, for your own bin."


def _line(one: JottingShape, saying: Saying) -> str:
    at, written = millis(one["at"]), millis(one["written_at"])
    later = f" (written {saying.clock(written)})" if written - at > LATER else ""
    struck = f" – NOT SO, corrected by {one['corrected_by']}" if one["corrected_by"] else ""
    instead = f" (instead of {one['corrects']})" if one["corrects"] else ""
    waits = ", waits for the next round" if one["waits"] else ""
    number = str(one["number"] or "–")
    return f"{number:>4}  {saying.clock(at)}  {one['who']}  {one['sentence']}{instead}{later}{struck}{waits}"
