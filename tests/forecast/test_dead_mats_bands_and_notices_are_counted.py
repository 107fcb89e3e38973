"""The rest of what the forecast bench counts: dead mats, bands, notices and wakes, on runs made for it."""

import dataclasses

import numpy as np
import pytest

from bench.forecast import measured, runs
from bench.forecast.methods import Issues

HOURS, BEDS = 24 * 60, 2


@pytest.fixture(scope="module")
def run():
    """Two beds whose mats are on all the time, the first dead from the 30th day for two days, and no lid open."""
    made = runs.run("newark", 5, beds=BEDS, hours=HOURS)
    dead = np.zeros((BEDS, HOURS), dtype=bool)
    dead[0, 720:768] = True
    beds = dataclasses.replace(made.beds, dead=dead, lid=np.zeros_like(dead))
    return dataclasses.replace(
        made, beds=beds, year=dataclasses.replace(made.year, beds=beds, duty=np.ones((HOURS, BEDS)))
    )


def silent(**changes):
    nothing = np.full((HOURS, 2), np.nan)
    return Issues(
        **(
            {
                "minimum": nothing,
                "chance": nothing,
                "low": nothing,
                "high": nothing,
                "dead": np.zeros(HOURS, dtype=bool),
                "seconds": 0.0,
                "asked": HOURS,
            }
            | changes
        )
    )


def dead_from(*hours):
    marked = np.zeros(HOURS, dtype=bool)
    for hour in hours:
        marked[hour : hour + 5] = True
    return silent(dead=marked)


def test_a_dead_mat_is_found_so_many_hours_after_it_was_called_on(run):
    assert (3.0,) == measured.mats([run], [[dead_from(722), silent()]]).delays
    assert 0 == measured.mats([run], [[dead_from(722), silent()]]).false


def test_a_dead_mat_that_is_said_too_late_was_not_found_and_one_that_lives_is_called_dead_falsely(run):
    late = measured.mats([run], [[dead_from(900), dead_from(1000)]])
    assert (float("inf"),) == late.delays
    assert 2 == late.false
    assert 0.0 == late.figures()["dead_mat_found"]
    assert pytest.approx(2 / (2 * (60 - 21) * 24 - 54) * 720, abs=5e-4) == late.figures()["dead_mat_false"]


def test_a_band_covers_what_the_probe_later_reads_or_does_not(run):
    wide = silent(low=np.full((HOURS, 2), -50.0), high=np.full((HOURS, 2), 50.0))
    beyond = silent(low=np.full((HOURS, 2), 60.0), high=np.full((HOURS, 2), 70.0))
    assert [1, 1, 0, 0] == measured.coverage(run, [wide, beyond]).tolist()


def cold_at(run, hour, long=6):
    """All zones one above their limits but the first, which is one below for some hours."""
    held = np.repeat(run.probed.limits[None] + 1.0, HOURS * 4, axis=0)
    held[hour * 4 : (hour + long) * 4, 0, 0] -= 2
    above = np.full((HOURS, 2 * BEDS), 1.0)
    above[hour : hour + long, 0] = -1
    return dataclasses.replace(run, probed=dataclasses.replace(run.probed, held=held)), above


def chances(*hours):
    told = np.zeros((HOURS, 2 * BEDS))
    told[list(hours), 0] = 0.9
    return told


def test_a_night_told_in_the_evening_wakes_nobody_and_its_lead_counts_from_that_notice(run):
    cold, above = cold_at(run, 24 * 50 + 3)
    noticed = measured.notices(cold, chances(24 * 49 + 18, 24 * 49 + 20), above)
    assert 0.0 == noticed.wakes
    assert [8.0] == list(noticed.leads)


def test_a_night_told_only_while_people_sleep_wakes_them_by_the_plain_limit(run):
    cold, above = cold_at(run, 24 * 50 + 3)
    noticed = measured.notices(cold, chances(24 * 49 + 23), above)
    assert noticed.wakes > 0
    assert [0.0] == list(noticed.leads)
    assert 0.0 == noticed.untold_h


def test_harm_that_neither_chance_nor_reading_tells_is_counted_as_untold(run):
    cold, _ = cold_at(run, 24 * 50 + 3)
    silence = np.full((HOURS, 2 * BEDS), 1.0)
    assert measured.notices(cold, chances(), silence).untold_h > 0
