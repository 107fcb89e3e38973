"""`vermistat week`, `alarms --journal` and `--review`: what was, and how well the alarms serve."""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli import commands
from monitor.cli.holding import opened
from monitor.errors import RequestError

if TYPE_CHECKING:
    from monitor.reports.saying import Saying
    from monitor.reports.week_shapes import WeekShape
    from monitor.rules import Rules
    from monitor.store.promises import Store


def journal(options: argparse.Namespace) -> int:
    """`vermistat alarms --journal`."""
    from monitor.moments import beginning
    from monitor.reports.journal import journal_facts, journal_text

    settings, store, saying = opened(options)
    zone = settings.rules.site.timezone
    since = beginning(options.since, zone, saying.at) if options.since else None
    facts = journal_facts(store, settings.rules, saying.at, since=since, bed=options.bin)
    commands._print(options, facts, lambda: journal_text(facts, saying))
    return commands.DONE


def review(options: argparse.Namespace) -> int:
    """`vermistat alarms --review`."""
    from monitor.reports.review import review_facts
    from monitor.reports.review_text import review_text

    settings, store, saying = opened(options)
    facts = review_facts(store, settings.rules, saying.at, days=30 if options.days is None else options.days)
    commands._print(options, facts, lambda: review_text(facts, saying))
    return commands.DONE


def replay(options: argparse.Namespace) -> int:
    """`vermistat replay`."""
    from monitor.reports.replaying import replay_facts, replay_text
    from monitor.settings import load

    if options.note and not options.accept:
        raise RequestError("words say why something is accepted; write them with --accept")
    if options.set:
        return _tried(options)
    if options.accept:
        raise RequestError("what another file says is not written into yours; name the limit with --set")
    settings, store, saying = opened(options)
    others = load([options.other], environ=os.environ, need_secrets=False).rules
    both = [bed for bed in settings.rules.bins if bed in others.bins]
    beds = [bed for bed in both if options.bin in (None, bed)]
    if not beds:
        raise RequestError(f"no such bin in both files; those in both are {', '.join(both) or 'none'}")
    facts = replay_facts(
        store, settings.rules, others, at=saying.at, days=options.days, beds=beds, other=str(options.other)
    )
    commands._print(options, facts, lambda: replay_text(facts, saying))
    return commands.DONE


def _tried(options: argparse.Namespace) -> int:
    """`vermistat replay --set`, and with `--accept` what is written then."""
    from monitor.accepting import accept
    from monitor.reports.replaying import lines_of, replay_facts, replay_text
    from monitor.settings.wishes import bins_that_differ, profiles_of, wish_of, wished
    from monitor.site import load_settings

    settings = load_settings(options.settings)
    store = commands._open(settings)
    saying = commands._saying(settings.rules, store)
    profiles = profiles_of(settings)
    would = wished(settings, [wish_of(one, settings.rules, profiles) for one in options.set], environ=os.environ)
    theirs = bins_that_differ(settings.rules, would.settings.rules)
    beds = [bed for bed in settings.rules.bins if bed in theirs and options.bin in (None, bed)]
    said = ", ".join(wish.said for wish in would.wishes)
    facts = replay_facts(
        store, settings.rules, would.settings.rules, at=saying.at, days=options.days, beds=beds, other=said
    )
    facts["changes"] = lines_of(would)
    if options.accept:
        done = accept(store, settings.rules, would, who=options.who, why=" ".join(options.note), at=saying.at)
        facts["accepted"] = {
            "files": [str(file) for file in done.files],
            "kept": [str(file) for file in done.kept],
            "who": done.who,
            "why": " ".join(options.note),
        }
    commands._print(options, facts, lambda: replay_text(facts, saying))
    return commands.DONE


def week(options: argparse.Namespace) -> int:
    """`vermistat week`."""
    from monitor.moments import beginning
    from monitor.reports.week import monday_of, week_facts
    from monitor.reports.week_text import week_text
    from monitor.words import joined, local

    settings, store, saying = opened(options)
    zone = settings.rules.site.timezone
    first = monday_of(local(beginning(options.of, zone, saying.at), zone).date()) if options.of else None
    facts = week_facts(store, settings.rules, saying.at, first=first)
    files = _files(options, store, settings.rules, facts, saying)
    for path, content in files.items():
        _write(path, content)
    written = f"\n\nWritten: {joined([str(path) for path in files])}." if files else ""
    commands._print(options, facts, lambda: f"{week_text(facts, saying)}{written}")
    return commands.DONE


def call(options: argparse.Namespace) -> int:
    """`vermistat useful` and `vermistat needless`."""
    from monitor.reports.verdicts import called_text
    from monitor.verdicts import call as leave

    settings, store, saying = opened(options)
    called = leave(
        store,
        settings.rules,
        notice=options.notice,
        useful=options.what == "useful",
        who=options.who,
        note=" ".join(options.note),
        at=saying.at,
    )
    facts = {"request": called.request, "notice": called.notice, "called": options.what, "who": called.who}
    commands._print(options, facts, lambda: called_text(called))
    return commands.DONE


def verdicts(options: argparse.Namespace) -> int:
    """`vermistat verdicts`."""
    from monitor.reports.verdicts import verdict_facts, verdicts_text
    from monitor.site import load_settings

    settings = load_settings(options.settings)
    store = commands._open(settings)
    saying = commands._saying(settings.rules, store)
    facts = verdict_facts(store, settings, saying.at, environ=os.environ)
    commands._print(options, facts, lambda: verdicts_text(facts, saying))
    return commands.DONE


def _files(
    options: argparse.Namespace, store: Store, rules: Rules, facts: WeekShape, saying: Saying
) -> dict[Path, bytes]:
    """What is to be written where: the week as one file that needs nothing else, and a picture of each bin."""
    from monitor.reports.week_files import week_page, week_pictures

    if options.html is None and options.png is None:
        return {}
    pictures = week_pictures(store, rules, facts, at=saying.at)
    found = {options.png / f"{bed}.png": picture for bed, picture in pictures.items()} if options.png else {}
    return found | ({options.html: week_page(facts, saying, pictures).encode()} if options.html else {})


def _write(path: Path, content: bytes) -> None:
    try:
        path.write_bytes(content)
    except OSError as error:
        raise RequestError(f"{path} cannot be written: {error.strerror}") from error


def days(text: str) -> int:
    """From 1 to 3650. Raises ArgumentTypeError."""
    if not (text.isascii() and text.isdigit() and 0 < int(text) <= 3650):
        raise argparse.ArgumentTypeError(f"{text!r} are no days to look back on: write a whole number up to 3650")
    return int(text)
