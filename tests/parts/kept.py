"""Things worth keeping, and the stores that are held to the promises."""

from dataclasses import replace

from monitor.advice.acts import Act, Advice, Order
from monitor.alarms.cycle import Alarm, Event, State, Transition
from monitor.amendments import Amendment, Held, Outline
from monitor.checks.findings import AlarmKey, Condition, Evidence, Kind, PastEpisode, Subject
from monitor.diary import Deed, Entry
from monitor.names import Names
from monitor.notify.notices import Decision, Notice, Untold, Verdict
from monitor.readings import HOUR, MINUTE, Reading, Refusal, RefusalKind, Undated
from monitor.rules import Ability, Level
from monitor.store import sqlite_keep
from monitor.store.memory import MemoryStore
from monitor.store.promises import Batch, Round, RoundRow, Taking
from monitor.store.sqlite import SqliteStore
from parts import influx_kept

T0 = 1_768_400_000_000


def reading(probe="fig-west", minute=0, value=21.0, **more):
    at = T0 + minute * MINUTE
    return Reading(probe, at, value, more.pop("received_at", at), **more)


def numbered(readings, first=1):
    """As they come back: with their arrival numbers."""
    return [replace(one, arrival=number) for number, one in enumerate(readings, first)]


def batch(*readings, **more):
    return Batch(readings, **more)


def undated(probe="fig-west", value=20.5, received_at=T0):
    return Undated(probe, value, received_at)


def refusal(topic="probes/fig-west", kind=RefusalKind.NOT_A_NUMBER, number=0):
    return Refusal(topic, "fig-west", kind, f"line {number} is not a number", b"\x00\xffwarm", T0 + number)


def key(zone="fig.west", condition=Condition.COLD):
    return AlarmKey(Subject(Kind.ZONE, zone, "shed"), condition)


EVIDENCE = Evidence(
    "mean of 14 values 14.1 °C ≤ 15 °C for 4 h",
    value=14.1,
    bound=15.0,
    unit="°C",
    lasting=4 * HOUR,
    source="a handbook's table",
    mark="seen",
    probe="fig-west",
    zone="fig.west",
)


def alarm(number=1, **more):
    what = {
        "key": key(),
        "number": number,
        "state": State.UNACKNOWLEDGED,
        "level": Level.HARM,
        "since": T0,
        "raised_at": T0 + 4 * HOUR,
        "changed_at": T0 + 4 * HOUR,
        "evidence": EVIDENCE,
        "cause": key("fig.east", Condition.SILENT),
    }
    return Alarm(**(what | more))


def transition(number=1, at=T0, **more):
    what = {
        "key": key(),
        "number": number,
        "event": Event.RAISED,
        "before": State.NORMAL,
        "after": State.UNACKNOWLEDGED,
        "level": Level.COMFORT,
        "at": at,
        "round_at": at + 30_000,
        "cause": "14.1 °C is below 15 °C",
        "evidence": EVIDENCE,
    }
    return Transition(**(what | more))


def past(number=1):
    return PastEpisode(key(f"fig.zone{number}"), Level.HARM, T0, T0 + HOUR, EVIDENCE)


def advice(place="shed", number=1):
    order = Order(
        Act.INSULATE,
        "fig",
        "lay two blankets over fig",
        "14.1 °C, 15 °C is the limit",
        cautions=("No blanket over a mat",),
        more=("15 − 14.1 = 0.9 °C",),
        needs=Ability.MATS,
        by=T0 + HOUR,
        alarms=(number,),
        urgent=True,
    )
    return Advice(place, T0 + number, (order,), T0 + HOUR)


def notice(number=1, channels=("phone", "mail"), **more):
    what = {
        "number": number,
        "person": "keeper",
        "place": "shed",
        "channels": channels,
        "at": T0,
        "lines": ("fig: two blankets by 21:00", "14.1 °C", "No blanket over a mat."),
        "more": ("15 − 14.1 = 0.9 °C",),
        "alarms": (1, 2),
        "woke": True,
    }
    return Notice(**(what | more))


def decision(alarm=1, number=1):
    return Decision(T0 + number, "keeper", alarm, "raised", Verdict.HELD, "asleep until 07:00", T0 + HOUR, None)


def untold(person="keeper", place="shed", number=1):
    return Untold(person, place, transition(number))


def entry(at=T0, text="two blankets"):
    return Entry(at, T0 + HOUR, "keeper", Deed.DONE, "fig", text, alarm=1)


AMENDMENT = Amendment(
    "fig", "west", "temperature", "comfort from", 21.0, 20.0, "°C", "settings: bins.fig", "settings", "fig.yaml:12"
)
OUTLINE = Outline(({"temperature: comfort from": Held(20.0, "°C", "settings: bins.fig", "settings")},), {"fig": 0},
                  {"bin": ("fig",), "probe": ("fig-west",)}, Names(bins={"date": "fig"}))  # fmt: skip


def taking(letter="a", minute=0, **more):
    what = {
        "at": T0 + minute * MINUTE,
        "who": "the file",
        "digest": letter,
        "rules": f"rules of {letter}",
        "files": (("fig.yaml", f"bins: {letter}"), ("people.yaml", "people: {}")),
        "outline": OUTLINE,
    }
    return Taking(**(what | more))


def round_(number=1, **what):
    return Round(RoundRow(number, T0 + number * MINUTE, what.pop("settings", "1"), what.pop("upto", 0)), **what)


class FromOutside:
    """The daemon's store for writing, and for every question another process's view of the same file."""

    WRITES = frozenset({"summarise", "keep", "commit", "sent", "failed", "give_up", "take_up", "settle", "shift"})

    def __init__(self, path):
        self._inside = SqliteStore(path)
        self._outside = SqliteStore(path, read_only=True)

    def __getattr__(self, name):
        return getattr(self._inside if name in self.WRITES else self._outside, name)

    def close(self):
        self._outside.close()
        self._inside.close()


def moved_often(monkeypatch):
    """So that moves happen within a few readings."""
    monkeypatch.setattr(sqlite_keep, "STAGED", 3)
    monkeypatch.setattr(sqlite_keep, "STAGED_A_PROBE", 0)


STORES = {
    "memory": lambda folder: MemoryStore(),
    "sqlite": lambda folder: SqliteStore(folder / "kept.db"),
    "sqlite, moved often": lambda folder: SqliteStore(folder / "kept.db"),
    "sqlite, read from outside": lambda folder: FromOutside(folder / "kept.db"),
    "influx": influx_kept.opened,
    "influx, moved often, only at the server": lambda folder: influx_kept.opened(folder, influx_kept.Pruned),
}
"""A further store joins the suite by standing here."""
