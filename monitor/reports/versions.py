"""Which settings were in force when, and which limits each taking up changed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from monitor import words
from monitor.amendments import Amendment
from monitor.readings import SECOND
from monitor.reports.saying import Saying, instant, limit_words, millis
from monitor.reports.shapes import AmendmentShape, SettingsShape, TakenUpShape, VersionShape
from monitor.rules import Units
from monitor.store.promises import Store, TakenUp

SHOWN = 50
"""Takings up, the newest."""
IN = "    "


def settings_facts(store: Store, saying: Saying, *, digest: str, files: Sequence[str]) -> SettingsShape:
    """The versions there were, newest last, and whether the files (by their digest and the rules they make) say what is
    in force.
    """
    in_force = store.in_force()
    same = in_force is not None and (in_force.digest, in_force.rules) == (digest, saying.rules.version)
    return {
        "in_force": in_force.number if in_force else None,
        "files_agree": same,
        "files": list(files),
        "taken_up": [_taken(one, saying) for one in store.taken_up(SHOWN)],
    }


def _taken(one: TakenUp, saying: Saying) -> TakenUpShape:
    return {
        "number": one.number,
        "at": instant(one.at),
        "who": one.who,
        "why": one.why,
        "changes": [_amended(amendment, saying.units) for amendment in one.amendments],
        "came": list(one.came),
        "went": list(one.went),
        "renamed": list(one.renamed),
    }


def _amended(one: Amendment, units: Units) -> AmendmentShape:
    return {
        "bin": one.bin,
        "zone": one.zone or None,
        "quantity": one.quantity,
        "limit": one.limit,
        "old": one.old,
        "new": one.new,
        "unit": one.unit,
        "source": one.source,
        "mark": one.mark,
        "written": one.written or None,
        "sentence": _sentence(one, units),
    }


def _sentence(one: Amendment, units: Units) -> str:
    """`fig: temperature, comfort from: 21 °C became 20 °C (vermistat.yaml:14)`."""
    whose = f"{one.bin} {one.zone}".strip()
    old, new = (None if v is None else _value(v, one.unit, units) for v in (one.old, one.new))
    if old is None:
        became = f"{new} now, none before"
    else:
        became = f"{old} became {new}" if new is not None else f"{old} no longer holds"
    where = one.written or one.source
    return f"{whose}: {one.quantity}, {one.limit}: {became}{f' ({where})' if where else ''}"


def _value(value: float, unit: str, units: Units) -> str:
    if unit == "K":
        return words.difference(value, units)
    return words.duration(round(value * SECOND)) if unit == "s" else limit_words(value, unit, units)


def settings_text(facts: SettingsShape, saying: Saying) -> str:
    """The same as lines, oldest first: the newest stands where the eye is."""
    return "\n".join([line for one in facts["taken_up"] for line in _lines(one, saying)] + [_now(facts)])


def _lines(one: TakenUpShape, saying: Saying) -> Iterator[str]:
    because = f": {one['why']}" if one["why"] else ""
    yield f"{saying.clock(millis(one['at']))}: settings {one['number']} in force, by {one['who']}{because}."
    yield from (f"{IN}{change['sentence']}" for change in one["changes"])
    for what, which in (("new", one["came"]), ("gone", one["went"]), ("", one["renamed"])):
        if which:
            yield f"{IN}{what + ': ' if what else ''}{', '.join(which)}"


def _now(facts: SettingsShape) -> str:
    if facts["in_force"] is None:
        return "No settings have been in force yet: start `vermistat run` once."
    if facts["files_agree"]:
        return f"Settings {facts['in_force']} are in force, and the files say the same."
    return (
        f"Settings {facts['in_force']} are in force; the files say something else. A running Vermistat takes it up at"
        " its next round, unless `vermistat now` says why not."
    )


def version_facts(store: Store, number: int) -> VersionShape | None:
    """One version with its texts, None when there is none of that number."""
    found = store.version(number)
    if found is None:
        return None
    return {
        "number": found.number,
        "at": instant(found.at),
        "rules": found.rules,
        "files": [{"name": name, "text": text} for name, text in found.files],
    }


def version_text(facts: VersionShape) -> str:
    """Each file below its name."""
    parts = [f"# settings {facts['number']}: {file['name']}\n{file['text']}" for file in facts["files"]]
    return "\n".join(parts).rstrip("\n")
