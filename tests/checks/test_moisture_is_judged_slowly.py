"""Dry by a day's median, wet after six hours, a flood at once; and never without the probe's own points.

Delays: the documented defaults (proposals). Counts: an invented probe that reads less the wetter it
is, as capacitive probes do.
"""

import pytest

from checks.beds import COUNTS, DAY, T0, WATER, Watching, bed, counts, damp, key, reading, thermometer, zone
from monitor.checks.bins import look
from monitor.checks.findings import Condition
from monitor.checks.values import day_median
from monitor.readings import HOUR, MINUTE, Measures, Millis
from monitor.rules import Level, Point

DRY, WET, FLOODED = Condition.DRY, Condition.WET, Condition.FLOODED
STEP = 15 * MINUTE
CLIMATE = {Measures.MOISTURE: WATER}


def damp_bed(*probes):
    return bed(zone("west", *(probes or (damp("fig-damp"),)), limits=CLIMATE), limits=CLIMATE)


def says(moisture, *, start: Millis = T0, step: Millis = STEP, probe: str = "fig-damp"):
    return [reading(probe, start + n * step, counts(m)) for n, m in enumerate(moisture)]


def hours(number: float) -> int:
    return int(number * HOUR / STEP)


def test_a_bed_is_dry_when_its_days_median_is():
    life = Watching(damp_bed()).live(says([68] * hours(16)))
    # the median is known after 12 h of the day, and comfort's delay is another hour
    assert [(13 * 60, DRY, Level.COMFORT)] == life.steps()


def test_half_a_day_of_data_is_asked_for_before_a_median_is_believed():
    assert [] == Watching(damp_bed()).live(says([40] * hours(12))).steps()


def test_hours_without_data_are_not_half_a_day():
    early, later = says([40] * hours(2)), says([40] * hours(9), start=T0 + 14 * HOUR)
    assert [] == Watching(damp_bed()).live(early + later).steps()


def test_a_dry_afternoon_is_not_a_dry_bed():
    day = [74] * hours(18) + [66] * hours(6)
    assert [] == Watching(damp_bed()).live(says(day * 4)).steps()


def test_the_newest_value_stands_beside_the_median():
    life = Watching(damp_bed()).live(says([68] * hours(16)))
    life.standing = {}  # so that it is said once more
    again = life.round(*says([72], start=T0 + 16 * HOUR)).findings
    evidence = again[0].evidence
    assert (68, 72) == (pytest.approx(evidence.value), pytest.approx(evidence.newest))
    assert "median of 24 h 68 % (now 72 %), at or below 70 % for 4 h, longer than 1 h" == evidence.arithmetic


def ended(life):
    """Hours after the first day at which a drought was over."""
    assert [(DRY, Level.COMFORT), (DRY, None)] == [(c, level) for _, c, level in life.steps() if c is DRY]
    return life.steps()[-1][0] / 60 - 24


def test_a_watered_bed_is_dry_no_more_once_the_water_has_settled():
    # a rise of 8 points at once: 4 h until it is believed, then the off-delay of an hour
    life = Watching(damp_bed()).live(says([68] * DAY_STEPS + [76] * hours(15)))
    assert 5 <= ended(life) <= 5.5


def test_a_bed_that_grows_moist_slowly_is_dry_no_more_when_half_its_day_was():
    slowly = [68 + n / hours(6) * 8 for n in range(hours(6))]
    life = Watching(damp_bed()).live(says([68] * DAY_STEPS + slowly + [76] * hours(15)))
    assert 12 <= ended(life) <= 17


def test_a_little_water_does_not_count_before_half_a_day():
    life = Watching(damp_bed()).live(says([69] * DAY_STEPS + [72.5] * hours(15)))
    assert 12 <= ended(life) <= 14


def test_a_bed_that_dries_again_within_hours_stays_dry():
    life = Watching(damp_bed()).live(says([68] * DAY_STEPS + [76] * hours(3.5) + [68] * hours(12)))
    assert [(DRY, Level.COMFORT)] == [(c, level) for _, c, level in life.steps() if c is DRY]


def test_nights_that_are_damper_than_the_days_do_not_end_a_drought_each_morning():
    night = [66 + 7 * min(n, hours(8) - n) / hours(4) for n in range(hours(8))]
    life = Watching(damp_bed()).live(says(([66] * hours(16) + night) * 4))
    assert [(DRY, Level.COMFORT)] == [(c, level) for _, c, level in life.steps() if c is DRY]


def test_what_water_brought_is_dry_again_by_its_own_median():
    life = Watching(damp_bed()).live(says([68] * DAY_STEPS + [76] * hours(15) + [68] * hours(16)))
    assert [Level.COMFORT, None, Level.COMFORT] == [level for _, c, level in life.steps() if c is DRY]


def test_after_a_restart_it_is_the_same():
    """The window that it is judged by is derived from stored readings (`from_history`)."""
    rows = says([68] * DAY_STEPS + [76] * hours(6))
    one, anew = Watching(damp_bed()).live(rows), Watching(damp_bed()).live(rows[: -hours(1)])
    anew.restart()
    anew.live(rows[-hours(1) :])
    assert one.steps() == anew.steps()


DAY_STEPS = hours(24)


def test_harm_of_drought_has_its_own_delay():
    life = Watching(damp_bed()).live(says([55] * hours(14)))
    assert [(12 * 60 + 30, DRY, Level.HARM)] == life.steps()


def test_a_bed_is_wet_after_six_hours():
    life = Watching(damp_bed()).live(says([79] * hours(8)))
    assert [(6 * 60, WET, Level.COMFORT)] == life.steps()


def test_a_watering_that_drains_within_six_hours_is_not_wet():
    life = Watching(damp_bed()).live(says([74] * 4 + [79] * hours(5.5) + [74] * hours(2)))
    assert [] == life.steps()


@pytest.mark.parametrize(("after", "flooded"), [(69.999, False), (70.001, True), (79, True)])
def test_ten_points_within_an_hour_are_a_flood_at_once(after: float, flooded: bool):
    life = Watching(damp_bed()).live(says([60, 60, 60, after]))
    assert flooded is (key(FLOODED) in life.standing)


RISING = (Point(0, 0.0), Point(100, 100.0))


@pytest.mark.parametrize("points", [COUNTS, RISING], ids=["falling", "rising"])
def test_the_whole_hour_counts_whichever_way_a_probe_reads(points: tuple[Point, ...]):
    sent = counts if points is COUNTS else float
    slow = [reading("fig-damp", T0 + n * STEP, sent(60 + 2.5001 * n)) for n in range(5)]
    life = Watching(damp_bed(damp("fig-damp", points))).live(slow)
    assert [(60, FLOODED, Level.COMFORT)] == life.steps()


def test_ten_points_in_more_than_an_hour_are_none():
    slow = [60 + 10 * n / 5 for n in range(6)]  # 10 points in 75 min, 8 in any hour
    assert {} == Watching(damp_bed()).live(says(slow)).standing


def test_the_rise_is_from_the_driest_moment_of_the_hour():
    life = Watching(damp_bed()).live(says([66, 62, 64, 68, 72]))
    assert [(60, FLOODED, Level.COMFORT)] == life.steps()
    assert (
        "moisture up by 10 points within 1 h (now 72 %), at or above 10 points" == life.said[0].evidence.arithmetic
    )


def test_a_flood_is_over_when_the_water_rises_no_more():
    life = Watching(damp_bed()).live(says([60, 60, 72] + [72] * hours(4)))
    # the dry value of minute 15 leaves the hour at minute 90, and the off-delay is another hour
    assert [(30, FLOODED, Level.COMFORT), (90 + 60, FLOODED, None)] == [
        (at, c, level) for at, c, level in life.steps() if c is FLOODED
    ]


def test_a_watering_of_one_zone_floods_no_bin_that_has_another():
    two = bed(zone("west", damp("fig-damp")), zone("east", damp("fig-east")), limits=CLIMATE)
    life = Watching(two)
    for n, (west, east) in enumerate([(60, 60), (75, 60), (75, 62)]):
        at = T0 + n * STEP
        life.round(reading("fig-damp", at, counts(west)), reading("fig-east", at, counts(east)))
    assert {} == life.standing


@pytest.mark.parametrize("points", [(), COUNTS[:1]])
def test_a_probe_without_two_points_is_never_dry_wet_or_flooded(points: tuple[Point, ...]):
    life = Watching(damp_bed(damp("fig-damp", points)))
    life.live(says([20] * DAY_STEPS + [95] * DAY_STEPS))
    assert ([], {}) == (life.steps(), life.phases)


def test_a_value_far_outside_the_points_is_not_judged():
    """The probe was lifted: it reads drier than its driest point by more than the margin."""
    life = Watching(damp_bed()).live([reading("fig-damp", T0 + n * STEP, 3500) for n in range(2 * DAY_STEPS)])
    assert ([], {}) == (life.steps(), life.phases)


def test_what_cannot_be_judged_ends_no_alarm():
    life = Watching(damp_bed()).live([reading("fig-damp", T0, 3500)])
    looked = look(
        life.watched, fresh=(), memory=life.memory, phases={}, standing={key(WET): Level.COMFORT}, now=T0
    )
    assert () == looked.findings


def test_what_cannot_be_judged_counts_as_a_gap():
    wet, lifted = says([79] * hours(4)), [reading("fig-damp", T0 + 4 * HOUR, 3500)]
    life = Watching(damp_bed()).live(wet + lifted + says([79] * hours(4), start=T0 + 4 * HOUR + STEP))
    assert WET not in {c for _, c, _ in life.steps()}


def test_a_silent_thermometer_does_not_stop_the_moisture_of_its_zone():
    life = Watching(damp_bed(thermometer("fig-west"), damp("fig-damp"))).live(says([79] * hours(8)))
    assert {key(WET)} == set(life.standing)


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ([1.0] * 24, None),  # 11.5 h
        ([1.0] * 25, 1.0),
        ([1.0] * 13 + [3.0] * 13, 2.0),
        ([5.0] * 60 + [1.0] * 40, 1.0),  # older than a day counts no more
    ],
)
def test_a_days_median_is_that_of_its_half_hours(values: list[float], expected: float | None):
    window = tuple((T0 + n * 30 * MINUTE, v) for n, v in enumerate(values))
    assert expected == day_median(window, window[-1][0], longest_gap=45 * MINUTE)
    assert day_median((), T0, longest_gap=DAY) is None
