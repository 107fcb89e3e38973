"""Offset and scale: applied where a value is judged, never where it is stored, so the past is judged with them too."""

from dataclasses import replace

from checks.beds import T0, Watching, bed, damp, every, key, thermometer, zone
from monitor.advice.present import present
from monitor.checks.bins import backfill
from monitor.checks.findings import Condition
from monitor.checks.memory import from_history
from monitor.checks.probes import look_at_probes, roll
from monitor.checks.watches import watch_over
from monitor.readings import MINUTE, Quality
from monitor.rules import Level, Point, Role
from parts import orchard

STEP = 30 * MINUTE
PLAIN = thermometer("fig-west")
COOLER = replace(PLAIN, offset=-0.9)
"""A probe that reads 0.9 K too warm."""


def fig(probe):
    return bed(zone("west", probe))


def names(watched):
    return {w.name for w in watch_over(watched).watches}


def test_a_corrected_value_meets_the_limit():
    assert {} == Watching(fig(PLAIN)).live(every(STEP, [21.5] * 5)).standing
    life = Watching(fig(COOLER)).live(every(STEP, [21.5] * 5))
    assert {key(Condition.COLD): Level.COMFORT} == life.standing
    assert [20.6] == [round(f.evidence.value, 9) for f in life.said]


def test_scale_goes_before_offset():
    probe = replace(PLAIN, scale=1.1, offset=-2.0)
    assert 20.0 == round(present(zone("west", probe), memory(probe, 20.0), T0).temperature, 9)


def memory(probe, value):
    return {probe.id: from_history(probe, every(STEP, [value], probe=probe.id))}


def test_memory_keeps_what_was_sent():
    assert 21.5 == memory(COOLER, 21.5)["fig-west"].value


def test_another_correction_is_another_watch_and_judges_the_stored_past_at_once():
    life = Watching(fig(PLAIN)).live(every(STEP, [23, 21.5, 21.5, 21.5]))
    assert {} == life.standing
    after = Watching(fig(COOLER))
    after.memory, after.stored, after.rounds = life.memory, life.stored, life.rounds
    assert not names(fig(PLAIN)) & names(fig(COOLER))
    after.phases = backfill(after.watched, names(fig(COOLER)), history=life.history(), memory=life.memory)
    after.round(now=T0 + 3 * STEP)
    assert {key(Condition.COLD): Level.COMFORT} == after.standing
    assert [T0 + STEP] == [f.since for f in after.said]


def test_the_correction_of_a_probe_that_no_watch_reads_changes_no_watch():
    apart = zone("mat", replace(thermometer("fig-mat"), offset=1.0))
    assert names(bed(zone("west"), zone("mat", thermometer("fig-mat")))) != names(bed(zone("west"), apart))
    edge = replace(apart, role=Role.EDGE)
    plain = replace(zone("mat", thermometer("fig-mat")), role=Role.EDGE)
    assert names(bed(zone("west"), plain)) == names(bed(zone("west"), edge))


def test_other_points_of_a_moisture_probe_are_another_watch_too():
    wetter = damp("fig-damp", (Point(2700, 12.0), Point(1450, 85.0)))
    mine = names(bed(zone("west", PLAIN, damp("fig-damp"))))
    other = names(bed(zone("west", PLAIN, wetter)))
    assert {n for n in mine if "/cold/" in n or "/hot/" in n} == mine & other


def test_watches_whose_probes_are_taken_as_they_speak_keep_their_names():
    assert [] == [name for name in names(fig(PLAIN)) if "read by" in name]
    assert [] == [name for name in names(fig(COOLER)) if "read by" not in name]


def test_what_is_said_of_a_probe_that_sticks_is_its_corrected_value():
    memory_ = replace(
        memory(COOLER, 21.5)[COOLER.id], heard=T0 + STEP, quality=Quality.STUCK, untrusted_since=T0 + STEP
    )
    over = watch_over(fig(COOLER))
    (finding,) = [
        f
        for f in look_at_probes(
            roll(replace(orchard.rules(), bins={"fig": over.bed}, places={}), [over]),
            memory={COOLER.id: memory_},
            now=T0 + STEP,
            listening_since=0,
            known_since={},
            standing=(),
        )
        if f.key.condition is Condition.STUCK
    ]
    assert "last good value 20.6" in finding.evidence.arithmetic
