"""The command. argparse and late imports: start-up counts on a small board.

Exit codes (sysexits): 0 done, 1 failed, 64 wrong call, 78 wrong settings.
"""

from __future__ import annotations

import argparse
import json
import logging
import os
import signal
import sys
import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any, NoReturn

from monitor import __version__
from monitor.errors import RequestError, SettingsError, VermistatError

if TYPE_CHECKING:
    from monitor.settings import Settings
    from monitor.store.promises import Store

DONE, FAILED, WRONG_CALL, WRONG_SETTINGS = 0, 1, 64, 78


class _Parser(argparse.ArgumentParser):
    """Ends with 64 instead of 2 on a wrong call."""

    def error(self, message: str) -> NoReturn:
        self.print_usage(sys.stderr)
        self.exit(WRONG_CALL, f"vermistat: {message}. See `vermistat --help`.\n")


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; its exit code."""
    options = _parser().parse_args(argv)
    try:
        code: int = options.run(options)
    except SettingsError as error:
        if getattr(options, "json", False):
            _print_json({"accepted": False, "files": [], "mistakes": error.mistakes, "explained": []})
        else:
            print("The settings are refused:\n" + "\n".join(error.mistakes), file=sys.stderr)
        return WRONG_SETTINGS
    except RequestError as error:
        print(f"vermistat: {error}", file=sys.stderr)
        return FAILED
    except VermistatError as error:
        print(f"vermistat: {error}", file=sys.stderr)
        return FAILED
    except BrokenPipeError:
        # whoever read us has gone; nothing more to say, and nothing for Python to flush at exit
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except KeyboardInterrupt:
        return FAILED
    return code


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="vermistat", description="Holds every worm bin inside the climate its species can live in."
    )
    parser.add_argument("--version", action="version", version=f"vermistat {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True, parser_class=_Parser)

    def command(
        name: str, run: Callable[[argparse.Namespace], int], about: str, **more: bool
    ) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=about, description=about)
        sub.set_defaults(run=run)
        if more.get("settings", True):
            sub.add_argument("--settings", type=Path, metavar="FILE", help="the keeper's file")
        if more.get("json", True):
            sub.add_argument("--json", action="store_true", help="print JSON instead of sentences")
        return sub

    command("run", _run, "watch the bins until stopped", json=False)
    demo = command("demo", _demo, "live through a simulated January night", json=False, settings=False)
    demo.add_argument("--stop-after", type=float, metavar="SECONDS", help="end after so many real seconds")
    demo.add_argument("--speed", type=_speed, default=900.0, help="simulated seconds in a real one (default 900)")
    demo.add_argument(
        "--port", type=int, default=0, help="the broker's port on this machine (default: a free one)"
    )
    demo.add_argument("--silent", action="store_true", help="the simulated probes say nothing")
    command("check", _check, "read the settings and say what they will do")
    command("now", _now, "every bin, and what needs doing")
    species = command("species", _species, "the species and their limits, with sources", settings=False)
    species.add_argument("key", nargs="?", help="one species")
    command("alarms", _alarms, "the alarms that stand")
    for name, about in (
        ("seen", "say that you have seen an alarm"),
        ("done", "say that you have done what it asks"),
    ):
        sub = command(name, _ask, about)
        sub.set_defaults(what=name)
        sub.add_argument("alarm", type=int, help="the alarm's number")
        sub.add_argument("note", nargs="*", help="a few words for the diary")
        sub.add_argument(
            "--as", dest="who", metavar="PERSON", help="who you are (default: the only person there is)"
        )
    why = command("why", _why, "one alarm from the reading to who was told and who was not")
    why.add_argument("alarm", type=int, help="the alarm's number")
    return parser


def _speed(text: str) -> float:
    speed = float(text)
    if not 1 <= speed <= 100_000:
        raise argparse.ArgumentTypeError("a speed lies between 1 and 100000")
    return speed


# ── the daemon ────────────────────────────────────────────────────────────────────────────────────────────────


def _run(options: argparse.Namespace) -> int:
    from monitor.app import run

    _log_to_journal()
    return run(_settings(options, addresses=True), stop=_stop_on_signals())


def _demo(options: argparse.Namespace) -> int:
    from monitor.app import demo

    return demo(
        speed=options.speed,
        port=options.port,
        silent=options.silent,
        stop=_stop_on_signals(),
        stop_after=options.stop_after,
        say=lambda text: print(text, flush=True),
    )


def _stop_on_signals() -> threading.Event:
    stop = threading.Event()

    def set_it(_number: int, _frame: FrameType | None) -> None:
        stop.set()

    signal.signal(signal.SIGTERM, set_it)
    signal.signal(signal.SIGINT, set_it)
    return stop


class _Journal(logging.Formatter):
    """`<4>words`: PID 1 turns the prefix of each line into its priority (sd-daemon(3))."""

    LEVELS = ((logging.ERROR, 3), (logging.WARNING, 4), (logging.INFO, 6))

    def format(self, record: logging.LogRecord) -> str:
        number = next((n for level, n in self.LEVELS if record.levelno >= level), 7)
        return "\n".join(f"<{number}>{line}" for line in super().format(record).splitlines())


def _log_to_journal() -> None:
    handler = logging.StreamHandler(sys.stderr)
    under_systemd = "JOURNAL_STREAM" in os.environ
    handler.setFormatter(
        _Journal("%(message)s") if under_systemd else logging.Formatter("%(asctime)s %(message)s")
    )
    logging.basicConfig(level=logging.INFO, handlers=[handler])
    for noisy in ("apscheduler", "urllib3", "apprise", "tzlocal"):
        logging.getLogger(noisy).setLevel(logging.WARNING)


# ── reading commands ──────────────────────────────────────────────────────────────────────────────────────────


def _settings(options: argparse.Namespace, *, addresses: bool = False) -> Settings:
    from monitor.app import load_settings

    return load_settings(options.settings, addresses=addresses)


def _open(settings: Settings) -> Store:
    from monitor.app import open_to_read

    return open_to_read(settings)


def _print_json(facts: Any) -> None:
    print(json.dumps(facts, ensure_ascii=False, indent=2))


def _check(options: argparse.Namespace) -> int:
    from monitor.settings import explain

    settings = _settings(options)
    said = explain(settings)
    if options.json:
        _print_json(
            {"accepted": True, "files": [str(f) for f in settings.files], "mistakes": [], "explained": said}
        )
    else:
        print("\n".join(said))
    return DONE


def _now(options: argparse.Namespace) -> int:
    from monitor.clock import WallClock
    from monitor.reports.facts import now_facts
    from monitor.reports.text import now_text

    settings = _settings(options)
    store = _open(settings)
    facts = now_facts(store, settings.rules, WallClock().now())
    _print_json(facts) if options.json else print(now_text(facts))
    return DONE


def _species(options: argparse.Namespace) -> int:
    from monitor.reports.facts import species_facts
    from monitor.reports.text import species_text
    from monitor.science.worms import names, species

    try:
        worms = [species(options.key)] if options.key else [species(name) for name in names()]
    except ValueError as error:
        raise RequestError(str(error)) from None
    facts = [species_facts(worm) for worm in worms]
    _print_json({"species": facts}) if options.json else print("\n\n".join(species_text(f) for f in facts))
    return DONE


def _alarms(options: argparse.Namespace) -> int:
    from monitor.reports.facts import alarm_facts
    from monitor.reports.text import alarms_text

    settings = _settings(options)
    facts = [alarm_facts(a) for a in sorted(_open(settings).load().alarms, key=lambda a: a.number)]
    _print_json({"alarms": facts}) if options.json else print(alarms_text(facts, settings.rules))
    return DONE


def _why(options: argparse.Namespace) -> int:
    from monitor.reports.facts import why_facts
    from monitor.reports.text import why_text

    settings = _settings(options)
    facts = why_facts(_open(settings), options.alarm)
    if facts is None:
        raise RequestError(
            f"no alarm ever had the number {options.alarm}; `vermistat alarms` lists those that stand"
        )
    _print_json(facts) if options.json else print(why_text(facts, settings.rules))
    return DONE


def _ask(options: argparse.Namespace) -> int:
    from monitor.clock import WallClock
    from monitor.keeper import ask

    settings = _settings(options)
    asked = ask(
        _open(settings),
        settings.rules,
        what=options.what,
        alarm=options.alarm,
        who=options.who,
        note=" ".join(options.note),
        at=WallClock().now(),
    )
    if options.json:
        _print_json(asked)
    else:
        print(f"Alarm {asked['alarm']}: {asked['what']}, {asked['who']}. It counts from the next round on.")
    return DONE
