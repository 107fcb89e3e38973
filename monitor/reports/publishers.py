"""What a publisher says of one of its probes: how many readings were none and why, and when the publisher was last heard."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from monitor import words
from monitor.intake.publishers import Publisher
from monitor.reports.notes import plain
from monitor.reports.saying import Saying, instant, millis
from monitor.reports.shapes import WiredShape
from monitor.rules import Probe

FAULTS = {
    "missing": "not there",
    "bus": "not answered on the bus",
    "crc": "with a wrong check sum",
    "power-on": "of a chip that never measured (its power-on value)",
    "power": "with too little power",
    "silent": "not answered",
    "impossible": "that no such chip can measure",
    "nonsense": "that were no number",
    "rights": "that may not be read",
    "library": "without the library that reads them",
}
"""What each fault is called, by its name in `publisher.faults`."""


def wired_facts(probe: Probe, publishers: Mapping[str, Publisher]) -> WiredShape | None:
    """What the publisher that was heard last says of a probe, by its SenML name or its id; None where none does."""
    name = probe.source.name or probe.id
    there = [(one.heard or 0, who) for who, one in publishers.items() if name in one.probes]
    if not there:
        return None
    _, who = max(there)
    one = publishers[who]
    wired = one.probes[name]
    return {
        "publisher": who,
        "alive": one.alive,
        "heard": None if one.heard is None else instant(one.heard),
        "good": wired.good,
        "faults": dict(wired.faults),
        "says": plain(wired.says),
    }


def wired_words(wired: WiredShape, saying: Saying) -> Iterator[str]:
    """What is the matter there, where anything is."""
    heard = "never heard" if wired["heard"] is None else f"heard {saying.ago(millis(wired['heard']))} ago"
    if not wired["alive"]:
        yield f"Its publisher {wired['publisher']} is gone; {heard}. Look at its power and its network."
    if wired["faults"]:
        counts = words.joined([f"{count:,} {FAULTS.get(what, what)}" for what, count in wired["faults"].items()])
        tried = wired["good"] + sum(wired["faults"].values())
        yield f"Of {tried:,} readings at its publisher {wired['publisher']} ({heard}) no value came of {counts}."
    if wired["says"]:
        yield f"Now its publisher says: {wired['says']}"
