"""What the times that are shown are worth: unsure now, put right today, or lost for good."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from monitor import words
from monitor.readings import DAY, MINUTE, Millis
from monitor.reckoning import KIND, Belief, kept_stretch
from monitor.reports.saying import Saying, instant, millis
from monitor.store.promises import Past

if TYPE_CHECKING:
    from monitor.reports.shapes import ClockShape, ClockStateShape, NoteShape

MOVED_FOR, LOST_FOR = DAY, 7 * DAY
"""How long it is told that times were put right, and that some never can be."""


def clock_facts(past: Past, saying: Saying) -> ClockShape | None:
    """Why no time that is shown can be relied upon, None when they can."""
    stretch = kept_stretch(past.standing)
    if stretch is None or stretch.reckoning.belief is not Belief.UNSURE:
        return None
    since = stretch.reckoning.since or stretch.begin
    exact = stretch.reckoning.exact
    sentence = f"THE CLOCK IS UNSURE, since {saying.clock(since)} of its own time. " + (
        "The machine's clock was stepped away from a time that was proven; times go on from there."
        if exact
        else "Every time shown is reckoned from the last one known and may be too early; all are put right together"
        " when the true time comes. How long ago and for how long still holds."
    )
    return {"since": instant(since), "sentence": sentence}


def note_facts(past: Past, saying: Saying) -> Iterator[NoteShape]:
    """What was put right, and what cannot be."""
    moved = past.standing.get((KIND, "moved"))
    if moved is not None:
        known = json.loads(moved)
        if saying.at - known["at"] < MOVED_FOR:
            begin, end = (saying.clock(known[end] + known["by"]) for end in ("begin", "end"))
            way = "early" if known["by"] > 0 else "late"
            said = (
                f"At {saying.clock(known['at'])} the true time became known: what was heard from {begin} to {end} had"
                f" been stamped {words.duration(abs(known['by']))} too {way}, and was put right. Notices sent"
                " meanwhile still say the old times."
            )
            yield {
                "kind": "times put right",
                "about": "",
                "sentence": said,
                "at": instant(known["at"]),
                "count": 1,
            }
    lost = past.standing.get((KIND, "lost"))
    if lost is not None:
        known = json.loads(lost)
        if saying.at - known["end"] < LOST_FOR:
            begin, end = saying.clock(known["begin"]), saying.clock(known["end"])
            said = (
                f"What is dated {begin} to {end} was heard without a clock, and the power went before the time was"
                " known: it happened later than it says, and nobody can say by how much."
            )
            yield {"kind": "times unknown", "about": "", "sentence": said, "at": instant(known["end"]), "count": 1}


_STATES: Mapping[Belief, str] = {
    Belief.PROVEN: "This machine's clock is right: something keeps it in time, or somebody has said so.",
    Belief.BELIEVED: "Nothing speaks against this machine's clock, and nothing confirms it."
    " If it is right, you may say so with `vermistat clock --right`; nothing hangs on it.",
}
_WAY_OUT = (
    "Let the machine reach a time server, or set its clock with `sudo date --set`. Once it is right and this"
    " has not gone away within a minute, say `vermistat clock --right`."
)
_LEFT = "You have said that it is right. The next round takes it up, within about a minute."


def clock_state_facts(past: Past, saying: Saying, *, wall: Millis, request: int | None) -> ClockStateShape:
    """How it stands with the clock of a site. `request` is what has just been left."""
    stretch, unsure = kept_stretch(past.standing), clock_facts(past, saying)
    belief = stretch.reckoning.belief if stretch else None
    if unsure is not None:
        sentence = f"{unsure['sentence']} {_WAY_OUT}"
    else:
        sentence = _STATES[belief] if belief else "No daemon has looked at this machine's clock yet."
    return {
        "at": instant(saying.at),
        "machine": instant(wall),
        "belief": str(belief) if belief else None,
        "unsure_since": unsure["since"] if unsure else None,
        "sentence": f"{sentence} {_LEFT}" if request is not None else sentence,
        "notes": list(note_facts(past, saying)),
        "request": request,
    }


def clock_state_text(facts: ClockStateShape, saying: Saying) -> str:
    """The site's time, the machine's where that is another, and what both are worth."""
    at, wall = millis(facts["at"]), millis(facts["machine"])
    apart = abs(at - wall) > MINUTE
    machine = f" This machine's clock says {_dated(wall, saying)}." if apart else ""
    first = f"It is {_dated(at, saying)}, as far as is known.{machine}"
    return "\n".join([first, facts["sentence"], *(note["sentence"] for note in facts["notes"])])


def _dated(at: Millis, saying: Saying) -> str:
    return words.stamp(at, saying.rules.site.timezone)
