"""`vermistat export` and `vermistat import`: readings as text, out and in."""

from __future__ import annotations

import argparse
import csv
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.commands import DONE, FAILED, _open, _print, _saying, _settings
from monitor.errors import RequestError

if TYPE_CHECKING:
    from monitor.readings import Reading
    from monitor.reports.carrying import ImportShape
    from monitor.rules import Probe

EVER = 2**62


def write_out(options: argparse.Namespace) -> int:
    """`vermistat export`."""
    from monitor.history import COLUMNS, exported
    from monitor.moments import beginning

    settings = _settings(options)
    store, probes = _open(settings), settings.rules.probes()
    unknown = [name for name in options.probes if name not in probes]
    if unknown:
        raise RequestError(f"the settings know no probe {unknown[0]}; `vermistat probes` lists them")
    saying = _saying(settings.rules, store)
    zone = settings.rules.site.timezone
    start, end = (
        beginning(text, zone, saying.at) if text else other
        for text, other in ((options.since, -EVER), (options.until, EVER))
    )
    rows = (
        row
        for name in options.probes or sorted(probes)
        for row in exported(probes[name], store.window(name, start, end))
    )
    if options.json:
        for row in rows:
            print(json.dumps(row, ensure_ascii=False))
        return DONE
    table = csv.DictWriter(sys.stdout, COLUMNS, lineterminator="\n")
    table.writeheader()
    table.writerows(rows)
    return DONE


def bring_in(options: argparse.Namespace) -> int:
    """`vermistat import`."""
    from monitor.bringing import bring, weighed
    from monitor.clock import WallClock
    from monitor.reports.carrying import import_facts
    from monitor.site import open_to_write

    settings = _settings(options)
    probes = settings.rules.probes()
    readings, problems, ours = _read(options, probes, settings.rules.site.timezone)
    good = readings if ours else list(weighed(readings, probes))
    told = [str(problem) for problem in problems]
    if options.only_look or (told and not options.skip):
        facts = import_facts(str(options.file), good, told, brought=None, looked=options.only_look)
        return _said(options, facts, DONE if options.only_look else FAILED)
    store = open_to_write(settings)
    try:
        brought = bring(store, good, now=WallClock().now())
    finally:
        store.close()
    return _said(options, import_facts(str(options.file), good, told, brought=brought, looked=False), DONE)


def _said(options: argparse.Namespace, facts: ImportShape, code: int) -> int:
    from monitor.reports.carrying import import_text

    _print(options, facts, lambda: import_text(facts))
    return code


def _read(
    options: argparse.Namespace, probes: dict[str, Probe], zone: str
) -> tuple[list[Reading], list[object], bool]:
    """Readings, problems, and whether it is an export of ours, whose own judgements hold."""
    from monitor.errors import BadValue
    from monitor.history import COLUMNS, Wanted, from_csv, from_lines

    text = _text(options.file)
    if text.lstrip()[:1] == "{":
        found, problems = from_lines(text, probes)
        return found, list(problems), True
    wanted = Wanted(
        options.probe,
        options.time_column,
        options.value_column,
        options.unit,
        options.zone or zone,
        options.time_shape,
    )
    if options.probe is not None and options.probe not in probes:
        raise RequestError(f"the settings know no probe {options.probe}; `vermistat probes` lists them")
    try:
        found, problems = from_csv(text, probes, wanted)
    except BadValue as error:
        raise RequestError(f"{options.file}: {error}") from error
    head = {name.strip() for name in text.partition("\n")[0].removeprefix("\ufeff").split(",")}
    return found, list(problems), set(COLUMNS) <= head


def _text(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise RequestError(f"{file} is not UTF-8 text (byte {error.start}): save it as UTF-8 first") from error
