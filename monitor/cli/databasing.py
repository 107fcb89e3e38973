"""`vermistat database`: what is done about the database of the settings."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from monitor.cli.commands import DONE, FAILED, _print
from monitor.errors import RequestError

if TYPE_CHECKING:
    from monitor.addresses import Database
    from monitor.settings import Settings

WHATS = ("set-up",)


def what(text: str) -> str:
    """What is to be done. Raises ArgumentTypeError."""
    if text not in WHATS:
        raise argparse.ArgumentTypeError(
            f"{text!r} is nothing that is done about a database: {' or '.join(WHATS)}"
        )
    return text


def database(options: argparse.Namespace) -> int:
    """`vermistat database set-up`."""
    return set_up(options)


def named(options: argparse.Namespace) -> tuple[Settings, Database]:
    """The settings with their secrets, and the database they name."""
    from monitor.site import load_settings

    settings = load_settings(options.settings, addresses=True)
    if settings.database is None:
        raise RequestError("the settings name no database: write its `url` and `bucket` under `database:` first")
    return settings, settings.database


def set_up(options: argparse.Namespace) -> int:
    """`vermistat database set-up`."""
    from monitor.clock import WallClock
    from monitor.reports.databasing import plan_text, set_up_facts, set_up_text
    from monitor.store.influx_server import Server
    from monitor.store.influx_setup import look, make, prove

    _, database = named(options)
    server = Server(database)
    try:
        before = look(server)
        if not options.yes and not _agreed(options, plan_text(set_up_facts(database, before))):
            facts = set_up_facts(database, before)
            _print(options, facts, lambda: set_up_text(facts))
            return FAILED
        make(server, before)
        proof = prove(server, now=WallClock().now())
        after = look(server)
    finally:
        server.close()
    facts = set_up_facts(database, before, after=after, proof=proof)
    _print(options, facts, lambda: set_up_text(facts))
    return DONE


def _agreed(options: argparse.Namespace, plan: str) -> bool:
    """Whether whoever sits there wants it; nobody sits behind a pipe."""
    if options.json or sys.stdin is None or not sys.stdin.isatty():
        return False
    print(plan)
    try:
        return input("Shall this be done? [y/N] ").strip().lower() in ("y", "yes")
    except EOFError:
        return False
