"""The daily sign of life, for whoever wants one: how things stand, in one line, and what cannot be judged."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from monitor import words
from monitor.advice.present import UNKNOWN, Present
from monitor.alarms.cycle import Alarm
from monitor.checks.findings import Condition, Kind
from monitor.notify.duty import hears
from monitor.notify.text import FIRST_LINE, Text
from monitor.readings import HOUR, Millis
from monitor.rules import Bin, Level, Person, Role, Rules

LATE: Millis = 6 * HOUR
"""One that comes later than this would be taken for that of another day (proposal)."""

_SAID = {
    Condition.COLD: "too cold",
    Condition.HOT: "too hot",
    Condition.DRY: "too dry",
    Condition.WET: "too wet",
    Condition.UNWATCHED: "not watched",
}


def sign_of_life(person: Person, rules: Rules, *, alarms: Iterable[Alarm], zones: Mapping[str, Present]) -> Text:
    """One line on everything this person hears of; below it what each bin measures.

    `zones` says by `bin.zone` what is known now; a bin of which nothing is known cannot be judged, and that is said.
    """
    beds = [bed for bed in rules.bins.values() if _hears_of(person, bed, rules)]
    standing = [a for a in alarms if a.active and a.cause is None and hears(person, a.key.subject, rules)]
    dark = [bed for bed in beds if _warmth(bed, zones) is None]
    asking = {a.key.subject.bed for a in standing if a.key.subject.kind in (Kind.BIN, Kind.ZONE)}
    well = [bed for bed in beds if bed.id not in asking and bed not in dark]
    said = [*_of_beds(standing, rules), *_of_the_rest(standing)]
    said += [f"{bed.name} cannot be judged" for bed in dark if bed.id not in asking]
    first = _first(well, beds, said)
    return Text((words.shorten(first, FIRST_LINE), *_values(beds, zones, rules)), tuple(f"{one}." for one in said))


def _hears_of(person: Person, bed: Bin, rules: Rules) -> bool:
    return person.hears is None or bool(person.hears & {bed.id, bed.place})


def _first(well: Sequence[Bin], beds: Sequence[Bin], said: Sequence[str]) -> str:
    if not beds:
        return "Vermistat is alive; there is no bin to judge."
    if not said:
        return (
            f"All is well: {words.amount(len(beds), 'bin')} inside {'its' if len(beds) == 1 else 'their'} limits."
        )
    inside = f"{len(well)} of {words.amount(len(beds), 'bin')} well"
    return f"{'; '.join(said)}. {inside}."


def _of_beds(standing: Iterable[Alarm], rules: Rules) -> list[str]:
    found: dict[str, list[str]] = {}
    for alarm in sorted(standing, key=lambda a: (a.level is not Level.HARM, a.number)):
        bed = rules.bins.get(alarm.key.subject.bed)
        if bed is None or alarm.key.subject.kind not in (Kind.BIN, Kind.ZONE):
            continue
        what = _SAID.get(alarm.key.condition, str(alarm.key.condition))
        harm = " (harm)" if alarm.level is Level.HARM else ""
        found.setdefault(bed.name, []).append(f"{what}{harm}")
    return [f"{name} {words.joined(list(dict.fromkeys(what)))}" for name, what in found.items()]


def _of_the_rest(standing: Iterable[Alarm]) -> list[str]:
    others = [a.key for a in standing if a.key.subject.kind not in (Kind.BIN, Kind.ZONE)]
    return [f"{key.subject.id} {key.condition}".strip() for key in others]


def _warmth(bed: Bin, zones: Mapping[str, Present]) -> float | None:
    """The warmest living zone, the one that its worms have as a refuge; None when nobody knows."""
    living = [z for z in bed.zones if z.role is Role.LIVING] or list(bed.zones)
    known = [t for z in living if (t := zones.get(f"{bed.id}.{z.id}", UNKNOWN).temperature) is not None]
    return max(known, default=None)


def _values(beds: Iterable[Bin], zones: Mapping[str, Present], rules: Rules) -> tuple[str, ...]:
    shown = []
    for bed in beds:
        warmth = _warmth(bed, zones)
        value = "not measured" if warmth is None else words.temperature(warmth, rules.site.units)
        shown.append(f"{bed.name} {value}")
    return (f"{', '.join(shown)}.",) if shown else ()
