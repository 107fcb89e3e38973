"""A new watch is given the past it would have had, so that a changed limit does not wait its delay anew."""

from dataclasses import replace

from checks.beds import DAY, HEAT, T0, WATER, Watching, bed, bound, counts, damp, every, key, reading, zone
from monitor.checks.bins import backfill, backfill_span
from monitor.checks.delays import PhaseName
from monitor.checks.findings import Condition
from monitor.checks.watches import watch_over
from monitor.readings import HOUR, MINUTE, Measures
from monitor.rules import Level

STEP = 30 * MINUTE
WARMER = {Measures.TEMPERATURE: replace(HEAT, low=bound(24))}


def changed(life: Watching, limits) -> Watching:
    """The same life under other limits, with what its new watches would know."""
    after = Watching(bed(limits=limits))
    after.memory, after.stored, after.rounds = life.memory, life.stored, life.rounds
    names = {w.name for w in after.watched.watches}
    after.phases = {name: phase for name, phase in life.phases.items() if name in names}
    after.phases |= backfill(
        after.watched, names - {w.name for w in life.watched.watches}, history=life.history(), memory=life.memory
    )
    return after


def test_a_raised_limit_is_broken_since_it_would_have_been():
    after = changed(Watching(bed()).live(every(STEP, [26, 23, 23, 23])), WARMER)
    after.round(*every(STEP, [23], start=T0 + 4 * STEP))
    assert {key(Condition.COLD): Level.COMFORT} == after.standing
    assert [T0 + STEP] == [f.since for f in after.said]


def test_it_needs_no_new_reading():
    after = changed(Watching(bed()).live(every(STEP, [26, 23, 23, 23])), WARMER)
    after.round(now=T0 + 3 * STEP)
    assert {key(Condition.COLD): Level.COMFORT} == after.standing


def test_a_delay_that_is_not_full_yet_goes_on():
    after = changed(Watching(bed()).live(every(STEP, [26, 26, 23])), WARMER)
    assert [PhaseName.PENDING] == [p.name for p in after.phases.values()]
    after.live(every(STEP, [23, 23], start=T0 + 3 * STEP))
    assert [T0 + 4 * STEP] == [f.at for f in after.said]


def test_other_watches_are_left_as_they_are():
    life = Watching(bed()).live(every(STEP, [12, 12]))
    after = changed(life, WARMER)
    assert life.phases.items() & after.phases.items() == {
        (n, p) for n, p in life.phases.items() if Level.HARM in n
    }


def test_a_limit_that_would_never_have_been_broken_has_no_phase():
    assert {} == changed(Watching(bed()).live(every(STEP, [26] * 9)), WARMER).phases


def test_readings_that_no_look_has_seen_are_left_to_the_next_one():
    life = Watching(bed()).live(every(STEP, [26, 23]))
    life.stored |= {(r.probe, r.at): r for r in every(STEP, [23] * 4, start=T0 + 2 * STEP)}
    assert [T0 + STEP] == [p.began for p in changed(life, WARMER).phases.values()]
    assert {PhaseName.PENDING} == {p.name for p in changed(life, WARMER).phases.values()}


def test_a_new_bin_with_a_past_is_judged_by_it():
    old = Watching(bed()).live(every(STEP, [12, 12]))
    ready = watch_over(bed())
    names = [w.name for w in ready.watches]
    assert old.phases == backfill(ready, names, history=old.history(), memory=old.memory)
    assert {} == backfill(ready, names, history=old.history(), memory={})


def test_a_median_needs_the_day_before():
    damp_bed = bed(zone("west", damp("fig-damp")), limits={Measures.MOISTURE: WATER})
    life = Watching(damp_bed).live([reading("fig-damp", T0 + n * STEP, counts(72)) for n in range(96)])
    drier = watch_over(replace(damp_bed, limits={Measures.MOISTURE: replace(WATER, low=bound(73))}))
    names = {w.name for w in drier.watches} - {w.name for w in life.watched.watches}
    phases = backfill(drier, names, history=life.history(), memory=life.memory)
    assert [PhaseName.PRESENT] == [p.name for p in phases.values()]
    assert DAY + 6 * HOUR == backfill_span(drier)
