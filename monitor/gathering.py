"""What a round has to be handed besides its news, out of what is kept: by `rounds` for the present, by `replay` for the past."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date
from itertools import pairwise

from monitor.alarms.cycle import Alarm, Transition
from monitor.checks.bins import backfill_span
from monitor.checks.findings import AlarmKey, PastEpisode
from monitor.checks.memory import ProbeMemory, is_late
from monitor.judge import Book, Late, Stood
from monitor.notify.weekly import due, seven_days
from monitor.readings import DAY, Millis, Reading

EVER: Millis = 2**62
ROUNDS_OF_A_DAY = 1600
"""Rounds of a little more than a day: what was late in them is late again when the memory is made anew."""

Window = Callable[[str, Millis, Millis], Sequence[Reading]]
"""A probe's kept readings, start <= at < end."""
Known = tuple[AlarmKey, Millis, Millis]


def new_bins(stood: Stood, book: Book) -> set[str]:
    """Bins whose watches are new, or whose last step failed."""
    known = stood.prints
    if known is book.prints:
        return set()
    return {bed for bed, print_ in book.prints.items() if known.get(bed) != print_}


def backfilled(
    beds: Iterable[str], book: Book, now: Millis, window: Window
) -> dict[str, dict[str, Sequence[Reading]]]:
    """The stored readings of these bins, as far back as their delays reach."""
    return {
        bed: {probe: window(probe, now - span, now) for probe in book.watched[bed].probes}
        for bed in beds
        for span in (backfill_span(book.watched[bed]),)
    }


def lately(
    news: Iterable[Reading],
    book: Book,
    *,
    memory: Mapping[str, ProbeMemory],
    window: Window,
    told: Callable[[Millis], Iterable[Known]],
) -> dict[str, Late]:
    """The history around readings that came after newer ones of their probe, by bin; rare, so asked for one by one. `told` says
    what is known since a time.
    """
    spans: dict[str, list[Millis]] = defaultdict(list)
    for reading in news:
        bed, known = book.home(reading), memory.get(reading.probe)
        if bed is not None and known is not None and is_late(known, reading):
            spans[bed].append(reading.at)
    found = {}
    for bed, times in spans.items():
        start, end = min(times) - DAY, max(times) + DAY
        history = {probe: window(probe, start, end) for probe in book.watched[bed].probes}
        found[bed] = Late(history, [known for known in told(start) if known[0].subject.bed == bed])
    return found


def told_of(steps: Iterable[Transition], alarms: Iterable[Alarm], past: Iterable[PastEpisode]) -> Iterator[Known]:
    """What is known of a span already: when each of its alarms began and ended, and each past episode."""
    began: dict[int, Millis] = {}
    for step in steps:
        held = step.evidence.held if step.evidence else 0
        began.setdefault(step.number, step.at - held)
        yield step.key, began[step.number], step.at
    for alarm in alarms:
        yield alarm.key, alarm.since, EVER if alarm.active else alarm.changed_at
    yield from ((one.key, one.began, one.ended) for one in past)


def weeks_heard(book: Book, decided: Mapping[str, Millis], now: Millis, window: Window) -> dict[date, bool]:
    """Of each week that is to be told now, by its Monday, whether there is any reading; it is looked for from the end."""
    rules = book.rules
    firsts = {one.first for one in due(rules, decided, now) if not one.missed}
    return {first: _heard(book, seven_days(first, rules.site.timezone), window) for first in firsts}


def _heard(book: Book, edges: Sequence[Millis], window: Window) -> bool:
    days = [*pairwise(edges)][::-1]
    return any(window(probe, start, end) for start, end in days for probe in book.probes)
