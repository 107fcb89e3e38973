"""The shapes of our messages to other programs. Times and numbers as in `reports.shapes`."""

from __future__ import annotations

from typing import TypedDict

from monitor.reports.shapes import BinShape, OrderShape


class AliveShape(TypedDict):
    """`alive`: whether somebody judges. A true one counts as false after `valid_until`; a false one has none, and what the
    broker says for us when we are gone without leave has no `at` either.
    """

    alive: bool
    at: str | None
    valid_until: str | None


class MatShape(TypedDict):
    """`mats/<mat>`: whether a switch may have it on. Off after `valid_until`, and without a message."""

    mat: str
    on: bool
    why: str
    at: str
    valid_until: str


class StateShape(BinShape):
    """`<bin>/state`: how a bin is, as `vermistat now` says it, but for what a hand felt of it."""

    at: str
    valid_until: str


class AdviceShape(TypedDict):
    """`<bin>/advice`: what to do for a bin, most urgent first; empty when nothing needs doing."""

    bin: str
    name: str
    to_do: list[OrderShape]
    at: str
    valid_until: str
