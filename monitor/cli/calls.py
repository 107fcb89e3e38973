"""What can be called, with which options, and what is said of a wrong call."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable
from difflib import get_close_matches
from pathlib import Path
from typing import Any, NoReturn

from monitor import __version__
from monitor.cli import (
    backing,
    carrying,
    databasing,
    foreseeing,
    holding,
    looking_back,
    posting,
    probing,
    publishing,
    timing,
    versions,
)
from monitor.cli import commands as do

WRONG_CALL = 64

ABOUT = """\
Watches worm bins through their probes, says in time what to do, and why.

Settings are read from config/vermistat.yaml, else from
/etc/vermistat/vermistat.yaml, or from where --settings says.
Every command but `run` and `demo` takes --json."""
EXITS = """\
`vermistat COMMAND --help` says more about each. Ends with 0 when done, 1 when it
failed, 64 after a wrong call, 78 when the settings are wrong."""


_ARGPARSE = (
    (r"the following arguments are required: (.+)", r"\1 is missing: say which"),
    (r"one of the arguments (\S+) (\S+) is required", r"\1 or \2 is missing: say which"),
    (r"argument (\S+): expected one argument", r"\1 wants something behind it"),
    (r"argument [A-Z]+: ", ""),
)
"""What argparse says by itself, and what is said instead."""


class _Parser(argparse.ArgumentParser):
    """Ends with 64 instead of 2 on a wrong call, and takes no shortened options: those change their meaning."""

    def __init__(self, **how: Any) -> None:
        super().__init__(allow_abbrev=False, **how)

    def error(self, message: str) -> NoReturn:
        """One sentence, and where the rest stands."""
        for theirs, ours in _ARGPARSE:
            message = re.sub(theirs, ours, message)
        end = "" if message.endswith(("?", "…")) else "."
        self.exit(WRONG_CALL, f"vermistat: {message}{end} See `{self.prog} --help`.\n")


class _Words(_Parser):
    """Takes its words before, between and behind its options, as they are typed."""

    _inside = False

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        """As argparse, which by itself leaves the words behind an option over."""
        if self._inside or not self._get_positional_actions():
            return super().parse_known_args(args, namespace)
        self._inside = True
        try:
            return self.parse_known_intermixed_args(args, namespace)
        finally:
            self._inside = False


class _Unasked:
    """A command that is not called, whose options nobody needs to know: with all of them it takes longer to read a call
    than to read a store.
    """

    def add_argument(self, *_: Any, **__: Any) -> None:
        """Forgotten."""

    def set_defaults(self, **_: Any) -> None:
        """Forgotten."""

    def add_mutually_exclusive_group(self, **_: Any) -> _Unasked:
        """Forgotten as well."""
        return self


def parser(called: str | None = None) -> argparse.ArgumentParser:
    """Every command with its options; or that command alone, when there is one of this name."""
    raw = argparse.RawDescriptionHelpFormatter
    whole = _Parser(prog="vermistat", description=ABOUT, epilog=EXITS, formatter_class=raw)
    whole.add_argument("--version", action="version", version=f"vermistat {__version__}")
    commands = whole.add_subparsers(
        title="commands", metavar="COMMAND", required=True, parser_class=_Words, prog="vermistat"
    )

    def command(
        name: str, run: Callable[[argparse.Namespace], int], about: str, more: str = "", *, without: str = ""
    ) -> Options:
        """`without` names the options that the command does not take."""
        if called is not None and name != called:
            return _Unasked()
        sub = commands.add_parser(name, help=about, description=f"{about[:1].upper()}{about[1:]}. {more}".strip())
        sub.set_defaults(run=run)
        if "settings" not in without:
            sub.add_argument(
                "--settings", type=Path, metavar="FILE", help="the keeper's file, or a folder of them"
            )
        if "json" not in without:
            sub.add_argument("--json", action="store_true", help="print JSON instead of sentences")
        return sub

    _that_run(command)
    _that_publish(command)
    _that_tell(command)
    _that_answer(command)
    _that_keep_quiet(command)
    _that_keep_the_diary(command)
    _that_measure(command)
    _that_tell_the_time(command)
    _that_foresee(command)
    _that_carry(command)
    _that_back_up(command)
    _that_post(command)
    _that_see_to_the_database(command)
    return whole


Options = Any  # argparse has no public name for a parser or one of its groups
Command = Callable[..., Options]


TWICE = "Ctrl-C ends it in order; once more, and it is gone at once."


def _that_post(command: Command) -> None:
    sub = command(
        "notices",
        posting.notices,
        "what was written to whom, and what became of it",
        "With a number, that notice whole, and why it was written. With `test`, a test that is really sent: ends with 1 when a"
        " channel did not take it.",
    )
    sub.add_argument("what", nargs="?", type=_notice, metavar="NUMBER", help="one notice, or the word test")
    sub.add_argument("--to", metavar="PERSON|CHANNEL", help="test only this channel, or those of this person")
    sub.add_argument("--person", metavar="PERSON", help="only the post of this person")
    sub.add_argument(
        "--days", type=looking_back.days, default=7, metavar="NUMBER", help="of so many days (default: 7)"
    )


def _notice(text: str) -> int | str:
    if text == "test":
        return text
    if not (text.isascii() and text.isdigit() and 0 < int(text) < 2**63):
        raise argparse.ArgumentTypeError(
            f"a notice's number is a whole number from 1 on, not {text!r}; or say test"
        )
    return int(text)


def _that_foresee(command: Command) -> None:
    care = command(
        "care",
        foreseeing.care,
        "food and water of every bin: when to look, how much, and why",
        "By the warmth since the last feed, the probes, the scale and the diary. Says what it lacks instead of guessing.",
    )
    care.add_argument("bed", nargs="?", metavar="BIN", help="this bin alone")
    forecast = command(
        "forecast",
        foreseeing.forecast,
        "the next 12 and 24 hours of each bed: how cold, how warm, how likely beyond its limits, and when",
        "Out of what it has learned of itself and of its room; also whether its mat is enough.",
    )
    forecast.add_argument("--bin", metavar="BIN", help="of this bin alone")
    learned = command(
        "learned",
        foreseeing.learned,
        "what each bed has learned of its own heat, and how sure that is",
        "How fast it loses its warmth, what its mat adds, and what its nights are told by.",
    )
    learned.add_argument("--export", type=Path, metavar="FILE", help="write all of it into a file")
    learned.add_argument("--reset", metavar="ZONE", help="forget what this zone has learned, for example fig.west")
    learned.add_argument("--as", dest="who", metavar="PERSON", help="who resets; needed when there are several")


def _that_run(command: Command) -> None:
    command(
        "run", do.run, "watch the bins until stopped", f"This is what the service runs. {TWICE}", without="json"
    )
    demo = command(
        "demo",
        do.demo,
        "live through six simulated weeks and a January night",
        "Four invented bins and one for a guest; notices of the night appear on this screen. The weeks before it are lived first,"
        f" in well under a minute, so that the beds have learned. Nothing is kept. {TWICE}",
        without="json, settings",
    )
    demo.add_argument(
        "--stop-after",
        type=_seconds,
        metavar="SECONDS",
        help="end after so many real seconds of the night (default: never)",
    )
    demo.add_argument(
        "--speed",
        type=_speed,
        default=do.DEMO_SPEED,
        metavar="TIMES",
        help="how much faster than life (default 900)",
    )
    demo.add_argument(
        "--port", type=_port, default=0, metavar="PORT", help="where the broker listens (default: a free port)"
    )
    demo.add_argument(
        "--page", type=_port, default=0, metavar="PORT", help="where its sheet is served (default: a free port)"
    )
    demo.add_argument(
        "--january",
        action="store_true",
        help="a household of two through a whole month, in about a minute, and all its post; takes --port alone",
    )
    demo.add_argument(
        "--fresh", action="store_true", help="without the six weeks: the beds have learned nothing yet"
    )
    demo.add_argument(
        "--silent", action="store_true", help="the simulated probes say nothing, nor did they in weeks before"
    )


def _that_publish(command: Command) -> None:
    sub = command(
        "publish",
        publishing.publish,
        "read the sensors that are wired here, and send what they say",
        "Runs on the machine of the sensors, which may be another than the daemon's. Its settings are a file of their own:"
        f" config/publisher.yaml, else /etc/vermistat/publisher.yaml. {TWICE}",
        without="settings",
    )
    sub.add_argument("--settings", type=Path, metavar="FILE", help="the publisher's file")
    sub.add_argument(
        "--look", action="store_true", help="read each sensor once and say what it says; nothing is sent"
    )


def _that_tell(command: Command) -> None:
    command(
        "now",
        do.now,
        "what needs doing, and how every bin is",
        "Then what was refused or is doubted, and what is still on its way.",
    )
    alarms = command(
        "alarms",
        do.alarms,
        "the alarms that stand, and those that nobody has seen",
        "Also what is shelved, and the bins that are worked in.",
    )
    instead = alarms.add_mutually_exclusive_group()
    instead.add_argument("--journal", action="store_true", help="every step of every alarm instead, newest last")
    instead.add_argument(
        "--review",
        action="store_true",
        help="how well the alarms serve instead, and what to change about the worst",
    )
    alarms.add_argument(
        "--days", type=looking_back.days, metavar="NUMBER", help="the review of so many days (default: 30)"
    )
    alarms.add_argument(
        "--since", metavar="DAY", help="the journal since then: yesterday, monday, 2026-11-20 (default: a week)"
    )
    alarms.add_argument("--bin", metavar="BIN", help="the journal of this bin alone")
    replay = command(
        "replay",
        looking_back.replay,
        "what other limits would have told over the days behind us",
        "Judges them once more, by the limits in force and by others. Changes nothing, unless you accept what you see.",
    )
    others = replay.add_mutually_exclusive_group(required=True)
    others.add_argument(
        "--with", dest="other", type=Path, metavar="FILE", help="a copy of the settings with other limits"
    )
    others.add_argument(
        "--set",
        action="append",
        metavar="LIMIT=VALUE",
        help="one limit, delay or deadband: fig.temperature.comfort='20..28 °C' (more than once for more)",
    )
    replay.add_argument(
        "--accept", action="store_true", help="write it into the settings; the earlier file is kept beside"
    )
    _takes_who(replay)
    _takes_words(replay, "a few words why, with --accept")
    replay.add_argument(
        "--days", type=looking_back.days, default=30, metavar="NUMBER", help="so many days (default: 30)"
    )
    replay.add_argument("--bin", metavar="BIN", help="of this bin alone")
    week = command(
        "week",
        looking_back.week,
        "how every bin was from Monday to Sunday",
        "Hours below, in and above comfort and harm, the extremes, water, mats with their kWh, alarms and how soon they were"
        " seen, and what to look at next.",
    )
    week.add_argument(
        "--of",
        metavar="DAY",
        help="the week of that day: yesterday, monday, 2026-11-20 (default: the last whole one)",
    )
    week.add_argument("--html", type=Path, metavar="FILE", help="also write it as a page that needs nothing else")
    week.add_argument("--png", type=Path, metavar="FOLDER", help="also write a picture of each bin there")
    why = command("why", do.why, "one alarm, from its readings to who was told", "Also of one that is long over.")
    _takes_number(why)
    why.add_argument("--person", metavar="PERSON", help="only why this person was told, and why not")
    command(
        "check",
        do.check,
        "read the settings and say what they will do",
        "Every mistake is told at once, with its line and a hint. Needs no secrets; an address that is there is"
        " tried on the sender, nothing is sent.",
    )
    settings = command(
        "settings",
        versions.settings,
        "which settings were in force when, and which limits changed",
        "With a number: the text of that version.",
    )
    settings.add_argument(
        "number", nargs="?", type=_version, metavar="NUMBER", help="one version, to see its text"
    )
    species = command(
        "species", do.species, "the worms that are known, and their limits with sources", without="settings"
    )
    species.add_argument("key", nargs="?", metavar="KEY", help="one of them, for example eisenia-fetida")


def _that_answer(command: Command) -> None:
    seen = command("seen", do.ask, "say that you have seen an alarm", PROMISE)
    done = command(
        "done", do.ask, "say that you have done what an alarm asks", f"{PROMISE} It goes into the diary."
    )
    for name, sub in (("seen", seen), ("done", done)):
        sub.set_defaults(what=name)
        _takes_number(sub)
        _takes_who(sub)
    _takes_words(seen, "a few words that stay with the alarm")
    _takes_words(done, "a few words for the diary")
    for name, about in (
        ("useful", "say that a notice was worth it"),
        ("needless", "say that a notice was not worth it"),
    ):
        sub = command(name, looking_back.call, about, f"{PROMISE} `vermistat verdicts` counts them.")
        sub.set_defaults(what=name)
        sub.add_argument(
            "notice", type=_number, metavar="NUMBER", help="the notice's number, as `vermistat notices` shows it"
        )
        _takes_who(sub)
        _takes_words(sub, "a few words why")
    command(
        "verdicts",
        looking_back.verdicts,
        "what was called useful or needless, and one change a month",
        "The change is tried on the same days first: what it would have spared, and what it would have missed.",
    )


PROMISE = "Works beside the running daemon, whose next round takes it up."


def _that_keep_quiet(command: Command) -> None:
    """What is not told for a while, at somebody's wish."""
    ends = "It ends by itself; what still stands then is told again."
    shelve = command("shelve", holding.shelve, "put an alarm aside until a time", f"{ends} {PROMISE}")
    later = command(
        "later",
        holding.later,
        "put an alarm off until you are up again",
        f"Never longer than its priority allows. {ends} {PROMISE}",
    )
    unshelve = command("unshelve", holding.unshelve, "have a shelved alarm told again", PROMISE)
    for sub in (shelve, later, unshelve):
        _takes_number(sub)
    working = command(
        "working",
        holding.working,
        "say that you work in a bin, whose probes then say anything",
        f"{ends} {PROMISE}",
    )
    working.add_argument("bed", metavar="BIN", help="the bin's id, as in the settings")
    time = shelve.add_mutually_exclusive_group(required=True)
    _takes_until(time, "until this local time: 14:30, or 2026-11-26 07:00")
    _takes_until(later, "until this local time instead: 14:30, or 2026-11-26 07:00")
    _takes_length(time, "for so long: 30min, 4h, 2d")
    hands = working.add_mutually_exclusive_group()
    _takes_length(hands, "for so long: 30min, 4h (default: 2h)")
    hands.add_argument("--done", action="store_true", help="you are done, and the probes are back")
    for sub in (shelve, later, unshelve, working):
        _takes_who(sub)
        _takes_words(sub, "a few words why")


def _takes_until(sub: Options, about: str) -> None:
    sub.add_argument("--until", type=holding.when, metavar="TIME", help=about)


def _takes_length(sub: Options, about: str) -> None:
    sub.add_argument("--for", dest="length", type=holding.span, metavar="LENGTH", help=about)


def _takes_who(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--as", dest="who", metavar="PERSON", help="who you are; needed when there are several")


def _takes_words(sub: argparse.ArgumentParser, about: str) -> None:
    sub.add_argument("note", nargs="*", default=[], metavar="WORDS", help=about)


def _that_keep_the_diary(command: Command) -> None:
    diary = command(
        "diary",
        do.diary,
        "what was done and seen, or a line more of it",
        "Without words it lists. With words it writes: `fig fed 1.5 kg scraps`, `fig watered 2 L`, `long-mat on`,"
        " `fig-east lifted`. Nothing is ever changed: a correction is an entry of its own.",
    )
    diary.add_argument(
        "words", nargs="*", default=[], metavar="WORDS", help="whom it is about, what was done, how much"
    )
    diary.add_argument(
        "--at", dest="when", metavar="WHEN", help='when it was, if not now: 18:00, "yesterday 18:00"'
    )
    diary.add_argument(
        "--corrects", type=_entry, metavar="NUMBER", help="the entry that this one stands for instead"
    )
    _takes_who(diary)
    diary.add_argument("--bin", metavar="BIN", help="list what is about one bin")
    diary.add_argument("--since", metavar="WHEN", help="list all from then on, not only the newest 50")


def _that_measure(command: Command) -> None:
    probes = command(
        "probes",
        probing.probes,
        "every probe, the worst first: heard, believed, refused, calibrated",
        "For a moisture probe without points it says which way it goes, and out of squeezed handfuls the lines that"
        " would calibrate it.",
    )
    probes.add_argument(
        "names",
        nargs="*",
        default=[],
        metavar="find",
        help="the word find, and names: which thermometer wired to this machine is which, by warming one after the other"
        " in the hand",
    )
    chosen = probes.add_mutually_exclusive_group()
    chosen.add_argument("--bin", dest="bed", metavar="BIN", help="those of one bin")
    chosen.add_argument(
        "--listen",
        type=_listening,
        metavar="SECONDS",
        help="listen to the broker for so long instead, and show the lines that would add what nobody reads",
    )
    probes.add_argument(
        "--topics", default="probes/#", metavar="FILTER", help="what to listen to, with + and # (default probes/#)"
    )
    squeeze = command(
        "squeeze",
        probing.squeeze,
        "say what a squeezed handful of bedding did",
        "Where no calibrated probe speaks, it is judged, with the uncertainty of a hand. HANDFUL is `crumbles` (makes no"
        " ball), `breaks` (a ball that falls apart), `holds` (a ball that stays, a drop at most), `drops` (a few drops),"
        f" `drips` (a thin stream) or `runs` (by itself). {PROMISE}",
    )
    squeeze.add_argument("bed", metavar="BIN", help="the bin's id, or one zone of it: fig, fig.west")
    squeeze.add_argument(
        "feel", metavar="HANDFUL", help="what it did: crumbles, breaks, holds, drops, drips, runs"
    )
    squeeze.add_argument(
        "--at", dest="when", metavar="WHEN", help='when it was, if not now: 18:00, "yesterday 18:00"'
    )
    _takes_who(squeeze)
    _takes_words(squeeze, "a few words for the diary")


def _that_tell_the_time(command: Command) -> None:
    clock = command(
        "clock",
        timing.clock,
        "what the times that are shown are worth",
        "Where no network tells this machine the time, set its clock, and say so with --right: that counts as proof, and"
        " everything that was stamped by a wrong clock is put right.",
    )
    clock.add_argument("--right", action="store_true", help="say that this machine's clock is right now")
    _takes_who(clock)


def _that_carry(command: Command) -> None:
    out = command(
        "export",
        carrying.write_out,
        "readings as a table, or with --json as one JSON object on each line",
        "All there are, or those of some probes and some days. `vermistat import` reads either back exactly.",
    )
    out.add_argument(
        "probes", nargs="*", default=[], metavar="PROBE", help="whose readings (default: everybody's)"
    )
    out.add_argument("--since", metavar="DAY", help="from then on: yesterday, monday, 2026-11-20")
    out.add_argument("--until", metavar="DAY", help="up to then, that moment not included")
    back = command(
        "import",
        carrying.bring_in,
        "history from a file: an export, or another logger's table",
        "A table is CSV with the columns' names in its first line. Whatever is no reading is told with its line. While the"
        " daemon runs, the store is its own: end it first. What is brought in is judged by nobody and told to nobody.",
    )
    back.add_argument("file", type=Path, metavar="FILE", help="the file to read")
    back.add_argument("--probe", metavar="PROBE", help="whose readings these are, when no column says so")
    back.add_argument("--time-column", default="time", metavar="NAME", help="the column of times (default: time)")
    back.add_argument(
        "--value-column", default="value", metavar="NAME", help="the column of values (default: value)"
    )
    back.add_argument(
        "--unit",
        metavar="UNIT",
        help="what the values are in: °C, °F, %%, counts (default: the column's, else the probe's)",
    )
    back.add_argument(
        "--zone", metavar="ZONE", help="whose clock wrote the times, when they do not say (default: the site's)"
    )
    back.add_argument(
        "--time-shape", metavar="SHAPE", help="how times are written, as strptime has it: '%%d/%%m/%%Y %%H:%%M'"
    )
    back.add_argument("--only-look", action="store_true", help="read and tell, keep nothing")
    back.add_argument(
        "--skip-problems", dest="skip", action="store_true", help="keep the good lines although others are none"
    )


def _that_back_up(command: Command) -> None:
    backup = command(
        "backup",
        backing.backup,
        "a copy of everything that is kept, and of the settings, looked into and rotated",
        "May be made while the daemon runs. Goes where `backup:` says, else into a folder beside the store. Secrets are not in"
        " it.",
    )
    backup.add_argument(
        "--to", type=Path, metavar="FOLDER", help="into this folder, on another disk that is mounted"
    )
    backup.add_argument(
        "--keep-days",
        type=_kept_days,
        metavar="NUMBER",
        help="keep the newest of each of so many days (default: 7)",
    )
    backup.add_argument(
        "--keep-weeks", type=_kept_weeks, metavar="NUMBER", help="and of each of so many weeks (default: 5)"
    )
    backup.add_argument(
        "--same-disk",
        action="store_true",
        help="take a folder that lies on the disk of the store or of the system",
    )
    back = command(
        "restore",
        backing.restore,
        "a backup put back in place of the store, which is kept beside it",
        "All of it is looked at first. Needs the daemon ended. The settings are left as they are.",
    )
    back.add_argument(
        "folder", type=Path, metavar="FOLDER", help="one backup, or the folder whose newest is meant"
    )
    back.add_argument("--only-look", action="store_true", help="look whether it is whole, change nothing")


def _that_see_to_the_database(command: Command) -> None:
    database = command(
        "database",
        databasing.database,
        "make the database of the settings ready, or move readings there and back",
        "`set-up` looks at the server, says what it will make there, asks, makes it, and proves it by a test reading"
        " that is written, read back and removed. `move` brings everything that waits here to the server now, `move --back`"
        " everything that lies there only into the file; either compares every day afterwards, goes on where it was"
        " interrupted, and needs the daemon ended.",
    )
    database.add_argument("what", type=databasing.what, metavar="WHAT", help="set-up or move")
    database.add_argument("--back", action="store_true", help="move brings everything back into the file")
    database.add_argument("--yes", action="store_true", help="set-up does it without asking")


def _takes_number(sub: argparse.ArgumentParser) -> None:
    sub.add_argument(
        "alarm", type=_number, metavar="NUMBER", help="the alarm's number, as `vermistat alarms` shows it"
    )


def read(argv: list[str]) -> argparse.Namespace:
    """The call as options, or an end with 64 and the nearest that can be called."""
    first = argv[0] if argv else ""
    whole = parser(first)
    names = _names(whole)
    if not names:
        whole = parser()
        names = _names(whole)
    if first.partition("=")[0] in ("--settings", "--json"):
        whole.error(
            f"{first.partition('=')[0]} stands behind the command: vermistat now {first.partition('=')[0]} …"
        )
    if argv and not first.startswith("-") and first not in names:
        near = get_close_matches(first, names, n=1)
        whole.error(f"there is no command {first!r}" + (f"; did you mean {near[0]!r}?" if near else ""))
    if not argv:
        whole.error(f"say what to do: {', '.join(names)}")
    options, rest = whole.parse_known_args(argv)
    if rest:
        _too_much(whole, first, rest)
    if options.run is do.diary:
        _either_writes_or_lists(whole, options)
    if options.run is do.alarms:
        _goes_with(whole, options)
    if options.run is publishing.publish and options.json and not options.look:
        whole.error("--json goes with --look: vermistat publish --look --json")
    if options.run is probing.probes and options.names:
        _finds(whole, options)
    return options


def _either_writes_or_lists(whole: argparse.ArgumentParser, options: argparse.Namespace) -> None:
    if options.words and (options.bin or options.since):
        whole.error("--bin and --since choose what is listed, and words write a new entry: one or the other")
    if not options.words and (options.when or options.corrects or options.who):
        whole.error("--at, --corrects and --as belong to an entry: say whom it is about and what was done")


def _finds(whole: argparse.ArgumentParser, options: argparse.Namespace) -> None:
    """`probes find`, which has nothing to do with the settings or the store."""
    first, *names = options.names
    if first != "find":
        whole.error(f"probes takes the word find, or options, not {first!r}")
    if options.bed is not None:
        whole.error("find looks at the thermometers wired to this machine, and takes no --bin")
    wrong = next((name for name in names if not re.fullmatch("[a-z][a-z0-9-]{0,31}", name)), None)
    if wrong is not None:
        whole.error(f"{wrong!r} cannot be a probe's id: use a-z, 0-9 and -, a letter first")
    if len(set(names)) < len(names):
        whole.error("each name stands for one thermometer: one is written twice")
    options.run, options.names = publishing.find, names


def _goes_with(whole: argparse.ArgumentParser, options: argparse.Namespace) -> None:
    """What only means something beside another option."""
    for option, beside in (("since", "journal"), ("bin", "journal"), ("days", "review")):
        if getattr(options, option) is not None and not getattr(options, beside):
            whole.error(f"--{option} goes with --{beside}: vermistat alarms --{beside} --{option} …")


def _too_much(whole: argparse.ArgumentParser, first: str, rest: list[str]) -> NoReturn:
    """Words or options that the command does not take, and the option that was probably meant."""
    if first.startswith("-"):
        whole.error(f"{first} stands before the command, where nothing like it is known")
    sub: argparse.ArgumentParser = next(a.choices[first] for a in whole._actions if isinstance(a.choices, dict))
    near = get_close_matches(rest[0].partition("=")[0], sub._option_string_actions, n=1)
    sub.error(f"`{first}` takes no {' '.join(rest)}" + (f"; did you mean {near[0]}?" if near else ""))


def _names(whole: argparse.ArgumentParser) -> list[str]:
    return [name for action in whole._actions if isinstance(action.choices, dict) for name in action.choices]


def _number(text: str, whose: str = "an alarm's") -> int:
    if not (text.isascii() and text.isdigit() and 0 < int(text) < 2**63):
        raise argparse.ArgumentTypeError(f"{whose} number is a whole number from 1 on, not {text!r}")
    return int(text)


def _version(text: str) -> int:
    return _number(text, "a version's")


def _entry(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 0 < int(text) < 2**63):
        raise argparse.ArgumentTypeError(f"an entry's number is a whole number from 1 on, not {text!r}")
    return int(text)


def _kept_days(text: str) -> int:
    return round(_between(text, 1, 366, "keep the backups of 1 to 366 days", whole=True))


def _kept_weeks(text: str) -> int:
    return round(_between(text, 0, 520, "keep the backups of 0 to 520 weeks", whole=True))


def _port(text: str) -> int:
    if not (text.isascii() and text.isdigit() and int(text) < 65_536):
        raise argparse.ArgumentTypeError(f"a port is a whole number up to 65535, not {text!r}")
    return int(text)


def _seconds(text: str) -> float:
    return _between(text, 0, 1e9, "seconds are a number from 0 on")


def _listening(text: str) -> float:
    return _between(text, 1, 3600, "listen for 1 to 3600 seconds")


def _speed(text: str) -> float:
    return _between(text, 1, 100_000, "a speed lies between 1 and 100000")


def _between(text: str, low: float, high: float, what: str, *, whole: bool = False) -> float:
    try:
        value = float(int(text) if whole else text)
    except ValueError:
        value = -1.0
    if not low <= value <= high:
        raise argparse.ArgumentTypeError(f"{what}, not {text!r}")
    return value
