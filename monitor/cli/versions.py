"""`vermistat settings`: which settings were in force when, and what each version changed."""

from __future__ import annotations

import argparse

from monitor.cli.commands import DONE, _open, _print, _saying, _settings
from monitor.errors import RequestError


def settings(options: argparse.Namespace) -> int:
    """`vermistat settings`, and `vermistat settings NUMBER`."""
    from monitor.reports.versions import settings_facts, settings_text, version_facts, version_text

    loaded = _settings(options)
    store = _open(loaded)
    if options.number is None:
        saying = _saying(loaded.rules, store)
        files = [str(file) for file in loaded.files]
        facts = settings_facts(store, saying, digest=loaded.digest, files=files)
        _print(options, facts, lambda: settings_text(facts, saying))
        return DONE
    version = version_facts(store, options.number)
    if version is None:
        raise RequestError(f"there are no settings {options.number}; `vermistat settings` lists those there were")
    _print(options, version, lambda: version_text(version))
    return DONE
