"""A forecaster of the bench knows what a daemon would, its own past and its settings; nothing it says shows what is to come."""

import dataclasses

import numpy as np
import pytest

from bench.forecast import measured, ours, rooms, runs, seen
from bench.forecast.methods import SeenHour, Settings, hours_of, settings_of
from bench.forecast.scores import minima

HOURS, BEDS = 24 * 90, 3


def minima_told(run, until=HOURS):
    """(hours, zones) the minimum of the next 12 h as told at 18:00, NaN at all other hours."""
    told = np.full((len(run.probed.season), 2 * len(run.probed.handed)), np.nan)
    for bed, handed in enumerate(run.probed.handed):
        mind = ours.Bed(settings_of(handed))
        for number in range(until):
            said, _ = mind.hour(hours_of(handed, number), asked=number % 24 == measured.EVENING)
            told[number, 2 * bed : 2 * bed + 2] = [one.minimum for one in said]
    return told


@pytest.fixture(scope="module")
def winter():
    run = runs.run("greensboro", 11, beds=BEDS, hours=HOURS)
    return run, minima_told(run)


def handed_other_days(run):
    """The same beds, but the room's days are shuffled before they are handed over."""
    others = [dataclasses.replace(handed, room=rooms.shuffled(handed.room, 3)) for handed in run.probed.handed]
    return dataclasses.replace(run, probed=dataclasses.replace(run.probed, handed=tuple(others)))


def skill(run, points):
    """How much of the variance of a night's drop is foretold; 0 is no better than the mean drop."""
    at = np.flatnonzero(runs.zones(run)[0].counted & np.isfinite(points).all(axis=1))
    now = np.concatenate([handed.warmth for handed in run.probed.handed], axis=1)[at]
    came = np.stack([minima(zone.held, 12)[at] for zone in runs.zones(run)], axis=1) - now
    there = np.isfinite(came)
    wrong = points[at] - now - came
    return 1 - float(np.mean(wrong[there] ** 2) / np.var(came[there]))


def test_with_the_weathers_days_shuffled_the_skill_is_gone(winter):
    run, told = winter
    other = handed_other_days(run)
    shuffled = minima_told(other)
    usual, lost = (float(np.abs(measured.errors(run, points)).mean()) for points in (told, shuffled))
    assert lost > 1.5 * usual
    assert skill(run, told) > 0.05
    assert skill(run, shuffled) < 0


def test_what_was_told_of_one_night_says_nothing_of_another(winter):
    run, told = winter
    evenings = np.flatnonzero(np.isfinite(told).all(axis=1))
    elsewhere = np.full_like(told, np.nan)
    elsewhere[evenings] = told[np.random.default_rng(3).permutation(evenings)]
    assert float(np.abs(measured.errors(run, elsewhere)).mean()) > 4 * float(
        np.abs(measured.errors(run, told)).mean()
    )


def test_another_future_leaves_every_word_of_the_past_as_it_was(winter):
    run, told = winter
    later = 24 * 40
    changed = []
    for handed in run.probed.handed:
        fields = {name: getattr(handed, name).copy() for name in ("warmth", "lowest", "room", "duty")}
        for values in fields.values():
            values[later:] = 0.5
        changed.append(dataclasses.replace(handed, **fields))
    other = dataclasses.replace(run, probed=dataclasses.replace(run.probed, handed=tuple(changed)))
    again = minima_told(other, until=later)
    assert np.array_equal(told[:later], again[:later], equal_nan=True)


def test_nothing_of_what_a_bed_is_made_of_is_handed_over(winter):
    run, _ = winter
    known = {field.name for field in dataclasses.fields(Settings)} | {
        field.name for field in dataclasses.fields(SeenHour)
    }
    settings = {"limits", "mode", "setpoint", "timer", "watts", "kilograms", "loss"}
    assert known == settings | {"number", "warmth", "lowest", "room", "duty", "outside"}
    truth = run.beds.loss
    reckoned = np.array([handed.loss for handed in run.probed.handed])
    assert not np.isclose(truth, reckoned, rtol=1e-3).any()
    weighed = np.array([handed.kilograms for handed in run.probed.handed])
    assert not np.isclose(run.beds.mass, weighed, rtol=1e-4).all()


def test_an_outdoor_forecast_is_wrong_by_as_much_as_it_is_said_to_be():
    outside = 5 + 5 * np.sin(np.arange(24 * 365) / 24 * 2 * np.pi)
    told = seen.outdoor_forecast(outside, np.random.default_rng(4), 1.0)
    for ahead in (0, 6, 24):
        wrong = told[: 24 * 360, ahead] - outside[ahead : 24 * 360 + ahead]
        assert pytest.approx(1.0, abs=0.1) == wrong.std()
        assert pytest.approx(0.0, abs=0.1) == wrong.mean()
