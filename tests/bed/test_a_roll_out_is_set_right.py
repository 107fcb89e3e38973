"""What came after what was rolled out sets the next roll-outs right: weights, signs, and nothing before there was a word."""

import random

import numpy as np
import pytest

from monitor.bed import dressing as dressed
from monitor.bed import righting
from monitor.bed.dressing import Dressing
from monitor.readings import HOUR


def cases(count, weights, noise=0.2, seed=4):
    chance = np.random.default_rng(seed)
    signs = np.column_stack([np.ones(count), chance.normal(0, 0.5, (count, righting.MANY - 1))])
    return signs, signs @ weights + np.clip(chance.normal(0, noise, count), -0.5, 0.5)


def learned(signs, came):
    weights, spread = righting.NONE, righting.WIDE
    for one, error in zip(signs, came, strict=True):
        weights, spread = righting.taught(weights, spread, tuple(one), float(error))
    return weights, spread


def test_its_weights_are_those_of_least_squares_that_forget_and_begin_at_nothing():
    """The closed form, by numpy: each case weighs FORGETS a case less, and so does the beginning."""
    signs, came = cases(300, np.array([0.2, -0.1, 0.3, 0.1, 0.05]))
    count = len(came)
    weigh = righting.FORGETS ** np.arange(count - 1, -1, -1)
    begins = righting.FORGETS**count / righting.OPEN * np.eye(righting.MANY)
    expected = np.linalg.solve((signs.T * weigh) @ signs + begins, (signs.T * weigh) @ came)
    weights, spread = learned(signs, came)
    assert pytest.approx(expected, abs=1e-9) == list(weights)
    inverse = np.linalg.inv((signs.T * weigh) @ signs + begins)
    assert pytest.approx(inverse, abs=1e-9) == np.array(spread).reshape(righting.MANY, -1)


def test_it_finds_what_is_behind_the_errors():
    truth = np.array([0.3, -0.2, 0.0, 0.4, 0.0])
    assert pytest.approx(truth, abs=0.05) == list(learned(*cases(3000, truth))[0])


def test_one_surprise_moves_it_no_more_than_a_kelvin_would():
    huge, kelvin = (righting.taught(righting.NONE, righting.WIDE, (1.0, 0, 0, 0, 0), k)[0] for k in (40.0, 1.0))
    assert kelvin == huge
    assert 0 < kelvin[0] < 0.1


def test_what_never_moves_is_not_forgotten_without_end():
    """A bed in a room that stays as it is: all signs but the first are nothing, and their weights stay as open as at first."""
    spread = learned(np.tile([1.0, 0, 0, 0, 0], (20_000, 1)), np.zeros(20_000))[1]
    assert sum(spread[:: righting.MANY + 1]) <= righting.OPEN * righting.MANY


def told(now, ahead):
    return (now, None, None, now, *ahead, 1.0, *[0.0] * (righting.MANY - 1))


def test_signs_are_what_was_told_for_now_three_and_six_and_twelve_hours_ago():
    dressing, chance, words = Dressing(), random.Random(2), []
    for hour in range(1, 14):
        dressing = dressed.passed(dressing, hour * HOUR, (10.0, 11.0))
        words.append([chance.gauss(10, 1) for _ in righting.AGO])
        expected = [
            0.0 if hour - ago < 1 else 10.5 - words[hour - ago - 1][place]
            for place, ago in enumerate(righting.AGO)
        ]
        assert pytest.approx(expected) == dressed.signs(dressing, 10.5)
        dressing = dressed.issued(dressing, [told(10.0, words[-1])] * len(dressing.dresses))
    assert all(sign != 0 for sign in dressed.signs(dressed.passed(dressing, 14 * HOUR, None), 10.5))


def test_hours_in_which_nothing_was_told_are_no_sign():
    dressing = dressed.passed(Dressing(), HOUR, None)
    dressing = dressed.issued(dressing, [told(10.0, (10.0, 10.0, 10.0))] * len(dressing.dresses))
    dressing = dressed.passed(dressing, 4 * HOUR, None)
    assert [1.0, 0.0, 0.0] == dressed.signs(dressing, 11.0)
    assert [0.0, 0.0, 0.0] == dressed.signs(dressed.passed(dressing, 5 * HOUR, None), 11.0)


def test_a_record_learns_from_what_was_rolled_out_and_its_errors_from_what_was_set_right():
    """Rolled out 10 °C and told 9.5, it came to 9: the error is half a kelvin, what is learned a whole one."""
    dressing = dressed.passed(Dressing(), HOUR, None)
    word = (9.5, None, None, 10.0, 10.0, 10.0, 10.0, 1.0, 0.0, 0.0, 0.0, 0.0)
    dressing = dressed.issued(dressing, [word] * len(dressing.dresses))
    for hour in range(2, 15):
        dressing = dressed.passed(dressing, hour * HOUR, (9.0, 12.0))
    record = dressing.dresses[0]
    assert (-0.5,) == record.errors
    assert righting.taught(righting.NONE, righting.WIDE, word[dressed.SIGNS :], -1.0)[0] == record.weights
    assert dressing.dresses[1].weights == righting.NONE
