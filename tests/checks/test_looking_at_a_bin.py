"""Rounds of looks at a bin: who decides, what is said, what raises nothing.

Limits and delays are those of tests/checks/beds.py, built like the documented defaults (proposals).
"""

import pytest

from checks.beds import (
    CLIMATE,
    HEAT,
    ONLY_HARM,
    T0,
    Watching,
    bed,
    every,
    key,
    reading,
    thermometer,
    zone,
)
from monitor.checks.bins import look
from monitor.checks.findings import Condition
from monitor.checks.watches import watch_over
from monitor.readings import HOUR, MINUTE, Measures, Quality
from monitor.rules import JudgeBy, Level, Role

STEP = 30 * MINUTE
TWO = bed(zone("west"), zone("east"))
COLD, HOT = Condition.COLD, Condition.HOT
COMFORT, HARM = Level.COMFORT, Level.HARM


def both(west: list[float], east: list[float]):
    """Two zones that speak at the same moments."""
    pairs = zip(every(STEP, west), every(STEP, east, probe="fig-east"), strict=True)
    return [r for pair in pairs for r in pair]


def in_pairs(watching: Watching, readings) -> Watching:
    for n in range(0, len(readings), 2):
        watching.round(*readings[n : n + 2])
    return watching


def test_comfort_is_left_after_its_delay_and_entered_again_after_the_off_delay():
    life = Watching(bed()).live(every(STEP, [23, 20, 20, 20, 22, 22, 22]))
    assert [(90, COLD, COMFORT), (180, COLD, None)] == life.steps()
    assert [(30, 120)] == [((f.since - T0) // MINUTE, (g.since - T0) // MINUTE) for f, g in [life.said]]


def test_harm_comes_after_its_own_delay_and_goes_back_to_comfort():
    values = [20] * 3 + [15] * 9 + [17] * 3 + [22] * 3
    life = Watching(bed()).live(every(STEP, values))
    assert [
        (60, COLD, COMFORT),
        (90 + 240, COLD, HARM),
        (360 + 60, COLD, COMFORT),
        (450 + 60, COLD, None),
    ] == life.steps()


def test_harm_without_a_delay_is_said_at_the_next_look():
    life = Watching(bed()).live(every(STEP, [23, 12.0]))
    assert [(30, COLD, HARM)] == life.steps()


def test_under_refuge_the_warmest_zone_decides_about_cold():
    assert [] == in_pairs(Watching(TWO), both([15] * 4, [23] * 4)).steps()
    assert [(90, COLD, COMFORT)] == in_pairs(Watching(TWO), both([23, 20, 20, 20], [15] * 4)).steps()


def test_under_refuge_the_coolest_zone_decides_about_heat():
    assert [] == in_pairs(Watching(TWO), both([40] * 4, [25] * 4)).steps()
    life = in_pairs(Watching(TWO), both([40, 40], [25, 34]))
    assert [(30, HOT, HARM)] == life.steps()
    assert "east" == life.said[0].evidence.zone


def test_zones_on_either_side_of_comfort_are_no_alarm_while_one_can_be_lived_in():
    three = bed(zone("west"), zone("east"), zone("middle"))
    life = Watching(three)
    for n in range(6):
        at = T0 + n * STEP
        life.round(reading("fig-west", at, 10), reading("fig-east", at, 40), reading("fig-middle", at, 25))
    assert [] == life.steps()


def test_under_every_zone_each_is_judged_for_itself():
    apart = bed(zone("west"), zone("east"), judge=JudgeBy.EVERY_ZONE)
    life = in_pairs(Watching(apart), both([12], [23]))
    assert {key(COLD, "west"): HARM} == life.standing


def test_a_zone_at_the_mat_is_no_refuge_and_has_its_own_alarm():
    mat = zone("mat", role=Role.AT_THE_MAT)
    life = Watching(bed(zone("west"), mat))
    life.round(reading("fig-west", T0, 12), reading("fig-mat", T0, 34))
    assert {key(COLD): HARM, key(HOT, "mat"): HARM} == life.standing


def test_a_zone_is_the_median_of_its_probes():
    three = bed(zone("west", *(thermometer(t) for t in "abc")))
    life = Watching(three)
    life.round(reading("a", T0, 11), reading("b", T0, 20), reading("c", T0, 11.5))
    assert 11.5 == life.said[0].evidence.value
    two = Watching(three)
    two.round(reading("a", T0, 11), reading("b", T0, 14))  # the mean of two: 12.5
    assert {} == two.standing


def test_a_silent_zone_is_no_refuge():
    life = Watching(TWO)
    life.round(*both([23], [12]))
    assert {} == life.standing
    life.round(*every(STEP, [12, 12], probe="fig-east", start=T0 + STEP))  # west is 60 min old: over 45
    assert {key(COLD): HARM} == life.standing


@pytest.mark.parametrize("quality", [q for q in Quality if not q.trusted])
def test_an_untrusted_value_is_never_judged(quality: Quality):
    life = Watching(bed()).live([reading("fig-west", T0 + n * STEP, 5.0, quality) for n in range(12)])
    assert ([], {}) == (life.steps(), life.phases)


def test_an_untrusted_value_does_not_end_what_a_good_one_began():
    life = Watching(bed()).live(every(STEP, [12]))
    life.live([reading("fig-west", T0 + n * STEP, 25.0, Quality.JUMP) for n in range(1, 6)])
    assert {key(COLD): HARM} == life.standing


def test_a_delay_is_not_counted_across_a_gap():
    before = every(STEP, [20, 20])
    after = every(STEP, [20, 20, 20], start=T0 + 6 * HOUR)
    life = Watching(bed()).live(before + after)
    assert [(6 * 60 + 60, COLD, COMFORT)] == life.steps()


def test_what_was_there_before_a_gap_is_there_after_it():
    life = Watching(bed()).live(every(STEP, [12]) + every(STEP, [12], start=T0 + 10 * HOUR))
    assert [(0, COLD, HARM)] == life.steps()
    assert [T0] == [phase.began for phase in life.phases.values() if phase.present]


def test_an_off_delay_is_not_counted_across_a_gap():
    life = Watching(bed()).live(every(STEP, [20, 20, 20, 22]) + every(STEP, [22, 22, 22], start=T0 + 6 * HOUR))
    assert [(60, COLD, COMFORT), (6 * 60 + 60, COLD, None)] == life.steps()


def test_a_neighbour_bridges_the_gap_of_a_probe():
    """The bin was known all along: its other zone spoke."""
    west = [r for r in every(STEP, [20] * 9) if not T0 < r.at < T0 + 4 * HOUR]
    east = every(STEP, [20] * 9, probe="fig-east")
    life = Watching(TWO).live(sorted(west + east, key=lambda r: r.at))
    assert [(60, COLD, COMFORT)] == life.steps()


def test_old_readings_raise_nothing_and_are_told_as_past_when_they_are_over():
    life = Watching(bed())
    batch = every(STEP, [23, 11, 11, 22, 22, 22])
    looked = life.round(*batch, now=T0 + 12 * HOUR)
    assert () == looked.findings
    (past,) = looked.past
    assert (key(COLD), HARM, T0 + STEP, T0 + 3 * STEP) == (past.key, past.level, past.began, past.ended)
    assert (11, "west", "lowest 11 °C; at or below 12 °C for 1 h in all") == (
        past.evidence.value,
        past.evidence.zone,
        past.evidence.arithmetic,
    )


def test_old_readings_advance_the_phases_and_the_first_fresh_one_raises():
    life = Watching(bed())
    life.round(*every(STEP, [11, 11]), now=T0 + 12 * HOUR)
    assert [] == life.steps()
    assert life.phases
    life.round(*every(STEP, [11], start=T0 + 12 * HOUR))
    assert [(0, COLD, HARM)] == life.steps()
    assert [T0] == [f.since for f in life.said]


def test_a_value_is_fresh_until_the_silence_of_its_probe():
    for age, expected in ((45 * MINUTE, 1), (45 * MINUTE + 1, 0)):
        assert expected == len(Watching(bed()).round(reading("fig-west", T0, 11), now=T0 + age).findings)


def test_old_readings_end_no_alarm_either():
    life = Watching(bed()).live(every(STEP, [11]))
    life.round(*every(STEP, [22, 22, 22, 22], start=T0 + STEP), now=T0 + 12 * HOUR)
    assert {key(COLD): HARM} == life.standing
    life.round(*every(STEP, [23], start=T0 + 12 * HOUR))
    assert {} == life.standing


def test_an_episode_within_a_fresh_batch_is_past_too():
    looked = Watching(bed()).round(*every(STEP, [23, 12, 23, 23, 23]))
    assert () == looked.findings
    assert [(key(COLD), HARM)] == [(p.key, p.level) for p in looked.past]


def test_a_past_episode_is_told_at_its_worst():
    looked = Watching(bed()).round(*every(STEP, [23, 20, 20, 20, 12, 20, 20, 20, 20, 22, 22, 22]))
    assert [(HARM, T0 + STEP, T0 + 9 * STEP)] == [(p.level, p.began, p.ended) for p in looked.past]


def test_one_episode_may_end_and_the_next_begin_in_one_batch():
    life = Watching(bed(limits={Measures.TEMPERATURE: ONLY_HARM})).live(every(STEP, [12]))
    looked = life.round(*every(STEP, [14, 14, 14, 12, 14, 14, 14, 12], start=T0 + STEP))
    assert [(90, None), (240, HARM)] == [((f.at - T0) // MINUTE, f.level) for f in looked.findings]
    assert [(120, 150)] == [((p.began - T0) // MINUTE, (p.ended - T0) // MINUTE) for p in looked.past]


def test_a_late_reading_is_handed_back_and_judged_by_nobody():
    life = Watching(bed()).live(every(STEP, [23, 23, 23]))
    late = reading("fig-west", T0 + STEP + 1, 5.0)
    before = (life.memory, life.phases)
    looked = life.round(late, now=T0 + 2 * STEP)
    assert [late.at] == [r.at for r in looked.late]
    assert ({}, {}, ()) == (looked.memory, looked.phases, looked.findings)
    assert before == (life.memory, life.phases)


def test_a_second_value_of_the_same_moment_is_late():
    life = Watching(bed()).live(every(STEP, [23]))
    again = reading("fig-west", T0, 5.0)
    looked = look(life.watched, fresh=[again], memory=life.memory, phases={}, standing={}, now=T0)
    assert ((again,), {}, {}) == (looked.late, looked.memory, looked.phases)


def test_a_reading_of_a_neighbour_that_is_a_little_older_is_judged_with_the_newest():
    life = Watching(TWO)
    life.round(reading("fig-west", T0 + 10, 11))
    life.round(reading("fig-east", T0, 11))
    assert {key(COLD): HARM} == life.standing
    assert [T0 + 10] == [f.at for f in life.said]


def test_readings_of_one_moment_are_judged_together():
    """Were they judged one by one, east's old value would make the bin cold for no time at all."""
    life = Watching(TWO)
    life.round(*both([13], [11]))
    looked = life.round(reading("fig-west", T0 + STEP, 11), reading("fig-east", T0 + STEP, 13))
    assert ((), ()) == (looked.findings, looked.past)


def test_a_batch_out_of_order_is_judged_in_order():
    life = Watching(bed())
    life.round(*reversed(every(STEP, [20, 20, 20])))
    assert {key(COLD): COMFORT} == life.standing


@pytest.mark.parametrize("known", [{}, {key(COLD): COMFORT}])
def test_what_is_there_is_said_at_every_look_until_an_alarm_of_its_level_stands(known):
    life = Watching(bed()).live(every(STEP, [12]))
    life.standing = known
    again = every(STEP, [12] * 3, start=T0 + STEP)
    assert [HARM] == [f.level for f in life.round(again[0]).findings]
    assert [(), ()] == [life.round(one).findings for one in again[1:]]


def test_what_is_not_there_is_said_only_to_an_alarm():
    life = Watching(bed()).live(every(STEP, [23]))
    unasked = look(life.watched, fresh=(), memory=life.memory, phases={}, standing={}, now=T0 + STEP)
    assert () == unasked.findings


def test_an_alarm_whose_condition_is_gone_without_a_trace_is_ended():
    """Its watch may be new, or its phase lost: what is measured now decides."""
    life = Watching(bed()).live(every(STEP, [23]))
    looked = look(life.watched, fresh=(), memory=life.memory, phases={}, standing={key(COLD): HARM}, now=T0 + STEP)
    (finding,) = looked.findings
    assert (key(COLD), None, 23) == (finding.key, finding.level, finding.evidence.value)


def test_the_arithmetic_can_be_followed_by_hand():
    life = Watching(TWO)
    in_pairs(life, both([15] * 10, [14.25] * 10))
    evidence = life.said[-1].evidence
    assert (
        "warmest of 2 zones, west: 15 °C, at or below 15 °C for 4 h, longer than 4 h"
        == life.said[-1].evidence.arithmetic
    )
    assert (15, 15, "°C", 4 * HOUR, 4 * HOUR) == (
        evidence.value,
        evidence.bound,
        evidence.unit,
        evidence.lasting,
        evidence.held,
    )
    assert ("a book that says 15", "proposal") == (evidence.source, evidence.mark)
    assert (True, 16, "west", "fig-west", (("east", 14.25),)) == (
        evidence.below,
        evidence.clear_at,
        evidence.zone,
        evidence.probe,
        evidence.others,
    )


def test_the_arithmetic_of_an_end_names_the_end_of_the_deadband():
    life = Watching(bed()).live(every(STEP, [20, 20, 20, 22.5, 22.5, 22.5]))
    assert "22.5 °C, at or above 22 °C for 1 h" == life.said[-1].evidence.arithmetic


def test_of_two_harm_rules_the_one_that_was_there_first_is_told():
    life = Watching(bed()).live(every(STEP, [14] * 9 + [11.5]))
    assert 15 == life.said[-1].evidence.bound
    cold_at_once = Watching(bed()).live(every(STEP, [11.5]))
    assert 12 == cold_at_once.said[-1].evidence.bound


def test_a_bin_nobody_lives_in_says_nothing():
    life = Watching(bed(zone("rim", role=Role.EDGE))).live(every(STEP, [1, 1, 1], probe="fig-rim"))
    assert ([], {}) == (life.steps(), life.phases)
    assert 1 == life.memory["fig-rim"].value


def test_a_look_takes_only_its_own_of_what_is_remembered():
    ready = watch_over(bed())
    other = Watching(bed(zone("only", thermometer("plum-only")), id_="plum")).live(
        every(STEP, [11], probe="plum-only")
    )
    looked = look(
        ready,
        fresh=every(STEP, [23]),
        memory=other.memory,
        phases=other.phases,
        standing=other.standing,
        now=T0,
    )
    assert ({"fig-west"}, {}, ()) == (set(looked.memory), looked.phases, looked.findings)


def test_limits_of_one_quantity_do_not_judge_the_other():
    assert Measures.MOISTURE in CLIMATE
    life = Watching(bed()).live(every(STEP, [HEAT.low.value + 1] * 4))
    assert [] == life.steps()
