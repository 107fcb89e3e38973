"""The commands by which a person keeps an alarm, or a whole bin, from being told for a while."""

from __future__ import annotations

import argparse
import re
from datetime import date, time
from typing import TYPE_CHECKING

from monitor.cli import commands

if TYPE_CHECKING:
    from monitor.readings import Millis
    from monitor.reports.saying import Saying
    from monitor.settings import Settings
    from monitor.store.promises import Store

When = tuple[date | None, time]
"""A local time, with a date or without: then the next one of that time."""

_WHEN = r"(?:(\d{4}-\d\d-\d\d)[ T])?(\d\d?):(\d\d)"


def shelve(options: argparse.Namespace) -> int:
    """`vermistat shelve`."""
    from monitor.keeper import shelve as leave

    settings, store, saying = opened(options)
    until = saying.at + options.length if options.length is not None else _moment(options.until, saying)
    asked = leave(
        store,
        settings.rules,
        alarm=options.alarm,
        until=until,
        who=options.who,
        note=" ".join(options.note),
        at=saying.at,
    )
    return commands.say_asked(options, asked, store, saying)


def later(options: argparse.Namespace) -> int:
    """`vermistat later`."""
    from monitor.keeper import later as leave

    settings, store, saying = opened(options)
    asked = leave(
        store,
        settings.rules,
        alarm=options.alarm,
        until=None if options.until is None else _moment(options.until, saying),
        who=options.who,
        note=" ".join(options.note),
        at=saying.at,
    )
    return commands.say_asked(options, asked, store, saying)


def unshelve(options: argparse.Namespace) -> int:
    """`vermistat unshelve`."""
    from monitor.keeper import unshelve as leave

    settings, store, saying = opened(options)
    note = " ".join(options.note)
    asked = leave(store, settings.rules, alarm=options.alarm, who=options.who, note=note, at=saying.at)
    return commands.say_asked(options, asked, store, saying)


def working(options: argparse.Namespace) -> int:
    """`vermistat working`."""
    from monitor.keeper import work as leave

    settings, store, saying = opened(options)
    length = 0 if options.done else options.length
    note = " ".join(options.note)
    asked = leave(store, settings.rules, bed=options.bed, length=length, who=options.who, note=note, at=saying.at)
    return commands.say_asked(options, asked, store, saying)


def opened(options: argparse.Namespace) -> tuple[Settings, Store, Saying]:
    """Settings, their store for reading, and words for this moment."""
    settings = commands._settings(options)
    store = commands._open(settings)
    return settings, store, commands._saying(settings.rules, store)


def span(text: str) -> Millis:
    """`4h`, `90 min`, `2 d`, as the settings write it. Raises ArgumentTypeError."""
    from monitor.rules import Units
    from monitor.settings.mistakes import Misread
    from monitor.settings.quantities import SPAN, measured

    try:
        found = round(measured(text, SPAN, Units.METRIC))
    except Misread as misread:
        raise argparse.ArgumentTypeError(f"{misread.sentence.rstrip('.')}: write 30min, 4h or 2d") from None
    if not 0 < found < 2**62:
        raise argparse.ArgumentTypeError(f"{text!r} is no time to wait: write 30min, 4h or 2d")
    return found


def when(text: str) -> When:
    """`14:30`, or `2026-11-26 07:00`. Raises ArgumentTypeError."""
    found = re.fullmatch(_WHEN, text.strip(), re.ASCII)
    try:
        if found is None:
            raise ValueError
        day = date.fromisoformat(found.group(1)) if found.group(1) else None
        return day, time(int(found.group(2)), int(found.group(3)))
    except ValueError:
        said = f"{text!r} is no time: write 14:30 for the next one, or 2026-11-26 07:00"
        raise argparse.ArgumentTypeError(said) from None


def _moment(of: When, saying: Saying) -> Millis:
    from monitor.advice.daytime import moment, next_of

    day, clock = of
    zone = saying.rules.site.timezone
    return next_of((clock,), after=saying.at, tz=zone) if day is None else moment(day, clock, zone)
