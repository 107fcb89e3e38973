"""What a scale under a bin says: by hand what the product reckons, what the diary explains, and what it refuses to say.

Arithmetic by hand throughout; the mass balance is that of NRAES-54 (seen as quoted).
"""

from dataclasses import replace

import pytest

from monitor.advice.dryness import Dryness
from monitor.advice.weighing import Scale, beside, follows, loss, unexplained, weighed
from monitor.diary import Deed, Entry
from monitor.readings import DAY, HOUR
from monitor.rules import Bedding, Units, Vessel
from monitor.science.squeeze import Feel, band
from parts import orchard
from parts.orchard import ms

NOW = ms("12:00")
FIG = replace(orchard.FIG, vessel=Vessel("tub", floor=0.3, drains=True))
QUARTERS = [n / 4 for n in range(80, -1, -1)]
"""Twenty days in quarters, as days ago."""


def entry(days, deed, amount=None, unit="kg"):
    at = NOW - round(days * DAY)
    return Entry(at, at, "ana", deed, "bin:fig", "", amount=amount, unit=unit if amount else "", number=1)


def weights(kg, *, a_day=0.1, steps=()):
    """Twenty days that end at `kg`, losing so much a day; `steps` are (days ago, kg) that came then."""
    return [
        (NOW - round(ago * DAY), kg + a_day * ago - sum(by for when, by in steps if ago > when))
        for ago in QUARTERS
    ]


def scale(weights_, *entries, **more):
    return Scale(FIG, weights_, sorted(entries, key=lambda e: e.at), NOW, "Europe/Lisbon", **more)


def test_it_says_what_the_bin_loses_a_day():
    one = weighed(scale(weights(40.0, a_day=0.12)))
    assert pytest.approx(0.12) == one.rate
    assert "By its scale it loses 0.12 kg a day, over 14 days" in one.lines[0]


def test_what_the_diary_put_in_is_taken_off():
    """2 kg of feed five days ago: the line through what is left is that of 0.1 kg a day all the same."""
    fed = entry(5.1, Deed.FED, 2.0)
    one = weighed(scale(weights(40.0, steps=[(5.1, 2.0)]), fed))
    assert pytest.approx(0.1, abs=1e-6) == one.rate
    assert not [line for line in one.lines if "diary tells of nothing" in line]


def test_a_step_that_nobody_wrote_down_is_said_and_nothing_is_reckoned_across_it():
    heavier = scale(weights(40.0, steps=[(5.1, 2.0)]))
    (step,) = unexplained(heavier)
    assert pytest.approx(2.0, abs=0.05) == step.by
    one = weighed(heavier)
    assert "rain, a leak" in one.lines[0]
    assert pytest.approx(0.1) == one.rate
    lighter = weighed(scale(weights(40.0, steps=[(5.1, -2.0)])))
    assert "leachate that ran off" in lighter.lines[0] and "vermistat diary fig drained" in lighter.lines[0]


def test_a_tenth_of_its_mass_at_once_is_a_flood():
    one = weighed(scale(weights(40.0, steps=[(5.1, 5.0)])))
    assert "that is a flood. Look under the bin" in one.lines[0]


def test_leachate_that_was_let_off_explains_what_is_gone():
    drained = entry(5.2, Deed.DRAINED, 3.0, "L")
    one = weighed(scale(weights(40.0, steps=[(5.1, -3.0)]), drained))
    assert pytest.approx(0.1, abs=1e-6) == one.rate
    assert not [line for line in one.lines if "diary tells of nothing" in line]


def test_of_a_watering_some_may_run_through():
    """5 L poured, 2 of them through the holes within the half day: neither step is anybody's riddle."""
    poured = entry(5.1, Deed.WATERED, 5.0, "L")
    assert [] == list(unexplained(scale(weights(40.0, steps=[(5.1, 5.0), (4.8, -2.0)]), poured)))


def test_a_step_too_young_leaves_no_loss_to_tell():
    one = weighed(scale(weights(40.0, steps=[(1.1, 3.0)])))
    assert one.rate is None
    assert ("the scale has not weighed it for 3 days yet since that step",) == one.lacks


def test_litres_come_straight_from_what_was_lost_since_it_was_watered():
    """Watered 10 days ago, settled half a day later; 9.5 days at 0.2 kg are 1.9 L, first a third, under 5 L/m² of 0.3 m²."""
    poured = entry(10.0, Deed.WATERED, 4.0, "L")
    one = weighed(scale(weights(40.0, a_day=0.2, steps=[(10.0, 4.0)]), poured))
    assert pytest.approx(1.9) == one.litres
    assert pytest.approx(1.9 / 3) == one.first
    assert any(
        "It has lost 1.9 L since it was last watered (41.90 kg then, 40.00 kg now" in line for line in one.lines
    )
    undrained = weighed(
        replace(
            scale(weights(40.0, a_day=0.2, steps=[(10.0, 4.0)]), poured), bed=replace(FIG, vessel=Vessel("tub"))
        )
    )
    assert pytest.approx(1.9 / 6) == undrained.first


def test_days_need_a_hand_that_said_how_wet_it_was():
    assert "vermistat squeeze" in weighed(scale(weights(40.0), low=70.0)).lacks[0]
    drops = band(Feel.DROPS, Bedding.MANURE)
    one = weighed(scale(weights(40.0), low=70.0, squeezed=(NOW - 3 * DAY, drops)))
    at_hand = 40.3
    for moisture, days in zip((drops.low, drops.high), one.days, strict=True):
        dry = at_hand * (1 - moisture / 100)
        now = 1 - dry / 40.0
        by_hand = max(0.0, 40.0 * (now - 0.70) / (1 - 0.70)) / 0.1
        assert pytest.approx(by_hand, rel=1e-6, abs=1e-6) == days
    assert any("dry matter stays" in line for line in one.lines)


def test_a_squeeze_long_ago_or_before_new_bedding_is_of_no_use():
    old = weighed(scale(weights(40.0), low=70.0, squeezed=(NOW - 40 * DAY, band(Feel.DROPS, Bedding.MANURE))))
    assert ("no squeeze lies near a weight of this scale: `vermistat squeeze`",) == old.lacks
    bedded = entry(2, Deed.BEDDING, 1.0)
    one = weighed(
        scale(weights(40.0), bedded, low=70.0, squeezed=(NOW - 3 * DAY, band(Feel.DROPS, Bedding.MANURE)))
    )
    assert ("bedding came or went since the last squeeze: squeeze again",) == one.lacks


def warm_days(kelvins):
    return [(NOW - round(ago * DAY), 20.0 + (kelvins if round(ago * 4) % 4 == 2 else 0.0)) for ago in QUARTERS]


def test_a_cell_that_follows_the_warmth_is_said_to():
    """0.05 kg for each K over a day's swing of 8 K."""
    warmth = warm_days(8.0)
    off = dict(warmth)
    drifting = scale([(at, kg + 0.05 * (off[at] - 20.0)) for at, kg in weights(40.0)], warmth=warmth)
    assert pytest.approx(0.05, abs=0.002) == follows(drifting)
    assert any(
        "follows the warmth" in line and "heavier when it is warm" in line for line in weighed(drifting).lines
    )
    assert not any("follows" in line for line in weighed(scale(weights(40.0), warmth=warmth)).lines)
    assert follows(scale(weights(40.0), warmth=warm_days(1.0))) is None


def test_three_days_are_needed_and_a_scale_without_a_word_says_so():
    assert loss(scale(weights(40.0)), weights(40.0)[-8:]) is None
    assert ("its scale says nothing",) == weighed(scale([])).lacks


def test_beside_a_probe_the_probe_goes_first_and_without_one_the_scale_speaks():
    poured = entry(10.0, Deed.WATERED, 4.0, "L")
    said = weighed(
        scale(
            weights(40.0, a_day=0.2, steps=[(10.0, 4.0)]),
            poured,
            low=60.0,
            squeezed=(NOW - DAY, band(Feel.DROPS, Bedding.MANURE)),
        )
    )
    blind = beside(Dryness("squeeze a handful", lacks=("no moisture probe speaks",)), said)
    assert blind.days is not None and blind.litres is not None
    assert "by its weight and the hand" in blind.words
    known = Dryness("in about a week it is at its dry limit of 70 %", 74.0, (7.0, 5.0, 9.0))
    assert known.days == beside(known, said).days
    assert known.words == beside(known, said).words


def test_us_keepers_read_pounds():
    one = weighed(scale(weights(40.0), units=Units.US))
    assert "it loses 0.22 lb a day" in one.lines[0]


def test_a_day_has_four_weights():
    assert 6 * HOUR == weights(40.0)[1][0] - weights(40.0)[0][0]
