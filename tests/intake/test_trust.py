"""How far a reading is to be trusted. Limits of the chip: DS18B20 data sheet, p. 1 [seen]; power-on value: Table 1
[seen]; −127: a microcontroller convention [memory]; all other numbers are proposals of ours.
"""

import pytest

from intake.probes import probe
from monitor.intake.quality import Trust, silence
from monitor.readings import HOUR, MINUTE, Measures, Quality, Reading
from monitor.rules import Unit

NOW = 1_790_000_000_000
BED = probe("bed")
AIR = probe("air", Measures.HUMIDITY, sends=Unit.HUMIDITY)
COUNTS = probe("damp", Measures.MOISTURE, sends=Unit.COUNTS, points=[(2700, 12), (1450, 80)])
BARE_COUNTS = probe("bare", Measures.MOISTURE, sends=Unit.COUNTS)
SCALE = probe("scale", Measures.MASS, sends=Unit.KILOGRAM)
PERCENT = probe("percent", Measures.MOISTURE, sends=Unit.PERCENT)


def judged(trust, of, *steps):
    """Qualities of (minutes after the start, value), each received when it was measured."""
    return [trust.judge(of, v, at=NOW + m * MINUTE, received_at=NOW + m * MINUTE) for m, v in steps]


def qualities(of, *steps):
    return [q.name for q in judged(Trust(), of, *steps)]


def first(of, value):
    return qualities(of, (0, value))[0]


# By itself


@pytest.mark.parametrize(
    ("value", "expected"),
    [(-55, "GOOD"), (125, "GOOD"), (-55.0625, "OUT_OF_RANGE"), (125.0625, "OUT_OF_RANGE"), (-127, "DISCONNECTED"),
     (127.9375, "OUT_OF_RANGE"), (-126.9375, "OUT_OF_RANGE"), (21, "GOOD"), (85, "POWER_ON"), (84.9375, "GOOD")],
)  # fmt: skip
def test_a_temperature_by_itself(value, expected):
    assert expected == first(BED, value)


@pytest.mark.parametrize(
    ("of", "value", "expected"),
    [
        (AIR, 0, "GOOD"), (AIR, 104.9, "GOOD"), (AIR, 105.1, "OUT_OF_RANGE"), (AIR, -5.1, "OUT_OF_RANGE"),
        (PERCENT, 100.5, "GOOD"), (PERCENT, 106, "OUT_OF_RANGE"), (PERCENT, -6, "OUT_OF_RANGE"),
        (COUNTS, 0, "GOOD"), (COUNTS, -1, "OUT_OF_RANGE"), (COUNTS, 65535, "GOOD"),
    ],
)  # fmt: skip
def test_humidity_and_moisture_by_themselves(of, value, expected):
    assert expected == first(of, value)


@pytest.mark.parametrize(
    ("value", "expected"), [(41.5, "GOOD"), (-0.3, "GOOD"), (-21, "OUT_OF_RANGE"), (3001, "OUT_OF_RANGE")]
)
def test_a_mass_by_itself(value, expected):
    assert expected == first(SCALE, value)


def test_a_mass_may_jump_and_stand_still_for_a_fortnight():
    """Food and water come at once, and a coarse scale shows what dries days late."""
    assert ["GOOD", "GOOD"] == qualities(SCALE, (0, 41.5), (5, 61.5))
    still = [(n * 24 * 60, 41.5) for n in range(16)]
    assert [*["GOOD"] * 15, "STUCK"] == qualities(SCALE, *still)


def test_85_degrees_is_good_beside_a_near_and_young_neighbour():
    assert ["GOOD", "GOOD"] == qualities(BED, (0, 84.9), (5, 85))
    assert ["GOOD", "POWER_ON"] == qualities(BED, (0, 84.9), (10, 85))
    assert ["GOOD", "POWER_ON"] == qualities(BED, (0, 74.9), (5, 85))
    assert ["GOOD", "POWER_ON", "POWER_ON"] == qualities(BED, (0, 21), (1, 85), (2, 85))


# Jumps


def test_a_bed_cannot_move_more_than_8_kelvin_between_readings_of_an_hour():
    assert ["GOOD", "GOOD"] == qualities(BED, (0, 21), (1, 29))
    assert ["GOOD", "JUMP"] == qualities(BED, (0, 21), (1, 29.1))
    assert ["GOOD", "JUMP"] == qualities(BED, (0, 21), (60, 12.9))


def test_after_a_longer_gap_it_may_have_moved_8_kelvin_an_hour():
    assert ["GOOD", "GOOD"] == qualities(BED, (0, 21), (120, 37))
    assert ["GOOD", "JUMP"] == qualities(BED, (0, 21), (119, 37))


def test_a_second_reading_that_agrees_makes_the_jump_the_truth():
    assert ["GOOD", "JUMP", "GOOD", "GOOD"] == qualities(BED, (0, 21), (1, 35), (2, 36), (3, 36))
    assert ["GOOD", "JUMP", "JUMP", "GOOD"] == qualities(BED, (0, 21), (1, 35), (2, 36.1), (3, 36.5))


def test_a_single_spike_is_a_jump_and_the_next_reading_good():
    assert ["GOOD", "JUMP", "GOOD"] == qualities(BED, (0, 21), (1, 40), (2, 21.5))


def test_a_fault_in_between_takes_the_second_readings_word_away():
    assert ["GOOD", "JUMP", "DISCONNECTED", "JUMP"] == qualities(BED, (0, 21), (1, 35), (2, -127), (3, 35))


def test_a_moisture_probe_that_dries_by_a_third_of_its_span_was_pulled_out():
    # span 2700 … 1450: 0.3 of it is 375 counts
    assert ["GOOD", "GOOD"] == qualities(COUNTS, (0, 1500), (1, 1874))
    assert ["GOOD", "JUMP"] == qualities(COUNTS, (0, 1500), (1, 1876))
    assert ["GOOD", "JUMP", "GOOD"] == qualities(COUNTS, (0, 1500), (1, 2600), (2, 2650))
    assert ["GOOD", "JUMP", "JUMP"] == qualities(COUNTS, (0, 1500), (1, 2600), (2, 2400))


def test_water_makes_a_moisture_probe_rise_at_once():
    assert ["GOOD", "GOOD"] == qualities(COUNTS, (0, 2600), (1, 1500))


def test_without_points_only_per_cent_has_a_span():
    assert ["GOOD", "JUMP"] == qualities(PERCENT, (0, 80), (1, 49))
    assert ["GOOD", "GOOD"] == qualities(PERCENT, (0, 80), (1, 51))
    assert ["GOOD", "GOOD"] == qualities(BARE_COUNTS, (0, 1500), (1, 2600))


def test_the_air_may_jump_in_humidity():
    assert ["GOOD", "GOOD"] == qualities(AIR, (0, 95), (1, 30))


# Stuck


@pytest.mark.parametrize(
    ("of", "value", "hours"), [(BED, 21, 48), (COUNTS, 2000, 6), (PERCENT, 70, 72), (AIR, 98.9, 48)]
)
def test_the_same_value_for_too_long_is_stuck(of, value, hours):
    steps = [(m, value) for m in range(0, hours * 60 + 61, 30)]
    found = qualities(of, *steps)
    assert ["GOOD"] * (2 * hours + 1) == found[: 2 * hours + 1]
    assert ["STUCK", "STUCK"] == found[2 * hours + 1 :]


def test_another_value_ends_it():
    steps = [(m, 21) for m in range(0, 49 * 60, 30)] + [(49 * 60, 21.0625), (49 * 60 + 30, 21)]
    assert ["STUCK", "GOOD", "GOOD"] == qualities(BED, *steps)[-3:]


def test_full_air_may_stand_still():
    assert {"GOOD"} == set(qualities(AIR, *[(m, 99) for m in range(0, 100 * 60, 60)]))


def test_a_fault_in_between_breaks_the_run():
    steps = (
        [(m, 21) for m in range(0, 47 * 60, 30)]
        + [(47 * 60, -127)]
        + [(m, 21) for m in range(48 * 60, 50 * 60, 30)]
    )
    assert "STUCK" not in qualities(BED, *steps)


# Time


def test_a_clock_may_run_ahead_by_ten_minutes():
    trust = Trust()
    assert Quality.GOOD == trust.judge(BED, 21, at=NOW + 10 * MINUTE, received_at=NOW)
    assert Quality.AHEAD == trust.judge(BED, 21, at=NOW + 10 * MINUTE + 1, received_at=NOW)


def test_a_reading_from_ahead_does_not_make_the_present_late():
    trust = Trust()
    trust.judge(BED, 60, at=NOW + 3 * HOUR, received_at=NOW)
    assert [Quality.GOOD, Quality.JUMP] == judged(trust, BED, (0, 21), (1, 60))


@pytest.mark.parametrize(
    ("every", "expected"),
    [(None, 45), (1 * MINUTE, 45), (15 * MINUTE, 45), (20 * MINUTE, 60), (6 * HOUR, 18 * 60)],
)
def test_silence_is_three_intervals_and_45_minutes_at_least(every, expected):
    assert expected * MINUTE == silence(every)
    of = probe(every=every)
    assert Quality.GOOD == Trust().judge(of, 21, at=NOW - expected * MINUTE, received_at=NOW)
    assert Quality.STALE == Trust().judge(of, 21, at=NOW - expected * MINUTE - 1, received_at=NOW)


def test_only_a_good_reading_can_be_stale():
    # check 40: a retained reading with its own time of two hours ago
    assert Quality.STALE == Trust().judge(BED, 21, at=NOW - 2 * HOUR, received_at=NOW)
    assert Quality.DISCONNECTED == Trust().judge(BED, -127, at=NOW - 2 * HOUR, received_at=NOW)


def test_a_stale_reading_is_a_good_neighbour_for_the_next():
    trust = Trust()
    trust.judge(BED, 21, at=NOW - 2 * HOUR, received_at=NOW)
    assert Quality.JUMP == trust.judge(BED, 38, at=NOW - 61 * MINUTE, received_at=NOW)


def test_retained_without_a_time_is_only_shown():
    trust = Trust()
    assert Quality.RETAINED == trust.judge(BED, 60, at=NOW, received_at=NOW, retained=True)
    assert [Quality.GOOD] == judged(trust, BED, (0, 21))


def test_what_is_not_newer_is_held_to_its_range_and_changes_nothing():
    trust = Trust()
    assert [Quality.GOOD] == judged(trust, BED, (10, 21))
    late = [(10, 35), (9, 35), (8, -127), (7, 85)]
    assert ["GOOD", "GOOD", "DISCONNECTED", "POWER_ON"] == [q.name for q in judged(trust, BED, *late)]
    assert [Quality.JUMP] == judged(trust, BED, (11, 35))


# After a restart


def stored(*steps, of="bed"):
    return [Reading(of, NOW + m * MINUTE, v, NOW + m * MINUTE, q) for m, v, q in steps]


@pytest.mark.parametrize(
    "steps",
    [
        [(0, 21), (1, 35), (2, 36), (3, 85), (4, 36)],
        [(0, 21), (1, 35), (2, 35.5)],
        [(0, 21), (1, -127), (2, 35), (3, 35)],
        [(m, 21) for m in range(0, 49 * 60, 30)],
    ],
    ids=["jumps", "truth", "fault", "stuck"],
)
def test_it_judges_as_if_it_had_never_been_away(steps):
    whole, cut = Trust(), len(steps) // 2
    expected = judged(whole, BED, *steps)
    again = Trust()
    again.prime("bed", stored(*[(m, v, q) for (m, v), q in zip(steps[:cut], expected[:cut], strict=True)]))
    assert expected[cut:] == judged(again, BED, *steps[cut:])


def test_a_run_longer_than_what_it_is_shown_can_be_told():
    trust = Trust()
    trust.prime("bed", stored((0, 21, Quality.GOOD)), unchanged_since=NOW - 48 * HOUR)
    assert [Quality.STUCK] == judged(trust, BED, (1, 21))


def test_nothing_stored_is_nothing_remembered():
    trust = Trust()
    trust.prime("bed", [])
    assert [Quality.GOOD] == judged(trust, BED, (0, 21))


def test_probes_do_not_know_of_each_other():
    trust = Trust()
    judged(trust, BED, (0, 21))
    assert [Quality.GOOD] == judged(trust, probe("other"), (1, 60))
