"""`vermistat database`: what is done about the database of the settings."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING, cast

from monitor.cli.commands import DONE, FAILED, _print
from monitor.errors import RequestError

if TYPE_CHECKING:
    from monitor.addresses import Database
    from monitor.settings import Settings
    from monitor.store.influx import InfluxStore

WHATS = ("set-up", "move")


def what(text: str) -> str:
    """What is to be done. Raises ArgumentTypeError."""
    if text not in WHATS:
        raise argparse.ArgumentTypeError(
            f"{text!r} is nothing that is done about a database: {' or '.join(WHATS)}"
        )
    return text


def database(options: argparse.Namespace) -> int:
    """`vermistat database set-up` and `vermistat database move`."""
    return set_up(options) if options.what == "set-up" else move(options)


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


def move(options: argparse.Namespace) -> int:
    """`vermistat database move`, and `… --back`."""
    from monitor.reports.databasing import move_facts, move_text
    from monitor.site import open_to_write
    from monitor.store.influx_move import Mover

    settings, database = named(options)
    store = cast("InfluxStore", open_to_write(settings))  # the settings name a database
    try:
        mover = Mover(store, _progress)
        moved = mover.back() if options.back else mover.there()
    finally:
        store.close()
    facts = move_facts(database, moved, back=options.back)
    _print(options, facts, lambda: move_text(facts))
    return FAILED if facts["apart"] else DONE


def _progress(done: int, of: int) -> None:
    print(f"{done} of {of}", file=sys.stderr, flush=True)
