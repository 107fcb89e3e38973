"""`vermistat learned`: what beds know of their own heat."""

from __future__ import annotations

import argparse
import json

from monitor.cli import commands
from monitor.cli.holding import opened
from monitor.errors import RequestError


def learned(options: argparse.Namespace) -> int:
    """`vermistat learned`."""
    from monitor.diary import Deed
    from monitor.keeper import who_asks
    from monitor.reports.learned import (
        exported,
        learned_facts,
        learned_text,
        reset_words,
        written_words,
        zone_asked,
    )

    settings, store, saying = opened(options)
    rules, said = settings.rules, ""
    zone = None if options.reset is None else zone_asked(rules, options.reset)
    if options.export is not None:
        try:
            options.export.write_text(exported(store, rules, saying.at), encoding="utf-8")
        except OSError as error:
            raise RequestError(f"{options.export} cannot be written: {error.strerror}") from error
        said = written_words(options.export)
    if zone is not None:
        body = json.dumps({"deed": Deed.LEARNS_ANEW, "subject": f"zone:{zone}"})
        store.ask(saying.at, who_asks(rules, options.who), "diary", body=body)
        said = f"{reset_words(zone)} {said}".strip()
    facts = learned_facts(store, rules, saying.at, said=said)
    commands._print(options, facts, lambda: learned_text(facts, saying))
    return commands.DONE
