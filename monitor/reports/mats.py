"""Whether each mat is on, as far as its plug or the diary tells."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from monitor import words
from monitor.advice.present import Drawn, drawn_by
from monitor.checks.memory import ProbeMemory
from monitor.diary import EVERY, SWITCHED, Deed, Entry, in_force
from monitor.reports.probes import heard
from monitor.reports.saying import Saying, instant
from monitor.rules import Control, Mat
from monitor.store.promises import Store

if TYPE_CHECKING:
    from monitor.reports.shapes import MatShape

HELD: Mapping[Control, str] = {
    Control.THERMOSTAT: "under its thermostat",
    Control.TIMER: "on a timer",
    Control.HAND: "switched by hand",
    Control.ALWAYS: "always on",
    Control.UNKNOWN: "nobody says what switches it",
}


def mat_facts(store: Store, saying: Saying) -> list[MatShape]:
    """Every mat of the settings."""
    rules = saying.rules
    if not rules.mats:
        return []
    memory: dict[str, ProbeMemory] = {id_: one.memory for id_, one in heard(store, rules.plugs().values()).items()}
    plugs = drawn_by(rules, memory, saying.at)
    entries = [e for e in in_force(store.diary(EVERY), saying.at) if e.deed in SWITCHED]
    return [_mat(mat, plugs.get(mat.id), _last(mat, entries), saying) for mat in rules.mats.values()]


def _last(mat: Mat, entries: Sequence[Entry]) -> Entry | None:
    return next((e for e in reversed(entries) if e.subject == f"mat:{mat.id}"), None)


def _mat(mat: Mat, plug: Drawn | None, entry: Entry | None, saying: Saying) -> MatShape:
    newer = plug is not None and (entry is None or plug.at >= entry.at)
    on = plug.on if newer and plug else entry.deed is Deed.MAT_ON if entry else None
    at = plug.at if newer and plug else entry.at if entry else None
    return {
        "id": mat.id,
        "on": on,
        "watts": plug.watts if newer and plug else None,
        "at": instant(at) if at is not None else None,
        "told_by": None if at is None else "plug" if newer else "diary",
        "sentence": f"{mat.id}: {'; '.join(_words(mat, plug if newer else None, entry, saying))}",
    }


def _words(mat: Mat, plug: Drawn | None, entry: Entry | None, saying: Saying) -> Iterator[str]:
    if plug is not None:
        draws = "" if plug.watts is None else f", it draws {plug.watts:.0f} W"
        yield f"{'on' if plug.on else 'off'} by its plug{draws}, {saying.ago(plug.at)} ago"
    elif mat.state is not None:
        yield "its plug says nothing that is recent"
    if entry is not None:
        yield f"by the diary {'on' if entry.deed is Deed.MAT_ON else 'off'} since {saying.clock(entry.at)}"
    elif plug is None and mat.control not in (Control.THERMOSTAT, Control.ALWAYS):
        yield "nobody wrote whether it is on"
    set_to = "" if mat.set_to is None else f" at {words.limit(mat.set_to, saying.units)}"
    yield f"{HELD[mat.control]}{set_to}"
