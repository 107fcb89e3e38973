"""`vermistat notices`: the post, one notice, or a test that is really sent."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from monitor.cli import commands as do
from monitor.errors import RequestError

if TYPE_CHECKING:
    from monitor.addresses import Channel


def notices(options: argparse.Namespace) -> int:
    """`vermistat notices`, `vermistat notices NUMBER` and `vermistat notices test`."""
    if options.to is not None and options.what != "test":
        raise RequestError("--to belongs to `vermistat notices test`")
    if options.what == "test":
        return _test(options)
    from monitor.reports.post import notice_facts, notice_text, notices_facts, notices_text

    settings = do._settings(options)
    store = do._open(settings)
    saying = do._saying(settings.rules, store)
    if options.what is None:
        listed = notices_facts(store, saying.at, days=options.days, person=options.person)
        do._print(options, listed, lambda: notices_text(listed, saying))
        return do.DONE
    one = notice_facts(store, options.what)
    if one is None:
        raise RequestError(f"no notice has the number {options.what}; `vermistat notices` lists them")
    do._print(options, one, lambda: notice_text(one, saying))
    return do.DONE


def _test(options: argparse.Namespace) -> int:
    from monitor.notify.send import send
    from monitor.reports.post import tried, tried_text

    settings = do._settings(options, addresses=True)

    def deliver(channel: Channel, title: str, body: str) -> None:
        send(channel.send_to, title, body)

    facts = tried(settings.channels, settings.rules, options.to, send=deliver)
    if facts is None:
        raise RequestError(f"{options.to!r} is neither a person nor a channel of the settings")
    do._print(options, facts, lambda: tried_text(facts))
    return do.DONE if all(one["delivered"] for one in facts["tried"]) else do.FAILED
