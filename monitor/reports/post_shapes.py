"""What `--json` prints of the post. Times are RFC 3339 in UTC; `words` and `reason` are for people."""

from __future__ import annotations

from typing import TypedDict

from monitor.reports.shapes import SentShape


class WhyToldShape(TypedDict):
    """Why one step, or what stands, went into a notice. `alarm` 0 is about no alarm."""

    alarm: int
    event: str
    reason: str


class NoticeShape(TypedDict):
    """One notice as it was written: `slot` says when and so why (`at once`, `evening`, `morning`, `woken`, `passed on`,
    `sign of life`), `more` stands behind "why?".
    """

    number: int
    at: str
    person: str
    place: str
    slot: str
    woke: bool
    lines: list[str]
    more: list[str]
    alarms: list[int]
    sent: list[SentShape]
    why: list[WhyToldShape]


class NoticesShape(TypedDict):
    """`vermistat notices` (newest last, `why` empty) and `vermistat notices NUMBER` (one, with why)."""

    notices: list[NoticeShape]


class TriedShape(TypedDict):
    """What came of one test notice. `error` holds no part of the address."""

    channel: str
    people: list[str]
    delivered: bool
    error: str


class TestShape(TypedDict):
    """`vermistat notices test`."""

    tried: list[TriedShape]
