"""The shapes of `vermistat alarms --journal --json` and `--review --json`; conventions as in `shapes`."""

from __future__ import annotations

from typing import TypedDict


class JournalEntryShape(TypedDict):
    """One step of one alarm, or (with number 0, and empty states) the beginning or end of work in a bin.

    It happened `at` and was taken up by the round of `taken_up_at`. `sentence` is for the keeper, `cause` is the line that was
    recorded then; `who`, `note` and `until` are as in the steps of `why`.
    """

    at: str
    taken_up_at: str
    number: int
    about: str
    event: str
    before: str
    after: str
    level: str | None
    sentence: str
    cause: str
    who: str | None
    note: str
    until: str | None


class JournalShape(TypedDict):
    """`vermistat alarms --journal`, newest entry last. `whole` is whether nothing was left out for its sheer number."""

    at: str
    since: str
    bin: str | None
    whole: bool
    entries: list[JournalEntryShape]


class FigureShape(TypedDict):
    """One figure. `grade` is `good`, `bearable`, `poor` or `too few to say` against `keeper`, which is what the `published`
    one is for one keeper.
    """

    name: str
    value: float
    unit: str
    keeper: str
    published: str
    source: str
    mark: str
    grade: str


class OftenShape(TypedDict):
    """One alarm that stands out, how often, and (of `frequent`) its share of all in per cent."""

    about: str
    times: int
    share: float | None


class PersonRateShape(TypedDict):
    """What one person was told: notices, how many in any 24 h at most, and how many of them woke."""

    person: str
    notices: int
    a_day: float
    most_in_a_day: int
    woken: int


class ProposalShape(TypedDict):
    """What to change about the alarm that serves worst. `before` and `after` are in `unit` (`min` for delays and intervals)."""

    about: str
    fault: str
    remedy: str
    sentence: str
    before: float | None
    after: float | None
    unit: str


class NowQuietShape(TypedDict):
    """How many standing alarms are not told now, by what keeps them from it."""

    shelved: int
    by_design: int
    out_of_service: int


class ReviewShape(TypedDict):
    """`vermistat alarms --review`. `enough` is whether it looks at the 30 days that the standards ask for."""

    at: str
    since: str
    days: float
    enough: bool
    told: int
    figures: list[FigureShape]
    chattering: list[OftenShape]
    fleeting: list[OftenShape]
    stale: list[OftenShape]
    frequent: list[OftenShape]
    people: list[PersonRateShape]
    shelvings: int
    quiet: NowQuietShape
    proposal: ProposalShape | None
