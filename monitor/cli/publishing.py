"""The commands of the machine that sensors are wired to: `vermistat publish`, and `vermistat probes find`."""

from __future__ import annotations

import argparse
import os
from typing import TYPE_CHECKING

from monitor.cli import commands
from monitor.cli.ending import stop_on_signals

if TYPE_CHECKING:
    from monitor.publisher.wired import Publishing


def publish(options: argparse.Namespace) -> int:
    """`vermistat publish`."""
    if options.look:
        return _look(options)
    from monitor.cli.logs import log_to_journal
    from monitor.publisher.running import publish as run

    log_to_journal()
    settings = _settings(options)

    return run(settings, stop=stop_on_signals())


def _settings(options: argparse.Namespace) -> Publishing:
    from monitor.publisher.reading import find, load

    return load(find(options.settings), environ=os.environ)


def _look(options: argparse.Namespace) -> int:
    """Every probe read once, nothing sent."""
    from monitor.publisher.looking import look_facts, look_text

    settings = _settings(options)
    facts = look_facts(settings)
    commands._print(options, facts, lambda: look_text(facts, settings))
    return commands.DONE if all(p["value"] is not None for p in facts["probes"]) else commands.FAILED


def find(options: argparse.Namespace) -> int:
    """`vermistat probes find`."""
    from monitor.clock import Patience
    from monitor.publisher.finding import find_facts, find_text, finding

    found = finding(
        options.names,
        seconds=options.listen or 600.0,
        patience=Patience(),
        say=(lambda text: None) if options.json else lambda text: print(text, flush=True),
    )
    facts = find_facts(found)
    commands._print(options, facts, lambda: find_text(found))
    return commands.DONE if found.named else commands.FAILED
