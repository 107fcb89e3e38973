"""`vermistat alarms --journal` and `--review`: what was, and how well the alarms serve."""

from __future__ import annotations

import argparse

from monitor.cli import commands
from monitor.cli.holding import opened


def journal(options: argparse.Namespace) -> int:
    """`vermistat alarms --journal`."""
    from monitor.moments import beginning
    from monitor.reports.journal import journal_facts, journal_text

    settings, store, saying = opened(options)
    zone = settings.rules.site.timezone
    since = beginning(options.since, zone, saying.at) if options.since else None
    facts = journal_facts(store, settings.rules, saying.at, since=since, bed=options.bin)
    commands._print(options, facts, lambda: journal_text(facts, saying))
    return commands.DONE
