"""Two squeezes far enough apart, beside what the probe sent, are two calibration points with a hand's uncertainty."""

from datetime import date

import pytest

from monitor.rules import Bedding
from monitor.science.moisture import moisture_percent
from monitor.science.points import Felt, proposed
from monitor.science.squeeze import Feel, band

DAY = date(2026, 11, 20)


def felt(counts, feel, bedding=Bedding.PAPER, day=DAY):
    return Felt(counts, feel, band(feel, bedding), day)


def test_dry_and_wet_are_the_middles_of_their_bands():
    dry, wet = proposed([felt(2300, Feel.BREAKS), felt(1600, Feel.DROPS)])
    assert (2300, 55, 5) == dry[:3]
    assert (1600, 75, 5) == wet[:3]


def test_the_two_that_lie_furthest_apart_are_taken():
    points = proposed([felt(2300, Feel.BREAKS), felt(1950, Feel.HOLDS), felt(1600, Feel.DROPS)])
    assert [2300, 1600] == [p.counts for p in points]


def test_several_handfuls_of_one_feel_count_by_their_median():
    points = proposed([felt(c, Feel.BREAKS) for c in (2280, 2300, 2900)] + [felt(1600, Feel.DROPS)])
    assert (2300, 3) == (points[0].counts, points[0].hands)


@pytest.mark.parametrize(
    "hands",
    [
        [],
        [felt(2300, Feel.BREAKS)],
        [felt(2300, Feel.BREAKS), felt(1600, Feel.BREAKS)],
        [felt(1700, Feel.BREAKS), felt(1600, Feel.DROPS)],  # counts that lie too near
        [felt(0, Feel.BREAKS), felt(0, Feel.DROPS)],
        [felt(2300, Feel.BREAKS, Bedding.MIXED), felt(1600, Feel.HOLDS, Bedding.MIXED)],  # bands that overlap
    ],
)
def test_otherwise_there_are_none(hands):
    assert proposed(hands) is None


def test_what_is_proposed_can_be_calibrated_with():
    points = proposed([felt(2300, Feel.BREAKS), felt(1600, Feel.DROPS)])

    class Probe:
        calibration = points

    assert (65, True) == moisture_percent(Probe(), 1950)
