"""`vermistat backup` and `vermistat restore`."""

from __future__ import annotations

import argparse
from dataclasses import replace

from monitor import __version__
from monitor.cli.commands import DONE, _print, _settings
from monitor.errors import RequestError


def backup(options: argparse.Namespace) -> int:
    """`vermistat backup`."""
    from monitor.addresses import Backup
    from monitor.backing_up import back_up
    from monitor.clock import WallClock
    from monitor.reports.backing import backup_facts, backup_text
    from monitor.site import store_path

    settings = _settings(options)
    wish = settings.backup or Backup()
    if options.to is not None:
        wish = replace(wish, to=str(options.to), same_disk=False)
    wish = replace(
        wish,
        days=options.keep_days or wish.days,
        weeks=wish.weeks if options.keep_weeks is None else options.keep_weeks,
        same_disk=wish.same_disk or options.same_disk,
    )
    made = back_up(settings, store_path(settings).absolute(), wish, at=WallClock().now(), program=__version__)
    _print(options, backup_facts(made), lambda: backup_text(made, settings.rules.site.timezone))
    return DONE


def restore(options: argparse.Namespace) -> int:
    """`vermistat restore`."""
    from monitor.backing_up import looked_at, newest_in
    from monitor.changing import secrets_of, without_secrets
    from monitor.clock import WallClock
    from monitor.reports.backing import restore_facts, restore_text
    from monitor.restoring import differing, put_back
    from monitor.site import store_path

    settings = _settings(options)
    site, store = settings.rules.site.id, store_path(settings).absolute()
    folder = newest_in(options.folder, site)
    manifest = looked_at(folder)
    if manifest.site != site:
        raise RequestError(f"{folder} is a backup of {manifest.site}, and these are the settings of {site}")
    texts = without_secrets(settings.texts, secrets_of(settings))
    back = None if options.only_look else put_back(folder, manifest, store, at=WallClock().now())
    facts = restore_facts(folder, manifest, store, back, differing(folder, manifest, texts))
    _print(options, facts, lambda: restore_text(facts, manifest, settings.rules.site.timezone))
    return DONE
