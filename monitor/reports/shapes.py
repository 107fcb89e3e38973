"""The shapes of `--json`, one for every command that reads. Times are RFC 3339 in UTC; units stand in the names.

A test holds every command's output to these.
"""

from __future__ import annotations

from typing import TypedDict


class ValueShape(TypedDict):
    """The newest trusted value of one probe."""

    probe: str
    measures: str
    value: float
    unit: str
    at: str
    age_seconds: int
    fresh: bool


class ZoneShape(TypedDict):
    """One zone with what its probes last said."""

    id: str
    role: str
    values: list[ValueShape]


class BinShape(TypedDict):
    """One bin: how it is in a sentence, its zones and the numbers of its alarms."""

    id: str
    name: str
    place: str
    species: list[str]
    sentence: str
    zones: list[ZoneShape]
    alarms: list[int]


class OrderShape(TypedDict):
    """One thing to do."""

    act: str
    target: str
    words: str
    why: str
    cautions: list[str]
    by: str | None
    urgent: bool
    alarms: list[int]


class PlaceShape(TypedDict):
    """What to do in one place."""

    place: str
    valid_until: str
    orders: list[OrderShape]


class NowShape(TypedDict):
    """`vermistat now`."""

    site: str
    at: str
    last_round: str | None
    advice: list[PlaceShape]
    bins: list[BinShape]


class AlarmShape(TypedDict):
    """One standing alarm."""

    number: int
    subject: str
    place: str
    condition: str
    state: str
    level: str | None
    priority: str
    since: str
    raised_at: str
    arithmetic: str
    source: str
    mark: str
    suppressed_by: str | None


class AlarmsShape(TypedDict):
    """`vermistat alarms`."""

    alarms: list[AlarmShape]


class StepShape(TypedDict):
    """One step of one alarm."""

    at: str
    event: str
    before: str
    after: str
    level: str | None
    cause: str
    who: str | None


class ToldShape(TypedDict):
    """Why one person was, or was not, told of one step."""

    at: str
    person: str
    event: str
    verdict: str
    reason: str
    until: str | None
    notice: int | None


class WhyShape(TypedDict):
    """`vermistat why NUMBER`: one alarm from the reading to the telling."""

    number: int
    subject: str
    condition: str
    evidence: list[str]
    steps: list[StepShape]
    advice: list[OrderShape]
    told: list[ToldShape]
    diary: list[str]


class LimitShape(TypedDict):
    """One limit of a species; `lasting_minutes` 0 is at once."""

    level: str
    below: bool
    value: float
    unit: str
    lasting_minutes: float
    source: str
    mark: str


class SpeciesShape(TypedDict):
    """`vermistat species`: one species with its limits."""

    key: str
    latin: str
    common: str
    temperature: list[LimitShape]
    moisture: list[LimitShape]
    notes: list[str]
    warning: str | None


class CheckShape(TypedDict):
    """`vermistat check`."""

    accepted: bool
    files: list[str]
    mistakes: list[str]
    explained: list[str]


class AskedShape(TypedDict):
    """`vermistat seen` and `vermistat done`."""

    request: int
    alarm: int
    what: str
    who: str
