"""The commands about what is measured: by probes, and by a keeper's own hand."""

from __future__ import annotations

import argparse
import contextlib
from typing import TYPE_CHECKING

from monitor.cli import commands
from monitor.errors import RequestError

if TYPE_CHECKING:
    from monitor.settings import Settings


def probes(options: argparse.Namespace) -> int:
    """`vermistat probes`."""
    from monitor.reports.roster import probes_facts, probes_text

    settings = commands._settings(options)
    rules = settings.rules
    if options.bed is not None and options.bed not in rules.bins:
        raise RequestError(f"the settings know no bin {options.bed}; known are {', '.join(rules.bins)}")
    if options.listen is not None:
        return _listen(options, settings)
    store = commands._open(settings)
    saying = commands._saying(rules, store)
    facts = probes_facts(store, rules, saying.at, bed=options.bed)
    commands._print(options, facts, lambda: probes_text(facts, saying))
    return commands.DONE


def _listen(options: argparse.Namespace, settings: Settings) -> int:
    """What is published, beside the running daemon."""
    from monitor.clock import Patience, WallClock
    from monitor.reports.discovered import Ears, listen_facts, listen_text
    from monitor.wire.listening import listen

    ears = Ears()
    # Ctrl-C is enough of it: what was heard until then is shown
    with contextlib.suppress(KeyboardInterrupt):
        listen(settings.broker, options.topics, seconds=options.listen, heard=ears.hear, patience=Patience().now)
    now = WallClock().now()
    facts = listen_facts(ears, settings.rules, topics=options.topics, seconds=options.listen, at=now)
    commands._print(options, facts, lambda: listen_text(facts))
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
