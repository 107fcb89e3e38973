"""The commands about what is measured: by probes, and by a keeper's own hand."""

from __future__ import annotations

import argparse

from monitor.cli import commands


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
