"""How the product is asked for printed figures of alarm systems, and for the way back from a suppression."""

from __future__ import annotations

from monitor.alarms import causes, cycle, quiet
from monitor.alarms.benchmarks import PLANT, graded
from monitor.alarms.holds import Work
from monitor.alarms.quiet import Laid
from monitor.alarms.review import Activation, Delays, chattering, floods, rate, stale
from monitor.checks.findings import AlarmKey, Condition, Evidence, Finding, Kind, Subject
from monitor.readings import HOUR, MINUTE, SECOND
from monitor.rules import Level

PROBE = Subject(Kind.PROBE, "fig-west", "shed")
SILENT = AlarmKey(PROBE, Condition.SILENT)
LOST = AlarmKey(Subject(Kind.DAEMON, "", ""), Condition.BROKER_LOST)
START = 1_790_000_000_000


def raised(key, number, *, at=START):
    alarm, _ = cycle.step(None, found(key, Level.COMFORT, at), round_at=at, next_number=number)
    assert alarm is not None
    return alarm


def found(key, level, at):
    return Finding(key, level, at, at, Evidence("a line of arithmetic"))


def hushed(under, alarm):
    """The alarm under a suppression, and what takes it away again."""
    if under == "suppressed by design":
        cause = raised(LOST, 2)
        changed, _ = causes.suppress({SILENT: alarm, LOST: cause}, only_probes={}, round_at=START)
        return changed[SILENT], lambda one: causes.suppress({SILENT: one}, only_probes={}, round_at=START + HOUR)[
            0
        ][SILENT]
    shelf = quiet.put_aside(alarm, "ana", at=START, until=START + HOUR) if under == "shelved" else None
    work = Work("fig", START, START + HOUR, "ana") if under == "out of service" else None
    held, _ = quiet.lay(alarm, Laid(shelf, work), round_at=START)
    return held, lambda one: quiet.lay(one, Laid(None, None), round_at=START + HOUR)[0]


def after_suppression(*, under, condition):
    """Letters of the standard's figure: A normal, B unacknowledged."""
    alarm, freed = hushed(under, raised(SILENT, 1))
    assert alarm.suppressed
    if not condition:
        gone, _ = cycle.step(alarm, found(SILENT, None, START + MINUTE), round_at=START + MINUTE, next_number=9)
        return "A" if gone is None else str(gone.state)
    back = freed(alarm)
    assert not back.suppressed
    return {"unacknowledged": "B"}.get(str(back.state), str(back.state))


def at_plant(times, span):
    """Activations of one alarm at these times."""
    return [Activation(SILENT, number, round(at * span), None, Level.COMFORT) for number, at in enumerate(times)]


def chatters(*, seconds):
    return bool(chattering(at_plant(seconds, SECOND), lambda _key: Delays(), PLANT))


def flooded(*, minutes):
    times = [round(at * MINUTE) for at in minutes]
    return [[begin / MINUTE, end / MINUTE] for begin, end in floods(times, 10**12, PLANT)]


ALARMS = {
    "alarms in ten minutes": lambda *, count, hours: rate(count, round(hours * HOUR), PLANT),
    "alarm rate graded": lambda *, count, hours: str(graded("rate", rate(count, round(hours * HOUR), PLANT))),
    "alarm figure graded": lambda *, name, value: str(graded(name, value)),
    "chattering at a plant": chatters,
    "floods at a plant": flooded,
    "stale at a plant": lambda *, hours: bool(stale(at_plant([0], HOUR), hours * HOUR, PLANT)),
    "alarm after suppression": after_suppression,
}
