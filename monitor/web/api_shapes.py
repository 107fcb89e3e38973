"""The shapes of `/api/` that no command has; conventions as in `reports.shapes`."""

from __future__ import annotations

from typing import TypedDict

from monitor.reports.shapes import ReadingShape


class ApiShape(TypedDict):
    """What is here: which site, by which version, and where every address is described."""

    site: str
    name: str
    version: str
    at: str
    description: str


class BoundShape(TypedDict):
    """One limit: entered `below` or above `value`, told after `lasting_minutes`. `said_by` is whose number it is, `change_at` the
    path in the settings that changes it, `written` where the keeper's own stands (`file:line`), empty for one of the species.
    """

    level: str
    below: bool
    value: float
    unit: str
    lasting_minutes: float
    source: str
    mark: str
    said_by: str
    to_change: str
    written: str
    sentence: str


class HoldingShape(TypedDict):
    """What holds of one quantity for one subject. `judged` is whether a probe stands there that can be held against it."""

    subject: str
    about: str
    zones: list[str]
    measures: str
    judged: bool
    limits: list[BoundShape]
    over: str


class LimitsShape(TypedDict):
    """Every limit that is judged by."""

    at: str
    holdings: list[HoldingShape]


class ReadingsShape(TypedDict):
    """One probe's readings from `since` up to `until`, oldest first, as they are judged."""

    probe: str
    measures: str
    since: str
    until: str
    readings: list[ReadingShape]


class SaysShape(TypedDict, total=False):
    """Who answers an alarm (an id of `people`; needed where there are several), and what they say to it."""

    who: str
    note: str


class LaterShape(SaysShape, total=False):
    """The same, and until when it is put aside; without it until they next get up."""

    until: str
