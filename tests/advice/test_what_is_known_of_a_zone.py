"""Present: medians of fresh, trusted probes, wet-basis moisture by the keeper's own points, and the air around."""

from dataclasses import replace

import pytest

from monitor.advice.present import MOISTURE_SPREAD, UNKNOWN, present
from monitor.checks.memory import nothing_of, remember
from monitor.readings import MINUTE, Quality, Reading
from parts.orchard import FIG, SHED, ms, probe

EAST = FIG.zones[2]


def heard(*readings):
    memory = {}
    probes = {p.id: p for p in (*SHED.probes, *(p for z in FIG.zones for p in z.probes), probe("fig-second"))}
    for reading in readings:
        memory[reading.probe] = remember(memory.get(reading.probe, nothing_of(probes[reading.probe])), reading)
    return memory


def said(name, value, at="10:00", quality=Quality.GOOD):
    return Reading(name, ms(at), value, ms(at), quality)


def test_nothing_heard_is_nothing_known():
    assert UNKNOWN == present(EAST, {}, ms("10:00"))


def test_a_fresh_value_is_known_with_its_age():
    known = present(EAST, heard(said("fig-east", 21.5)), ms("10:07"))
    assert (21.5, 7 * MINUTE, None) == (known.temperature, known.temperature_age, known.moisture)


def test_a_value_older_than_its_probes_silence_is_not_known():
    assert UNKNOWN == present(EAST, heard(said("fig-east", 21.5)), ms("10:46"))  # silent after 45 min


def test_a_value_that_is_not_trusted_is_not_known():
    assert UNKNOWN == present(EAST, heard(said("fig-east", 85.0, quality=Quality.POWER_ON)), ms("10:00"))


def test_moisture_goes_through_the_keepers_points():
    # 12 % at 2700 and 80 % at 1450 counts, linear between: 2075 counts lie halfway at 46 % [derived]
    known = present(EAST, heard(said("fig-east-damp", 2075)), ms("10:00"))
    assert 46.0 == pytest.approx(known.moisture)
    assert MOISTURE_SPREAD == known.spread


def test_of_two_probes_the_median_counts_and_the_older_age():
    zone = replace(EAST, probes=(*EAST.probes, probe("fig-second")))
    known = present(zone, heard(said("fig-east", 21.0, "09:50"), said("fig-second", 22.0)), ms("10:00"))
    assert (21.5, 10 * MINUTE) == (known.temperature, known.temperature_age)


def test_the_air_of_the_place_comes_with_it():
    known = present(EAST, heard(said("shed-air", 8.0), said("shed-damp", 55.0)), ms("10:00"), place=SHED)
    assert (8.0, 55.0, None) == (known.air, known.humidity, known.temperature)
