"""The shape of `vermistat week --json`. Times are RFC 3339 in UTC; numbers canonical: °C, %, hours, L, kg, kWh."""

from __future__ import annotations

from typing import TypedDict


class ExtremeShape(TypedDict):
    """A value and when it was so."""

    value: float
    at: str


class BandShape(TypedDict):
    """Hours `below`, `inside` and `above` a band, and degree-hours (or point-hours) `short` of it and `beyond` it. An end
    that is null is not limited.
    """

    low: float | None
    high: float | None
    below: float
    inside: float
    above: float
    short: float
    beyond: float


class WeekZoneShape(TypedDict):
    """One quantity of one zone, by the probe that knows most of it. `known` are the hours about which anything is known,
    `silent` those of which nothing is: they stand in no band. `lowest` and `highest` are null when nothing is known.
    """

    zone: str
    measures: str
    unit: str
    probe: str
    known: float
    silent: float
    comfort: BandShape | None
    harm: BandShape | None
    lowest: ExtremeShape | None
    highest: ExtremeShape | None


class WeekAlarmShape(TypedDict):
    """One time that an alarm was there. `seen_after_minutes` is null while nobody has seen it."""

    number: int
    about: str
    level: str | None
    began: str
    ended: str | None
    seen_after_minutes: int | None


class WeekBinShape(TypedDict):
    """One bin's week in a sentence, and what it stands on. `watered` and `fed` are what the diary counted: how often, and
    how much (L, kg) where that was written.
    """

    id: str
    name: str
    sentence: str
    zones: list[WeekZoneShape]
    watered: int
    litres: float | None
    fed: int
    kilograms: float | None
    alarms: list[WeekAlarmShape]
    look_at: list[str]


class WeekMatShape(TypedDict):
    """One mat. `hours` on and `kwh` are null where nobody tells; `told_by` is plug, diary or its control; `at_most` is
    whether a thermostat may have let it rest meanwhile. `known` are the hours about which that is known.
    """

    id: str
    warms: list[str]
    hours: float | None
    known: float
    kwh: float | None
    cost: float | None
    told_by: str | None
    at_most: bool
    sentence: str


class WeekShape(TypedDict):
    """`vermistat week`: from `since` up to `until`, which is now for a week that is not over. `hours` is its length: 167
    and 169 where the clocks change.
    """

    at: str
    site: str
    timezone: str
    units: str
    since: str
    until: str
    days: str
    over: bool
    hours: float
    sentence: str
    currency: str | None
    bins: list[WeekBinShape]
    mats: list[WeekMatShape]
    others: list[WeekAlarmShape]
