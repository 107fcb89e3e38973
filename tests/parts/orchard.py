"""An invented orchard shed with two bins on one plug, its people, and alarms to put into it."""

from dataclasses import replace
from datetime import UTC, datetime, time

from monitor.advice.acts import Advice
from monitor.advice.decide import decide
from monitor.advice.present import Present
from monitor.alarms.cycle import Alarm, Event, State, Transition
from monitor.checks.findings import AlarmKey, Condition, Evidence, Kind, PastEpisode, Subject
from monitor.readings import HOUR, MINUTE, Measures
from monitor.rules import (
    Ability,
    Bin,
    Control,
    Level,
    Limits,
    Mat,
    Person,
    Place,
    Point,
    Probe,
    Remedy,
    Role,
    Rules,
    Site,
    Source,
    Unit,
    Units,
    Vessel,
    Zone,
)
from monitor.science.worms import at_the_mat, species

TZ = "Europe/Lisbon"
"""UTC in winter, so that the times below read like the clock on the wall."""


def ms(text):
    """ISO 8601 in UTC, or `HH:MM` of 25 November 2026, in Millis."""
    whole = text if "T" in text else f"2026-11-25T{text}"
    return round(datetime.fromisoformat(whole).replace(tzinfo=UTC).timestamp() * 1000)


def probe(name, measures=Measures.TEMPERATURE):
    points = (Point(2700, 12), Point(1450, 80)) if measures is Measures.MOISTURE else ()
    unit = Unit.COUNTS if measures is Measures.MOISTURE else Unit.CELSIUS
    return Probe(name, measures, Source(f"probes/{name}", unit), calibration=points)


def climate(key):
    worm = species(key)
    return {Measures.TEMPERATURE: worm.temperature, Measures.MOISTURE: worm.moisture}


def zone(bed, name, key, role=Role.LIVING, damp=False):
    limits = climate(key)
    if role is Role.AT_THE_MAT:
        limits = {**limits, Measures.TEMPERATURE: at_the_mat(species(key))}
    probes = [probe(f"{bed}-{name}")] + ([probe(f"{bed}-{name}-damp", Measures.MOISTURE)] if damp else [])
    return Zone(name, role, tuple(probes), limits)


FIG = Bin(
    id="fig",
    name="Fig",
    species=("eudrilus-eugeniae",),
    place="shed",
    zones=(
        zone("fig", "west", "eudrilus-eugeniae"),
        zone("fig", "mat", "eudrilus-eugeniae", Role.AT_THE_MAT),
        zone("fig", "east", "eudrilus-eugeniae", damp=True),
    ),
    limits=climate("eudrilus-eugeniae"),
    vessel=Vessel(floor=0.3, depth=0.25, drains=True),
    worms=2.0,
    bedding=35.0,
    can=frozenset({Remedy.INSULATE, Remedy.MOVE, Remedy.SHADE}),
)
PLUM = Bin(
    id="plum",
    name="Plum",
    species=("eisenia-fetida",),
    place="shed",
    zones=(zone("plum", "near", "eisenia-fetida", damp=True),),
    limits=climate("eisenia-fetida"),
    can=frozenset({Remedy.AIR}),
)
SLOE = Bin(
    id="sloe",
    name="Sloe",
    species=("perionyx-excavatus",),
    place="porch",
    zones=(zone("sloe", "top", "perionyx-excavatus", damp=True),),
    limits=climate("perionyx-excavatus"),
)
LONG_MAT = Mat("long-mat", (("fig", "west"), ("plum", "near")), Control.HAND, power=40.0)
ANA = Person("ana", ("phone", "mail"), time(21), time(7))
BEN = Person("ben", ("mail",), time(22, 30), time(8), may=frozenset({Ability.MATS}))
AWAKE = Person("ana", ("phone", "mail"))
"""Ana without sleeping hours: told of everything when it happens."""
SITE = Site("orchard", "Orchard shed", TZ)
SHED = Place("shed", "Shed", (probe("shed-air"), probe("shed-damp", Measures.HUMIDITY)))


def rules(*, bins=(FIG, PLUM, SLOE), mats=(LONG_MAT,), people=(ANA,), units=Units.METRIC, tz=TZ):
    return Rules(
        site=replace(SITE, units=units, timezone=tz),
        places={"shed": SHED, "porch": Place("porch", "Porch")},
        bins={b.id: b for b in bins},
        mats={m.id: m for m in mats},
        people={p.id: p for p in people},
    )


def by(control, set_to=None):
    """The long mat under another control."""
    return replace(LONG_MAT, control=control, set_to=set_to)


_PLACE = {"fig": "shed", "plum": "shed", "sloe": "porch", "shed-air": "shed", "": ""}
_CLIMATE = (Condition.COLD, Condition.HOT, Condition.DRY, Condition.WET)


def subject(name):
    """`fig`, `fig.west`, `fig-west` or "" as a subject."""
    bed = name.partition(".")[0].partition("-")[0] if name not in _PLACE else name
    kind = Kind.ZONE if "." in name else Kind.PROBE if "-" in name else Kind.BIN if name else Kind.DAEMON
    return Subject(kind, name, _PLACE[bed])


def evidence_of(name, condition, level, value=None, **more):
    """Evidence as the checks write it, from the species' own limits."""
    bed = {b.id: b for b in (FIG, PLUM, SLOE)}.get(name.partition(".")[0])
    if bed is None or condition not in _CLIMATE:
        return Evidence(more.pop("arithmetic", f"{condition} for 50 min, longer than 45 min"), **more)
    measures = Measures.TEMPERATURE if condition in (Condition.COLD, Condition.HOT) else Measures.MOISTURE
    below = condition in (Condition.COLD, Condition.DRY)
    one = next((z for z in bed.zones if z.id == name.partition(".")[2]), None)
    limits = (one.limits if one else bed.limits)[measures]
    bound, lasting = _limit(limits, level, below)
    value = bound.value if value is None else value
    shift = limits.deadband if below else -limits.deadband
    return Evidence(
        arithmetic=f"{value} against {bound.value}",
        value=value,
        bound=bound.value,
        unit="°C" if measures is Measures.TEMPERATURE else "%",
        lasting=lasting,
        source=bound.source,
        mark=bound.mark,
        zone=more.pop("zone", one.id if one else bed.zones[0].id),
        below=below,
        clear_at=bound.value + shift,
        **more,
    )


def _limit(limits: Limits, level, below):
    if level is Level.HARM:
        harm = next(h for h in limits.harm if h.below is below)
        return harm.bound, harm.lasting
    return (limits.low if below else limits.high), limits.comfort_delay


def alarm(
    number, name, condition, level=Level.COMFORT, since="01:10", value=None, state=State.UNACKNOWLEDGED, **more
):
    """A standing alarm. `since` as for `ms`; it was raised an hour later."""
    began = ms(since)
    return Alarm(
        key=AlarmKey(subject(name), condition),
        number=number,
        state=state,
        level=level,
        since=began,
        raised_at=began + HOUR,
        changed_at=began + HOUR,
        evidence=evidence_of(name, condition, level, value, held=HOUR, **more),
        worst=level,
    )


def step(of, event=Event.RAISED, at=None, **more):
    """A transition of an alarm; by default its raising."""
    after = {Event.RETURNED: State.NORMAL, Event.REMOVED: State.NORMAL, Event.ACKNOWLEDGED: State.ACKNOWLEDGED}
    moment = of.raised_at if at is None else ms(at)
    return Transition(
        key=of.key,
        number=of.number,
        event=event,
        before=State.NORMAL if event is Event.RAISED else State.UNACKNOWLEDGED,
        after=after.get(event, State.UNACKNOWLEDGED),
        level=more.pop("level", of.level),
        at=moment,
        round_at=moment + MINUTE,
        cause=more.pop("cause", f"{str(of.key.condition).capitalize()} {event}."),
        evidence=more.pop("evidence", of.evidence),
        **more,
    )


def episode(name, condition, began, ended, level=Level.COMFORT, value=None):
    key = AlarmKey(subject(name), condition)
    return PastEpisode(key, level, ms(began), ms(ended), evidence_of(name, condition, level, value))


def now_at(**temperatures):
    """`fig_west=14.2` and so on: what each zone measures, five minutes old."""
    return {
        name.replace("_", "."): value if isinstance(value, Present) else Present(value, 5 * MINUTE)
        for name, value in temperatures.items()
    }


def advise(alarms, zones=None, *, place="shed", at="02:10", of=None) -> Advice:
    return decide(place, rules=of or rules(), alarms=alarms, zones=zones or {}, at=ms(at))
