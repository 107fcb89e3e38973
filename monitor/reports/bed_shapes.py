"""The shapes of what beds have learned and of what is told ahead of them, as `--json` prints them."""

from __future__ import annotations

from typing import TypedDict


class RangeShape(TypedDict):
    """A number and between what it lies, 8 times in 10."""

    likely: float
    low: float
    high: float


class LearnedZoneShape(TypedDict):
    """What one zone has learned of its heat. `half_life_h` and `lift_c` are null where they are not known well enough, or are not
    told of this side; `since` is when learning began, or began anew because of `why`. `hours` taught, `of` are needed before it
    is told as the bed's own. `errors` is how many of its own forecasts of this time of day are known for what came of them.
    """

    id: str
    about: str
    since: str | None
    why: str
    hours: int
    of: int
    known: bool
    half_life_h: RangeShape | None
    lift_c: RangeShape | None
    holds_c: float | None
    errors: int
    air: str
    dressed: str
    mat_watched: bool
    sentences: list[str]


class LearnedShape(TypedDict):
    """`vermistat learned`. `said` is what became of `--export` or `--reset`, empty otherwise."""

    at: str
    zones: list[LearnedZoneShape]
    said: str
