"""What a handful of bedding does when it is squeezed, and how wet that may be. The printed values stand in fixtures/sources."""

from itertools import pairwise

import pytest

from monitor.rules import Bedding
from monitor.science.squeeze import BANDS, SAID, Feel, band
from monitor.science.water import wet_basis


@pytest.mark.parametrize("bedding", Bedding)
def test_every_bedding_has_a_band_for_every_feel_and_wetter_feels_wetter(bedding):
    bands = [band(feel, bedding) for feel in Feel]
    assert set(Feel) == set(BANDS[bedding]) == set(SAID)
    for low, high, source, mark in bands:
        assert 0 <= low < high <= 100
        assert source
        assert mark in {"common practice", "proposal", "seen-2nd"}
    for drier, wetter in pairwise(bands):
        assert drier.low < wetter.low
        assert drier.high < wetter.high


@pytest.mark.parametrize("bedding", Bedding)
def test_no_wetness_lies_between_two_feels(bedding):
    bands = [band(feel, bedding) for feel in Feel]
    assert all(wetter.low <= drier.high for drier, wetter in pairwise(bands))


@pytest.mark.parametrize("feel", Feel)
def test_bedding_nobody_knows_has_the_wider_band(feel):
    known, unknown = band(feel, Bedding.PAPER), band(feel, Bedding.MIXED)
    assert unknown.low <= known.low
    assert unknown.high >= known.high
    assert "proposal" == unknown.mark


def test_what_coir_holds_drips_later_than_what_paper_holds():
    for feel in list(Feel)[1:]:
        assert band(feel, Bedding.COIR).low > band(feel, Bedding.PAPER).low


def test_stuff_runs_when_it_holds_more_than_it_can():
    """Paper holds 3 to 4 g for each gram, coir 6 to 9 (common practice): what runs by itself is as wet as that, or wetter."""
    assert band(Feel.RUNS, Bedding.PAPER).low >= wet_basis(4)
    assert wet_basis(6) <= band(Feel.RUNS, Bedding.COIR).low < wet_basis(9)
