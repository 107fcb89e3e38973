"""Two tubs of one's own bedding, weighed wet and dry: the moisture, what the scales leave open, and what is refused."""

import itertools
import random
from dataclasses import replace

import pytest

from monitor.errors import BadValue
from monitor.science.moisture import moisture_percent
from monitor.science.tubs import FEWEST, Tub, Weighed, points_of, settled

DRY = Tub(2700, Weighed(wet=500, dry=440))
WET = Tub(1450, Weighed(wet=600, dry=120))


class Probe:
    def __init__(self, tubs):
        self.calibration = tubs


def tub(counts, moisture):
    return Tub(counts, Weighed(wet=500, dry=500 - 5 * moisture))


def test_ten_grams_of_grass_that_dry_to_2_3_are_77_per_cent_water():
    # Richard & Trautmann, Cornell Composting, Calculating moisture content [seen]
    assert pytest.approx(77.0) == Weighed(wet=10, dry=2.3, step=0.1).moisture


def test_the_dish_is_taken_off_both_weights():
    assert pytest.approx(77.0) == Weighed(wet=260, dry=106, dish=60).moisture


def test_the_arithmetic_can_be_followed():
    assert "(600 − 120) / 600 = 80 %" == WET.weighed.arithmetic
    in_dish = Weighed(wet=780, dry=300, dish=180)
    assert "without the dish 600 g wet, 120 g dry; (600 − 120) / 600 = 80 %" == in_dish.arithmetic


@pytest.mark.parametrize("dish", [0.0, 180.0])
def test_what_the_scales_leave_open_holds_the_truth_and_no_more(dish):
    rolls = random.Random(11)
    for _ in range(200):
        wet = rolls.uniform(100, 600)
        one = Weighed(wet=wet + dish, dry=wet * rolls.uniform(0.15, 0.9) + dish, dish=dish, step=2)
        # each weight half a step off, in every combination: all worked out anew
        corners = [
            100 * ((one.wet + a) - (one.dry + b)) / ((one.wet + a) - (dish + c if dish else 0))
            for a, b, c in itertools.product((-1, 1), repeat=3)
        ]
        worst = max(abs(corner - one.moisture) for corner in corners)
        assert worst == pytest.approx(one.either_way, rel=0.05)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"wet": 120, "dry": 600}, "the wrong way round"),
        ({"dry": 600}, "24 hours at 105 °C"),
        ({"dry": 180, "dish": 180}, "the dish alone weighs 180 g"),
        ({"dry": 12}, "let it drain"),
        ({"wet": 60, "dry": 12, "step": 5}, "leaves 5 points open: weigh more of it"),
        ({"wet": 0, "dry": 0}, "weigh again"),
        ({"dish": -5}, "weigh again"),
        ({"step": 0}, "weigh again"),
        ({"wet": float("nan")}, "a number of grams"),
        ({"dry": float("inf")}, "a number of grams"),
    ],
)
def test_a_weighing_that_cannot_be_is_refused_with_what_to_do(more, said):
    with pytest.raises(BadValue, match=said):
        replace(WET.weighed, **more)


def test_the_tubs_come_back_from_dry_to_wet_and_can_be_calibrated_with():
    points = points_of([WET, DRY])
    assert (DRY, WET) == points
    assert (pytest.approx(46.0), True) == moisture_percent(Probe(points), 2075)


def test_a_probe_that_sends_more_when_wetter_is_as_welcome():
    assert [300, 800] == [one.counts for one in points_of([tub(800, 80), tub(300, 12)], in_air=100)]


@pytest.mark.parametrize(
    ("tubs", "said"),
    [
        ([], "one tub makes no line"),
        ([DRY], "one tub makes no line"),
        ([tub(2700, 70), tub(1450, 80)], "must differ by 20 points"),
        ([DRY, tub(1500, 77), WET], "leave one of the two tubs out"),
        ([DRY, tub(1300, 50), WET], "up and down"),
        ([DRY, tub(2700, 50), WET], "lie too near|up and down"),
        ([tub(1500, 12), WET], "too near to each other: push the probe in"),
        ([tub(1450, 12), WET], "too near to each other: push the probe in"),
        ([tub(0, 12), tub(0, 80)], "too near to each other: push the probe in"),
    ],
)
def test_tubs_that_make_no_line_are_refused_with_what_to_do(tubs, said):
    with pytest.raises(BadValue, match=said):
        points_of(tubs)


def test_seen_from_the_air_counts_the_wrong_way_round_are_found():
    swapped = [replace(DRY, counts=WET.counts), replace(WET, counts=DRY.counts)]
    assert 2 == len(points_of(swapped))  # without the air nobody can know
    with pytest.raises(BadValue, match="the wrong way round"):
        points_of(swapped, in_air=3100)
    assert (DRY, WET) == points_of([DRY, WET], in_air=3100)


def test_counts_are_a_number():
    with pytest.raises(BadValue, match="must be a number"):
        Tub(float("nan"), WET.weighed)


def test_counts_that_have_settled_are_their_median():
    assert 1450 == settled([1440, 1460, 1450, 1449, 1451])


def test_counts_that_still_move_or_are_too_few_are_waited_for():
    with pytest.raises(BadValue, match=f"only 4 of {FEWEST}"):
        settled([1450] * 4)
    with pytest.raises(BadValue, match="wait an hour"):
        settled([1450, 1460, 1470, 1500, 1540])
