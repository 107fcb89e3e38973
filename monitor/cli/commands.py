"""What each command does. Whatever is heavy is imported in the command that needs it."""

from __future__ import annotations

import argparse
import gc
import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from monitor.cli.ending import stop_on_signals
from monitor.cli.hangup import on_hangup
from monitor.errors import RequestError, SettingsError

if TYPE_CHECKING:
    from datetime import date

    from monitor.keeper import Asked
    from monitor.ready import Shown
    from monitor.reports.saying import Saying
    from monitor.reports.shapes import CheckShape
    from monitor.rules import Rules
    from monitor.settings import Settings
    from monitor.store.promises import Store

DONE, FAILED, WRONG_SETTINGS = 0, 1, 78
DEMO_SPEED = 900.0

# ── the daemon ────────────────────────────────────────────────────────────────────────────────────────────────


def run(options: argparse.Namespace) -> int:
    """`vermistat run`."""
    from monitor.app import run as watch
    from monitor.cli.logs import log_to_journal

    log_to_journal()
    settings = _settings(options, addresses=True)
    look_now, stop = on_hangup(), stop_on_signals()
    return watch(settings, stop=stop, look_now=look_now)


def demo(options: argparse.Namespace) -> int:
    """`vermistat demo`."""
    if options.january:
        return _january(options)
    from monitor.demo import demo as live

    return live(
        speed=options.speed,
        port=options.port,
        silent=options.silent,
        page=options.page,
        fresh=options.fresh,
        stop=stop_on_signals(),
        stop_after=options.stop_after,
        say=lambda text: print(text, flush=True),
    )


def _january(options: argparse.Namespace) -> int:
    from monitor.january import january

    others = options.silent or options.page or options.fresh or options.stop_after is not None
    if others or options.speed != DEMO_SPEED:
        raise RequestError(
            "--january lives a whole month as fast as it can: of the other options it takes --port alone"
        )
    return january(port=options.port, stop=stop_on_signals(), say=lambda text: print(text, flush=True))


# ── reading commands ──────────────────────────────────────────────────────────────────────────────────────────


def _settings(options: argparse.Namespace, *, addresses: bool = False) -> Settings:
    from monitor.site import load_settings, settings_in_force

    try:
        return load_settings(options.settings, addresses=addresses)
    except SettingsError:
        found = None if addresses else settings_in_force(options.settings)
        if found is None:
            raise
    settings, number = found
    print(
        f"vermistat: the files are refused, `vermistat check` says why; this goes by settings {number}, in force.",
        file=sys.stderr,
    )
    return settings


def _shown(options: argparse.Namespace) -> Settings | Shown:
    """The settings for a command that only shows."""
    from monitor.site import to_show

    try:
        return to_show(options.settings)
    except SettingsError:
        return _settings(options)


_opened: list[Store] = []


def _open(settings: Settings | Shown) -> Store:
    """A store to look into; `let_go` closes it when the command is done."""
    from monitor.site import open_to_read

    _opened.append(open_to_read(settings))
    return _opened[-1]


def let_go() -> None:
    """Close whatever the command has opened to look into, once or once more. Raises StoreError."""
    while _opened:
        _opened.pop().close()


def _saying(rules: Rules, store: Store) -> Saying:
    """Words for the site, at this moment."""
    from monitor.reports.saying import Saying
    from monitor.site import site_time

    return Saying(rules, site_time(store))


def _print(options: argparse.Namespace, facts: Any, text: Callable[[], str]) -> None:
    """The facts as JSON, or as sentences in which nothing is left that a terminal would obey."""
    if options.json:
        print(json.dumps(facts, ensure_ascii=False, indent=2))
    else:
        print("\n".join(_wrapped(_printable(line)) for line in text().split("\n")))


def _printable(line: str) -> str:
    return line if line.isprintable() else "".join(c if c.isprintable() else "�" for c in line)


def _wrapped(line: str) -> str:
    """Broken to the width of a terminal, below its own beginning; as it is for whatever else reads it."""
    if sys.stdout is None or not sys.stdout.isatty():
        return line
    import shutil
    import textwrap

    hang = " " * (len(line) - len(line.lstrip()) + 2)
    width = max(shutil.get_terminal_size().columns, 40)
    return "\n".join(textwrap.wrap(line, width, subsequent_indent=hang, break_on_hyphens=False)) or line


@contextmanager
def _nothing_collected() -> Iterator[None]:
    """No looking for cycles in what will be gone in a second anyway: a fifteenth of the time on a farm."""
    on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if on:
            gc.enable()


def now(options: argparse.Namespace) -> int:
    """`vermistat now`: what is looked at most often, so what it can do without, it does without."""
    with _nothing_collected():
        return _now(options)


def _now(options: argparse.Namespace) -> int:
    from monitor.reports.facts import now_facts
    from monitor.reports.notes import care_notes
    from monitor.reports.text import now_text

    settings = _shown(options)
    store = _open(settings)
    saying = _saying(settings.rules, store)
    facts = now_facts(store, settings.rules, saying.at)
    facts["notes"] += care_notes(store, settings.rules, saying.at)
    _print(options, facts, lambda: now_text(facts, saying))
    return DONE


def alarms(options: argparse.Namespace) -> int:
    """`vermistat alarms`."""
    if options.journal or options.review:
        from monitor.cli.looking_back import journal, review

        return journal(options) if options.journal else review(options)
    from monitor.reports.facts import alarms_facts
    from monitor.reports.text import alarms_text

    settings = _settings(options)
    store = _open(settings)
    saying = _saying(settings.rules, store)
    facts = alarms_facts(store, settings.rules, saying.at)
    _print(options, facts, lambda: alarms_text(facts, saying))
    return DONE


def why(options: argparse.Namespace) -> int:
    """`vermistat why`."""
    from monitor.reports.text import why_text
    from monitor.reports.why import why_facts

    settings = _settings(options)
    store = _open(settings)
    saying = _saying(settings.rules, store)
    facts = why_facts(store, settings.rules, options.alarm, saying.at)
    if facts is None:
        raise RequestError(
            f"nothing is known of an alarm {options.alarm}; `vermistat alarms` lists those that stand"
        )
    if options.person is not None:
        facts["told"] = [one for one in facts["told"] if one["person"] == options.person]
    _print(options, facts, lambda: why_text(facts, saying))
    return DONE


def ask(options: argparse.Namespace) -> int:
    """`vermistat seen` and `vermistat done`."""
    from monitor.keeper import ask as leave

    settings = _settings(options)
    store = _open(settings)
    saying = _saying(settings.rules, store)
    note = " ".join(options.note)
    asked = leave(
        store, settings.rules, what=options.what, alarm=options.alarm, who=options.who, note=note, at=saying.at
    )
    return say_asked(options, asked, store, saying)


def say_asked(options: argparse.Namespace, asked: Asked, store: Store, saying: Saying) -> int:
    """What was left for the daemon, and what becomes of it."""
    from monitor.reports.asking import asked_facts, asked_text

    facts = asked_facts(asked, saying.rules, store.load().last_round)
    _print(options, facts, lambda: asked_text(facts, saying))
    return DONE


def diary(options: argparse.Namespace) -> int:
    """`vermistat diary`."""
    from monitor.jotting import jot
    from monitor.moments import beginning
    from monitor.reports.diary import diary_facts, diary_text, written_facts

    settings = _settings(options)
    store = _open(settings)
    saying = _saying(settings.rules, store)
    rules, zone = settings.rules, settings.rules.site.timezone
    if options.words:
        jotted = jot(
            store,
            rules,
            words=options.words,
            who=options.who,
            when=options.when,
            corrects=options.corrects,
            at=saying.at,
        )
        facts = written_facts(store, rules, jotted)
    else:
        if options.bin is not None and options.bin not in rules.bins:
            raise RequestError(f"the settings know no bin {options.bin}; known are {', '.join(rules.bins)}")
        since = beginning(options.since, zone, saying.at) if options.since else None
        facts = diary_facts(store, rules, saying.at, bed=options.bin, since=since)
    _print(options, facts, lambda: diary_text(facts, saying))
    return DONE


def check(options: argparse.Namespace) -> int:
    """`vermistat check`."""
    from monitor.reports.text import check_text
    from monitor.settings import explain
    from monitor.site import store_path

    try:
        settings = _checked(options.settings)
    except SettingsError as error:
        if not options.json:
            raise
        _print(options, {"accepted": False, "files": [], "mistakes": error.mistakes, "explained": [],
                         "store": None, "understood": []}, str)  # fmt: skip
        return WRONG_SETTINGS
    facts: CheckShape = {
        "accepted": True,
        "files": [str(file) for file in settings.files],
        "mistakes": [],
        "explained": [*explain(settings), *_left_behind(settings)],
        "store": str(store_path(settings)),
        "understood": list(settings.channels),
    }
    _print(options, facts, lambda: check_text(facts))
    return DONE


def _left_behind(settings: Settings) -> list[str]:
    """What the settings leave in a database that they no longer name, as far as whoever asks may look."""
    from monitor.errors import StoreError
    from monitor.reports.notes import elsewhere_words

    try:
        store = _open(settings)
    except (StoreError, OSError):
        return []
    try:
        said = elsewhere_words(store)
    finally:
        store.close()
    return [said] if said else []


def _checked(file: Path | None) -> Settings:
    """The settings as `run` would take them, but for secrets that whoever asks may not read."""
    from monitor.settings import find_settings, load

    def complaint(address: str) -> str | None:
        from monitor.notify.send import complaint as of_the_sender

        return of_the_sender(address)

    return load(
        [find_settings(file)], environ=os.environ, today=_today(), address_ok=complaint, need_secrets=False
    )


def _today() -> date:
    """The latest day anywhere on earth: what lies beyond it has not been yet for anybody."""
    from monitor import words
    from monitor.clock import WallClock

    return words.local(WallClock().now(), "Pacific/Kiritimati").date()


def species(options: argparse.Namespace) -> int:
    """`vermistat species`."""
    from monitor.reports.species import species_facts, species_list_text, species_text
    from monitor.science.worms import names, species

    worms = [species_facts(species(key)) for key in ([options.key] if options.key else names())]
    _print(
        options, {"species": worms}, lambda: species_text(worms[0]) if options.key else species_list_text(worms)
    )
    return DONE
