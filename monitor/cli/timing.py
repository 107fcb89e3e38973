"""`vermistat clock`: what the times of a site are worth, and a keeper's word that the machine's clock is right."""

from __future__ import annotations

import argparse

from monitor.cli.commands import DONE, _open, _print, _saying, _settings


def clock(options: argparse.Namespace) -> int:
    """`vermistat clock`, and `vermistat clock --right`."""
    from monitor.clock import WallClock
    from monitor.keeper import clock_is_right
    from monitor.reports.clock import clock_state_facts, clock_state_text

    settings = _settings(options)
    store = _open(settings)
    saying, wall = _saying(settings.rules, store), WallClock().now()
    request = None
    if options.right:
        request = clock_is_right(store, settings.rules, who=options.who, wall=wall, at=saying.at)
    facts = clock_state_facts(store.load(), saying, wall=wall, request=request)
    _print(options, facts, lambda: clock_state_text(facts, saying))
    return DONE
