"""A diary form as it was sent: what it comes to, or which field is wrong and why; and what an entry looks like in a form."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from monitor import words
from monitor.deeds import BARE, SITE, WAYS, Said, subject_of
from monitor.diary import Deed
from monitor.errors import RequestError
from monitor.jotting import leave
from monitor.keeper import check_note, who_asks
from monitor.moments import moment, senses
from monitor.readings import Millis
from monitor.reports.entering import NOW, OWN, SQUEEZED, Choice, own_time
from monitor.reports.fields import amount_of
from monitor.reports.saying import millis
from monitor.reports.shapes import JottingShape
from monitor.rules import Rules
from monitor.science.squeeze import Feel
from monitor.science.units import in_unit
from monitor.squeezing import squeeze
from monitor.store.promises import Store

NOT_SO = "taken back: it was not so"
"""The note that stands for an entry that was never so."""
WORDS = {way.deed: word for word, way in WAYS.items()}
"""Deed → the word that a form knows it by."""
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Filled:
    """What a form comes to. While `wrong` (field → sentence) is not empty, nothing of the rest may be used.

    `what` is None for a squeezed handful, of which there are `of` and `feel`. `when` is what `moment` reads, None for now.
    `twice` are the two moments of a time that was twice, to choose from.
    """

    wrong: Mapping[str, str]
    what: Said | None = None
    of: str = ""
    feel: str = ""
    note: str = ""
    when: str | None = None
    who: str | None = None
    twice: tuple[Choice, ...] = ()


@dataclass(slots=True)
class _Reading:
    """Reads field after field and goes on after each that is wrong."""

    wrong: dict[str, str] = field(default_factory=dict)

    def read(self, name: str, how: Callable[[], T], otherwise: T) -> T:
        """What a field says, or `otherwise` when that makes no sense."""
        try:
            return how()
        except RequestError as error:
            said = str(error)
            self.wrong[name] = f"{said[:1].upper()}{said[1:].rstrip('.')}."
            return otherwise

    def check(self, name: str, how: Callable[[], object]) -> None:
        """As `read`, where only whether it makes sense is asked."""
        self.read(name, how, None)


def filled(rules: Rules, form: Mapping[str, str], now: Millis) -> Filled:
    """A form as it was sent: `about` (with `part` where a zone was chosen), `did`, `feel`, `amount`, `unit`, `note`, `when`,
    `own` and `who`; whatever is missing counts as empty.
    """
    sent = _Reading()
    about, did = form.get("part") or form.get("about", ""), form.get("did", "")
    note = " ".join(form.get("note", "").split())
    sent.check("note", lambda: check_note(note))
    nobody: str | None = None
    who = sent.read("who", lambda: who_asks(rules, form.get("who") or None), nobody)
    if "who" in sent.wrong and not form.get("who"):
        sent.wrong["who"] = "Choose who did it."
    when, twice = _when(form, sent, rules.site.timezone, now)
    if did == SQUEEZED:
        feel = form.get("feel", "")
        if feel not in list(Feel):
            sent.wrong["feel"] = "Choose what the handful did."
        return Filled(sent.wrong, of=about, feel=feel, note=note, when=when, who=who, twice=twice)
    unknown: str | None = None
    subject = sent.read("about", lambda: _subject(rules, about, did), unknown)
    if subject is None:
        return Filled(sent.wrong, note=note, when=when, who=who, twice=twice)
    nothing: tuple[float | None, str] = (None, "")
    amount, unit = sent.read(
        "amount", lambda: amount_of(rules, did, form.get("amount", ""), form.get("unit", "")), nothing
    )
    what = Said(subject, WAYS[did].deed, amount, unit, note)
    if what.deed is Deed.NOTE and not note:
        sent.wrong.setdefault("note", "A note says something: write it here.")
    return Filled(sent.wrong, what, note=note, when=when, who=who, twice=twice)


def _subject(rules: Rules, about: str, did: str) -> str:
    if not about or not did:
        raise RequestError("choose whom it is about and what was done")
    return subject_of(rules, about, did)


def _when(form: Mapping[str, str], sent: _Reading, tz: str, now: Millis) -> tuple[str | None, tuple[Choice, ...]]:
    """What `moment` is to read, and both meanings of a time that was twice. A time of one's own that is filled in is meant,
    unless another than now was chosen too.
    """
    chosen, own = form.get("when", ""), form.get("own", "").strip()
    if own and chosen not in ("", NOW, OWN, *(choice.key for choice in _meant(own, tz, now))):
        sent.wrong["own"] = "Two times are chosen: leave this empty, or choose “at a time of its own”."
        return None, ()
    if chosen in ("", NOW) and not own:
        return None, ()
    if chosen not in ("", NOW, OWN):
        sent.check("own", lambda: moment(chosen, tz, now))
        return chosen, ()
    none: tuple[Choice, ...] = ()
    choices = sent.read("own", lambda: own_time(own, tz, now), none)
    if len(choices) == 1:
        sent.check("own", lambda: moment(own, tz, now))
        return own, ()
    if choices:
        sent.wrong["own"] = "That hour was twice, because clocks went back: choose which of the two."
    return None, choices


def _meant(own: str, tz: str, now: Millis) -> tuple[Choice, ...]:
    return own_time(own, tz, now) if len(senses(own, tz)) > 1 else ()


def write(store: Store, rules: Rules, form: Filled, *, corrects: int | None, at: Millis) -> int:
    """Leave a form that nothing is wrong with; the number of the request. Raises RequestError, having left nothing, when there is
    no entry of the number it `corrects`.
    """
    if form.what is not None:
        return leave(store, rules, what=form.what, who=form.who, when=form.when, corrects=corrects, at=at).request
    return squeeze(
        store,
        rules,
        of=form.of,
        feel=form.feel,
        who=form.who,
        when=form.when,
        note=form.note,
        at=at,
        corrects=corrects,
    ).request


def as_form(entry: JottingShape, rules: Rules) -> dict[str, str]:
    """An entry as the form that would write it again, for correcting it; `did` is empty where no form writes such an entry."""
    kind, _, id_ = entry["subject"].partition(":")
    at = words.local(millis(entry["at"]), rules.site.timezone)
    form = {
        "about": id_ or SITE,
        "did": WORDS.get(Deed(entry["deed"]), ""),
        "note": entry["text"],
        "own": f"{at:%Y-%m-%dT%H:%M}",
        "when": OWN,
    }
    if kind == "zone":
        form |= {"about": id_.partition(".")[0], "part": id_}
    if entry["deed"] == Deed.SQUEEZED:
        feel, _, note = entry["text"].partition(";")
        form |= {"did": SQUEEZED, "feel": feel.strip(), "note": note.strip()}
    if entry["amount"] is not None:
        unit = BARE[rules.site.units][entry["unit"]]
        form |= {
            "amount": f"{in_unit(entry['amount'], unit) if unit != 'W' else entry['amount']:.4g}",
            "unit": unit,
        }
    return form
