"""`vermistat alarms --journal` and `--review`: what was, and how well the alarms serve."""

from __future__ import annotations

import argparse
from datetime import date, time

from monitor.cli import commands
from monitor.cli.holding import opened


def journal(options: argparse.Namespace) -> int:
    """`vermistat alarms --journal`."""
    from monitor.advice.daytime import moment
    from monitor.reports.journal import journal_facts, journal_text

    settings, store, saying = opened(options)
    zone = settings.rules.site.timezone
    since = None if options.since is None else moment(options.since, time(0), zone)
    facts = journal_facts(store, settings.rules, saying.at, since=since, bed=options.bin)
    commands._print(options, facts, lambda: journal_text(facts, saying))
    return commands.DONE


def day(text: str) -> date:
    """`2026-11-20`. Raises ArgumentTypeError."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no day: write 2026-11-20") from None
