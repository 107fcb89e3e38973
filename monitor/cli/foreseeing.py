"""`vermistat learned`, `forecast` and `care`: what beds know of their heat, and what follows for the night, food and water."""

from __future__ import annotations

import argparse
import json

from monitor.cli import commands
from monitor.cli.holding import opened
from monitor.errors import RequestError


def care(options: argparse.Namespace) -> int:
    """`vermistat care`."""
    from monitor.reports.caring import care_facts, care_text

    settings, store, saying = opened(options)
    if options.bed is not None and options.bed not in settings.rules.bins:
        raise RequestError(f"the settings know no bin {options.bed}; known are {', '.join(settings.rules.bins)}")
    beds = None if options.bed is None else [options.bed]
    facts = care_facts(store, settings.rules, saying.at, beds=beds)
    commands._print(options, facts, lambda: care_text(facts, saying))
    return commands.DONE


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


def forecast(options: argparse.Namespace) -> int:
    """`vermistat forecast`."""
    from monitor.reports.foreseen import forecast_facts, forecast_text

    settings, store, saying = opened(options)
    if options.bin is not None and options.bin not in settings.rules.bins:
        raise RequestError(f"the settings know no bin called {options.bin}")
    facts = forecast_facts(store, settings.rules, saying.at, bed=options.bin)
    commands._print(options, facts, lambda: forecast_text(facts, saying))
    return commands.DONE
