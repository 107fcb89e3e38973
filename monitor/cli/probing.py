"""The commands about what is measured: by probes, and by a keeper's own hand."""

from __future__ import annotations

import argparse

from monitor.cli import commands
from monitor.errors import RequestError


def probes(options: argparse.Namespace) -> int:
    """`vermistat probes`."""
    from monitor.reports.roster import probes_facts, probes_text

    settings = commands._settings(options)
    rules = settings.rules
    if options.bed is not None and options.bed not in rules.bins:
        raise RequestError(f"the settings know no bin {options.bed}; known are {', '.join(rules.bins)}")
    store = commands._open(settings)
    saying = commands._saying(rules, store)
    facts = probes_facts(store, rules, saying.at, bed=options.bed)
    commands._print(options, facts, lambda: probes_text(facts, saying))
    return commands.DONE


def squeeze(options: argparse.Namespace) -> int:
    """`vermistat squeeze`."""
    from monitor.reports.squeezing import squeeze_facts, squeeze_text
    from monitor.squeezing import squeeze as leave

    settings = commands._settings(options)
    store = commands._open(settings)
    saying = commands._saying(settings.rules, store)
    one = leave(
        store,
        settings.rules,
        of=options.bed,
        feel=options.feel,
        who=options.who,
        when=options.when,
        note=" ".join(options.note),
        at=saying.at,
    )
    facts = squeeze_facts(one, saying, store.load().last_round)
    commands._print(options, facts, lambda: squeeze_text(facts, one, saying))
    return commands.DONE
