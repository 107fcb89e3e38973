"""What `check` says of people: who is told what, at which hour, how often, and over which addresses."""

from __future__ import annotations

from collections.abc import Iterator

from monitor import words
from monitor.notify.duty import before
from monitor.notify.weekly import USUAL
from monitor.rules import Bin, Level, Person, Rules, Weekly
from monitor.settings.alike import listed
from monitor.settings.loading import Settings
from monitor.settings.readers import DAYS


def people(rules: Rules) -> Iterator[str]:
    """Who hears of what, at which hour, and how often."""
    for person in rules.people.values():
        hears = f"hears of {_hears(person)} by {words.joined(person.channels)}"
        yield f"Person {person.id} {hears}; {_hours(person, rules.site.timezone)}; {_may(person)}."
        yield from (f"  {line}" for line in _when(rules, person))
        yield from _turns(person, rules)
    if not rules.people:
        yield "Beware: nobody is told of anything. Write `people:` and `channels:`."
    else:
        yield (
            "Nobody is told the same again while there is nothing else to do, unless it is harm; what goes on night"
            " after night is said once a week."
        )


def _when(rules: Rules, person: Person) -> Iterator[str]:
    """What is told at which hour."""
    if person.evening is None or person.up is None:
        yield "Told in the minute in which it happens, at any hour, all of one place in one notice."
        return
    evening, up = (words.hours(clock, rules.site.timezone) for clock in (person.evening, person.up))
    yield (
        f"From {up} to {evening} harm, and what must be done before {evening}, is told in the minute in which it"
        f" happens; what can wait is told at {evening} or at {up}, all of one place in one notice."
    )
    yield (
        f"At {evening} whatever matters that night is told; then until {up} {_woken(rules, person)}, and the rest"
        f" waits for {up}."
    )


def _woken(rules: Rules, person: Person) -> str:
    """What may cost this person's sleep."""
    if not person.may:
        return "never woken for a bed, because nothing may be done"
    also = [bed for bed in rules.bins.values() if bed.wake_for is Level.COMFORT and reaches(person, bed)]
    comfort = f" (and by discomfort in {listed([bed.id for bed in also])})" if also else ""
    return f"woken by harm alone{comfort}, when there is something to be done about it that night"


def _turns(person: Person, rules: Rules) -> Iterator[str]:
    """Away, who comes next, a sign of life."""
    if person.then is not None:
        wait = words.duration(person.after)
        yield f"  Harm that {person.id} has not seen within {wait} goes to {person.then}."
    replaced = before(person, rules)
    if replaced:
        names = words.joined([one.id for one in replaced])
        besides = f" and of {_hears(person)} in any case" if person.hears is not None else ""
        yield f"  {person.id} stands in for {names}: told when they are away, or do not answer harm{besides}."
    for first, last in person.away:
        days = f"on {first}" if first == last else f"from {first} to {last}"
        yield f"  {person.id} is away {days}, both counted, and is then told of nothing that somebody else hears of."
    if person.sign_of_life is not None:
        at = words.hours(person.sign_of_life, rules.site.timezone)
        yield f"  Each day at {at} {person.id} gets one line that says how things stand."


def reaches(person: Person, bed: Bin) -> bool:
    """Whether a person hears of a bin at all."""
    return person.hears is None or bool(person.hears & {bed.id, bed.place})


def _hears(person: Person) -> str:
    return "everything" if person.hears is None else words.joined(sorted(person.hears))


def _hours(person: Person, tz: str) -> str:
    if person.evening is None or person.up is None:
        return "told at any hour"
    return f"sleeps from {words.hours(person.evening, tz)} to {words.hours(person.up, tz)}"


def _may(person: Person) -> str:
    return f"may see to {words.joined(sorted(person.may))}" if person.may else "may only look"


def channels(settings: Settings) -> Iterator[str]:
    """Each address, as stars."""
    used = {channel for person in settings.rules.people.values() for channel in person.channels}
    for key, channel in settings.channels.items():
        yield f"Channel {key}: {channel.send_to}" + ("." if key in used else ", used by nobody.")
        if key in used and (weekly := settings.rules.weekly.get(key)) is not None:
            yield f"  The week is told there on {DAYS[weekly.weekday].capitalize()} {_at(weekly, settings.rules.site.timezone)}."


def _at(weekly: Weekly, tz: str) -> str:
    if weekly.clock:
        return f"at {words.hours(weekly.clock, tz)}"
    return f"at `up`, or at {words.hours(USUAL, tz)} without one"
