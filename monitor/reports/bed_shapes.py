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


class CrossingShape(TypedDict):
    """When a limit is crossed, if it is: median, and from when to when 8 times in 10; null is not within 24 h."""

    likely: str | None
    early: str | None
    late: str | None


class HorizonShape(TypedDict):
    """Within so many hours: the least and the most, °C, with what 9 in 10 lie within; and the chances beyond the limits."""

    hours: int
    least_c: RangeShape
    most_c: RangeShape
    chance_below: float | None
    chance_above: float | None


class ForecastZoneShape(TypedDict):
    """What is told ahead of one zone as of `told_at`, null where nothing can be. `fan` has 24 hours of 10 %, 50 % and 90 % in °C.
    `may_alarm` is false while it has too few errors of its own. `outdoors`: `used`, `not yet` (it still learns by it), `lost`
    (too old, or less than 24 hours) or `none`, and how old it was at `told_at`. `mat_answer`: is its mat enough, if it is on all
    night.
    """

    id: str
    about: str
    told_at: str | None
    now_c: float | None
    low_c: float | None
    high_c: float | None
    air: str | None
    dressed: str | None
    may_alarm: bool
    fell_back: bool
    outdoors: str | None
    outdoors_age_h: float | None
    horizons: list[HorizonShape]
    below: CrossingShape | None
    above: CrossingShape | None
    fan: list[list[float]]
    mat_answer: str | None
    mat_chance_on: float | None
    mat_chance_off: float | None
    sentences: list[str]


class OutdoorsShape(TypedDict):
    """The outdoor forecast that is kept: when it came and how far it reaches; `used` is whether this hour's nights are told by
    it, `trouble` why none comes ("" when one does).
    """

    received: str | None
    until: str | None
    used: bool
    trouble: str
    sentence: str


class ForecastShape(TypedDict):
    """`vermistat forecast`. `outdoors` is null where no outdoor forecast was ever asked for."""

    at: str
    zones: list[ForecastZoneShape]
    outdoors: OutdoorsShape | None
