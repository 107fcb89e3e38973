"""Whole notices by name: what happened, to whom it is told, and the text as the keeper gets it."""

from dataclasses import replace

from monitor.alarms.cycle import Event
from monitor.checks.findings import Condition
from monitor.notify.notices import Untold
from monitor.notify.plan import plan
from monitor.rules import Level, Remedy, Units, Vessel
from parts.orchard import (
    ANA,
    AWAKE,
    BEN,
    FIG,
    PLUM,
    Ability,
    Control,
    Present,
    advise,
    alarm,
    by,
    episode,
    evidence_of,
    ms,
    now_at,
    rules,
    step,
)

CHILLED = now_at(fig_west=14.2, fig_mat=14.5, fig_east=14.8, plum_near=16.0)
FREEZING = alarm(12, "fig", Condition.COLD, Level.HARM, since="21:05")
COOL = alarm(12, "fig", Condition.COLD, since="11:10", value=20.4)
PARCHED = alarm(13, "fig", Condition.DRY, Level.HARM, since="04:30", value=62.0)


def notice(*alarms, at, zones=None, of=None, place="shed", past=(), held=(), stood=(), over=(), person="ana"):
    """The one notice of a round in which these alarms were raised."""
    shed = of or rules()
    planned = plan(
        rules=shed,
        untold={(person, place): tuple(Untold(person, place, t) for t in held)} if held else {},
        transitions=[*(step(a) for a in alarms), *over],
        past=past,
        alarms={a.number: a for a in (*alarms, *stood)},
        advice={place: advise([*alarms, *stood], zones, place=place, at=at, of=shed)},
        before={place: advise([COOL, *stood], zones, place=place, at=at, of=shed)} if over else {},
        now=ms(at),
        next_notice=1,
        stood={a.number: a for a in (COOL,)},
    )
    return next(n for n in planned.notices if n.person == person)


def _cold_night_by_hand():
    return notice(replace(FREEZING, since=ms("01:10")), at="05:12", zones=CHILLED)


def _cold_day_thermostat():
    warm = now_at(fig_west=20.4, fig_mat=21.2, fig_east=19.6, plum_near=19.0)
    return notice(COOL, at="12:11", zones=warm, of=rules(mats=[by(Control.THERMOSTAT, 21.0)]))


def _cold_although_the_mat_should_hold():
    return notice(COOL, at="12:11", zones=CHILLED, of=rules(mats=[by(Control.THERMOSTAT, 23.0)]))


def _cold_but_the_neighbour_is_hot():
    hot = alarm(14, "plum", Condition.HOT, Level.HARM, since="02:40", value=31.4)
    return notice(
        replace(FREEZING, since=ms("01:10")), hot, at="05:12", zones={**CHILLED, **now_at(plum_near=31.4)}
    )


def _dry_and_cold():
    zones = {**CHILLED, "fig.east": Present(14.8, 0, 62.0, 0, 5.0)}
    shed = rules(mats=[by(Control.THERMOSTAT, 23.0)])
    return notice(replace(FREEZING, since=ms("01:10")), PARCHED, at="05:42", zones=zones, of=shed)


def _dry_morning():
    zones = {"fig.west": Present(23.6), "fig.east": Present(24.2, 0, 66.0, 0, 5.0)}
    dry = alarm(13, "fig", Condition.DRY, since="06:30", value=67.0)
    return notice(dry, at="07:31", zones=zones)


def _dry_in_gallons():
    zones = {"fig.west": Present(23.6), "fig.east": Present(24.2, 0, 62.0, 0, 5.0)}
    bare = replace(FIG, vessel=Vessel(floor=0.3, drains=False))
    return notice(PARCHED, at="07:31", zones=zones, of=rules(bins=(bare, PLUM), mats=(), units=Units.US))


def _wet():
    wet = alarm(13, "plum", Condition.WET, since="08:20", value=89.0)
    heavy = replace(PLUM, bedding=20.0, vessel=Vessel(drains=True))
    zones = {"plum.near": Present(18.0, 0, 89.0, 0, 2.0)}
    return notice(wet, at="14:21", zones=zones, of=rules(bins=(FIG, heavy), mats=()))


def _heat_with_nothing_to_do():
    hot = alarm(14, "plum", Condition.HOT, Level.HARM, since="13:05", value=31.6)
    shed = rules(bins=(FIG, replace(PLUM, can=frozenset())), mats=())
    return notice(hot, at="15:06", zones=now_at(plum_near=31.6), of=shed)


def _heat_with_shade_and_air():
    hot = alarm(14, "plum", Condition.HOT, Level.HARM, since="13:05", value=31.6)
    shed = rules(bins=(FIG, replace(PLUM, can=frozenset({Remedy.SHADE, Remedy.AIR}))), mats=())
    return notice(hot, at="15:06", zones={"plum.near": Present(31.6, air=35.0, humidity=30.0)}, of=shed)


def _temperate_cold():
    return notice(
        alarm(15, "plum", Condition.COLD, since="09:00", value=8.2),
        at="10:01",
        zones=now_at(plum_near=8.2),
        of=rules(people=(AWAKE,)),
    )


def _silent_probe():
    return notice(alarm(16, "fig-west", Condition.SILENT, since="13:10"), at="13:56")


def _morning_after():
    night = [
        step(COOL, at="01:20", evidence=evidence_of("fig", Condition.COLD, Level.COMFORT, 20.6)),
        step(COOL, Event.RETURNED, "05:40"),
    ]
    cool = alarm(15, "plum", Condition.COLD, since="01:00", value=8.2)
    return notice(at="07:00", held=[*night, step(cool)], stood=[cool], zones=now_at(plum_near=8.1))


def _over_by_day():
    back = evidence_of("fig", Condition.COLD, Level.COMFORT, 22.1)
    over = [step(COOL, Event.RETURNED, "16:29", evidence=back)]
    return notice(at="16:30", over=over, of=rules(people=(AWAKE,)))


def _late_readings():
    return notice(at="09:30", past=[episode("fig", Condition.COLD, "01:10", "06:20", Level.HARM, 14.1)])


def _store_failing():
    trouble = alarm(
        17, "", Condition.STORE_FAILING, since="03:02", arithmetic="3 writes failed in a row: disk full"
    )
    return notice(trouble, at="03:04", place="")


def _somebody_else_may():
    water_only = replace(BEN, may=frozenset({Ability.WATER}), evening=None, up=None)
    shed = rules(people=(ANA, water_only))
    return notice(replace(FREEZING, since=ms("10:10")), at="14:12", zones=CHILLED, of=shed, person="ben")


LETTERS = {
    "cold-night-by-hand": _cold_night_by_hand,
    "cold-day-thermostat": _cold_day_thermostat,
    "cold-although-the-mat-should-hold": _cold_although_the_mat_should_hold,
    "cold-but-the-neighbour-is-hot": _cold_but_the_neighbour_is_hot,
    "dry-and-cold": _dry_and_cold,
    "dry-morning": _dry_morning,
    "dry-in-gallons": _dry_in_gallons,
    "wet": _wet,
    "heat-with-nothing-to-do": _heat_with_nothing_to_do,
    "heat-with-shade-and-air": _heat_with_shade_and_air,
    "temperate-cold": _temperate_cold,
    "silent-probe": _silent_probe,
    "morning-after": _morning_after,
    "over-by-day": _over_by_day,
    "late-readings": _late_readings,
    "store-failing": _store_failing,
    "somebody-else-may": _somebody_else_may,
}


def written(name):
    """A notice as its fixture holds it: its lines, what is left in 160 characters, and what is behind "why?"."""
    told = LETTERS[name]()
    cut = "\n".join(told.lines)[:160]
    return "\n".join([*told.lines, "", "-- cut at 160 --", cut, "", "-- why? --", *told.more, ""])
