"""The week as it is sent to one person: written when it is sent, from what is kept, so that every try says the same."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import islice

from monitor.notify.notices import Notice
from monitor.notify.weekly import week_before
from monitor.reports.saying import Saying
from monitor.reports.week import week_facts
from monitor.reports.week_files import week_pictures
from monitor.reports.week_html import week_html
from monitor.reports.week_shapes import WeekShape
from monitor.reports.week_text import week_subject
from monitor.rules import Bin, Person, Rules
from monitor.store.promises import Store

MOST_BINS = 60
"""Bins that one letter tells of, and pictures that it holds: more than somebody reads, and a send must end within a minute
on a small board (proposal)."""


@dataclass(frozen=True, slots=True)
class WeekLetter:
    """`words` go where no HTML goes. `pictures` are PNG, by the name that `html` calls them by (`cid:NAME`)."""

    subject: str
    words: str
    html: str
    pictures: Mapping[str, bytes]


def week_letter(store: Store, rules: Rules, notice: Notice, *, page: str | None = None) -> WeekLetter:
    """What a notice of the week says, whole. It tells of the bins that its person hears of; `page` is where the page can be
    reached. Raises StoreError.
    """
    person, tz = rules.people.get(notice.person), rules.site.timezone
    first = week_before(notice.at, tz)
    known = _heard_by(person, rules)
    told = replace(known, bins=dict(islice(known.bins.items(), MOST_BINS)))
    facts, saying = week_facts(store, told, notice.at, first=first), Saying(told, notice.at)
    drawn = week_pictures(store, told, facts, at=notice.at)
    left_out = len(known.bins) - len(told.bins)
    notes = [
        *([f"{left_out} further bins stand in `vermistat week` alone."] if left_out else []),
        *notice.lines[2:],
        *([f"On the page: {page.rstrip('/')}/week?from={first}"] if page else []),
    ]
    sources = {bed: f"cid:{_name(bed)}" for bed in drawn}
    return WeekLetter(
        week_subject(facts),
        "\n".join([*_short(facts), *notes]),
        week_html(facts, saying, pictures=sources, notes=notes),
        {_name(bed): picture for bed, picture in drawn.items()},
    )


def _name(bed: str) -> str:
    return f"{bed}.png"


def _heard_by(person: Person | None, rules: Rules) -> Rules:
    if person is None or person.hears is None:
        return rules
    bins = {bed.id: bed for bed in rules.bins.values() if _hears(person.hears, bed)}
    mats = {mat.id: mat for mat in rules.mats.values() if any(bed in bins for bed, _ in mat.warms)}
    return replace(rules, bins=bins, mats=mats)


def _hears(names: frozenset[str], bed: Bin) -> bool:
    return bool(names & {bed.id, bed.place})


def _short(facts: WeekShape) -> Iterator[str]:
    """For a phone: a sentence for each bin, and what to look at."""
    yield facts["sentence"]
    yield from (f"{bed['name']}: {bed['sentence']}" for bed in facts["bins"])
    yield from (mat["sentence"] for mat in facts["mats"])
    looks = [f"{bed['name']}: {line}" for bed in facts["bins"] for line in bed["look_at"]]
    if looks:
        yield f"To look at next week: {' '.join(looks)}"
