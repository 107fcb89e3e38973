"""A year that two bins of `parts.paged` have lived before the daemon starts: readings, alarms, and what was done."""

import math

from monitor.alarms.cycle import Event, State, Transition
from monitor.checks.findings import AlarmKey, Condition, Kind, Subject
from monitor.diary import Deed, Entry
from monitor.readings import DAY, HOUR, MINUTE, Reading
from monitor.rules import Level
from monitor.store.promises import Batch, Round, RoundRow
from monitor.store.sqlite import SqliteStore

GAP = (60 * HOUR, 50 * HOUR)
"""From so long ago until so long ago the far end of the fig tub was not heard."""
SPIKE = 40.125
"""°C: the highest of all its readings, once, 100 days ago."""
COLD = AlarmKey(Subject(Kind.BIN, "fig", "shed"), Condition.COLD)


def warmth(at, base, swing):
    day, year = 2 * math.pi * at / DAY, 2 * math.pi * at / (365 * DAY)
    return round(base + swing * math.sin(day - 2) + 4 * math.sin(year) + math.sin(at / HOUR / 7), 4)


def times(now, days=365):
    """Every 5 minutes of the last eight days, every hour of the time before."""
    start = (now - days * DAY) // HOUR * HOUR
    recent = now - 8 * DAY
    return [*range(start, recent, HOUR), *range(recent // HOUR * HOUR + HOUR, now - MINUTE, 5 * MINUTE)]


def readings(now, days=365):
    found = []
    for at in times(now, days):
        found.append(Reading("fig-near", at, warmth(at, 23, 2), at))
        if not now - GAP[0] <= at < now - GAP[1]:
            found.append(Reading("fig-far", at, warmth(at, 18, 4), at))
        found.append(Reading("plum-bed", at, warmth(at, 20, 3), at))
        found.append(Reading("plum-damp", at, warmth(at, 72, 5), at))
    spike = (now - 100 * DAY) // HOUR * HOUR + 20 * MINUTE
    return [*found, Reading("fig-far", spike, SPIKE, spike)]


def steps(now):
    def step(event, before, after, ago, level):
        at = now - ago
        return Transition(
            COLD, 7, event, before, after, level, at, at, "Colder than comfort." if level else "Back."
        )

    return [
        step(Event.RAISED, State.NORMAL, State.UNACKNOWLEDGED, 70 * HOUR, Level.COMFORT),
        step(Event.ROSE, State.UNACKNOWLEDGED, State.UNACKNOWLEDGED, 66 * HOUR, Level.HARM),
        step(Event.ACKNOWLEDGED, State.UNACKNOWLEDGED, State.ACKNOWLEDGED, 64 * HOUR, Level.HARM),
        step(Event.RETURNED, State.ACKNOWLEDGED, State.NORMAL, 40 * HOUR, Level.COMFORT),
    ]


def entries(now):
    told = [
        (120, Deed.MAT_ON, "mat:fig-mat", "", None, ""),
        (90, Deed.WATERED, "bin:fig", "by the can", 2.0, "L"),
        (60, Deed.FED, "zone:fig.near", "peelings", 1.5, "kg"),
        (48, Deed.MAT_OFF, "mat:fig-mat", "", None, ""),
        (30, Deed.HARVESTED, "bin:fig", "", 4.0, "kg"),
        (20, Deed.NOTE, "bin:fig", '<b>"mites"</b>', None, ""),
    ]
    return [
        Entry(now - ago * HOUR, now - ago * HOUR, "ana", deed, subject, text, None, amount, unit, number)
        for number, (ago, deed, subject, text, amount, unit) in enumerate(told, 1)
    ]


def lived(path, now, days=365):
    """A store at `path` in which all of it is kept and summed up."""
    store = SqliteStore(path)
    store.keep(Batch(readings=readings(now, days)))
    # Long before any machine of a test was switched on: its clock is then above suspicion.
    store.commit(
        Round(RoundRow(1, now - 30 * DAY, "1", store.last_arrival()), transitions=steps(now), diary=entries(now))
    )
    while store.summarise(now - HOUR):
        pass
    store.close()
