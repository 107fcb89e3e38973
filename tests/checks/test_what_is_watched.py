"""Which limits of which subject become watches. Delays and rules: the documented defaults (proposals)."""

from dataclasses import replace

import pytest

from checks.beds import CLIMATE, HEAT, WATER, bed, bound, damp, key, thermometer, zone
from monitor.checks.findings import Condition, Kind
from monitor.checks.watches import Statistic, watch_over, watches
from monitor.readings import HOUR, MINUTE, Measures
from monitor.rules import Harm, JudgeBy, Level, Limits, Point, Role


def told(bin_, condition: Condition):
    """(level, bound, on-delay) of a bin's watches of one condition."""
    return [(w.level, w.bound.value, w.on_delay) for w in watches(bin_) if w.key.condition is condition]


def test_comfort_and_every_harm_rule_is_a_watch_of_its_own():
    assert [
        (Level.COMFORT, 21, HOUR),
        (Level.HARM, 15, 4 * HOUR),
        (Level.HARM, 12, 0),
    ] == told(bed(), Condition.COLD)
    assert [
        (Level.COMFORT, 29, HOUR),
        (Level.HARM, 32, 2 * HOUR),
        (Level.HARM, 34, 0),
    ] == told(bed(), Condition.HOT)


def test_living_zones_are_one_subject_under_refuge():
    bin_ = bed(zone("west"), zone("east"))
    assert {key(Condition.COLD), key(Condition.HOT)} == {w.key for w in watches(bin_)}
    assert {("west", "east")} == {w.zones for w in watches(bin_)}


def test_every_living_zone_is_a_subject_when_asked_for():
    bin_ = bed(zone("west"), zone("east"), judge=JudgeBy.EVERY_ZONE)
    assert {"fig.west", "fig.east"} == {w.key.subject.id for w in watches(bin_)}
    assert {Kind.ZONE} == {w.key.subject.kind for w in watches(bin_)}


@pytest.mark.parametrize("judge", JudgeBy)
def test_a_zone_at_the_mat_is_itself_with_its_own_limits(judge: JudgeBy):
    own = {Measures.TEMPERATURE: Limits(None, None, harm=(Harm(False, bound(32), 30 * MINUTE),))}
    bin_ = bed(zone("west"), zone("mat", role=Role.AT_THE_MAT, limits=own), judge=judge)
    mine = [w for w in watches(bin_) if w.key.subject.id == "fig.mat"]
    assert [(Condition.HOT, 32)] == [(w.key.condition, w.bound.value) for w in mine]
    assert all("mat" not in w.zones for w in watches(bin_) if w not in mine)


@pytest.mark.parametrize("role", [Role.FINISHED, Role.EDGE])
@pytest.mark.parametrize("judge", JudgeBy)
def test_edge_and_finished_zones_are_not_judged(judge: JudgeBy, role: Role):
    assert {"west"} == {
        z for w in watches(bed(zone("west"), zone("rim", role=role), judge=judge)) for z in w.zones
    }
    assert () == watches(bed(zone("rim", role=role), judge=judge))


def test_the_bins_limits_hold_under_refuge_and_the_zones_own_for_every_zone():
    own = {Measures.TEMPERATURE: replace(HEAT, low=bound(23))}
    by = {j: bed(zone("west", limits=own), judge=j) for j in JudgeBy}
    assert 21 == watches(by[JudgeBy.REFUGE])[0].bound.value
    assert 23 == watches(by[JudgeBy.EVERY_ZONE])[0].bound.value


def test_the_deadband_lies_inside_the_limit():
    cold, hot = (next(w for w in watches(bed()) if w.key.condition is c) for c in (Condition.COLD, Condition.HOT))
    assert (22, 28) == (cold.clear_at, hot.clear_at)


def wet_bed(*probes, limits=CLIMATE):
    return bed(zone("west", *(probes or (damp("fig-damp"),)), limits=limits), limits=limits)


def test_dry_is_told_by_the_days_median_and_wet_after_six_hours():
    found = {w.key.condition: w for w in reversed(watches(wet_bed()))}
    assert (Statistic.MEDIAN_DAY, HOUR) == (found[Condition.DRY].statistic, found[Condition.DRY].on_delay)
    assert (Statistic.VALUE, 6 * HOUR) == (found[Condition.WET].statistic, found[Condition.WET].on_delay)


def test_a_flood_is_a_rise_of_ten_points_at_once():
    flood = next(w for w in watches(wet_bed()) if w.key.condition is Condition.FLOODED)
    assert (Statistic.RISE, 10.0, 0, Level.COMFORT) == (
        flood.statistic,
        flood.bound.value,
        flood.on_delay,
        flood.level,
    )


def test_a_flood_needs_no_limits_of_moisture():
    dry_rules = {Measures.TEMPERATURE: HEAT}
    assert [Condition.FLOODED] == [w.key.condition for w in watches(wet_bed(limits=dry_rules))]


@pytest.mark.parametrize("points", [(), (Point(2700, 12.0),)])
def test_a_moisture_probe_without_two_points_is_not_watched(points: tuple[Point, ...]):
    assert () == watches(wet_bed(damp("fig-damp", points)))


def test_a_quantity_without_a_probe_is_not_watched():
    assert {Measures.TEMPERATURE} == {w.measures for w in watches(bed(limits=CLIMATE))}


NARROWER = (
    replace(HEAT, low=bound(22)),
    replace(HEAT, deadband=0.5),
    replace(HEAT, comfort_delay=2 * HOUR),
    replace(HEAT, off_delay=2 * HOUR),
)


@pytest.mark.parametrize("limits", NARROWER)
def test_a_changed_limit_is_another_watch(limits: Limits):
    before = {w.name for w in watches(bed()) if w.key.condition is Condition.COLD and w.level is Level.COMFORT}
    after = {w.name for w in watches(bed(limits={Measures.TEMPERATURE: limits}))}
    assert not before & after


def test_another_source_for_the_same_number_is_the_same_watch():
    rewritten = replace(HEAT, low=replace(bound(21), source="another book", mark="settings"))
    after = {w.name for w in watches(bed(limits={Measures.TEMPERATURE: rewritten}))}
    assert {w.name for w in watches(bed())} == after


def test_every_watch_has_a_name_of_its_own():
    bin_ = bed(
        zone("west", thermometer("t"), damp("m")), zone("mat", role=Role.AT_THE_MAT), judge=JudgeBy.EVERY_ZONE
    )
    names = [w.name for w in watches(bin_)]
    assert len(set(names)) == len(names)


def test_the_same_rule_written_twice_is_watched_once():
    twice = replace(HEAT, harm=HEAT.harm + HEAT.harm)
    assert watches(bed()) == watches(bed(limits={Measures.TEMPERATURE: twice}))


def test_a_bin_made_ready_knows_who_feeds_what():
    ready = watch_over(
        bed(zone("west", thermometer("t"), damp("m")), zone("rim", thermometer("r"), role=Role.EDGE))
    )
    assert {"t": 1, "m": 3, "r": 0} == {probe: len(views) for probe, views in ready.by_probe.items()}
    assert ready.keys == {w.key for w in ready.watches}


def test_wet_waits_longer_when_comfort_is_told_later_still():
    slower = {Measures.MOISTURE: replace(WATER, comfort_delay=8 * HOUR)}
    assert [(Level.COMFORT, 78, 8 * HOUR)] == told(wet_bed(limits=slower), Condition.WET)
