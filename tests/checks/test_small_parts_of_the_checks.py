"""Parts of the checks that nothing else holds by itself: each of these was once changed, and no test noticed."""

from types import SimpleNamespace

import pytest

from monitor.checks.evidence import _BEST
from monitor.checks.findings import AlarmKey, Condition, Kind, Subject
from monitor.checks.late import _told_by
from monitor.checks.memory import is_late
from monitor.checks.probes import _watched_again
from monitor.checks.squeezes import Squeeze, _Hand, _over
from monitor.readings import Measures, Quality, Reading
from monitor.rules import Bound, Limits
from monitor.science.squeeze import Band, Feel
from parts.orchard import FIG

SUBJECT = Subject(Kind.BIN, "fig", "shed")


def bound(value):
    return Bound(value, "here", "ours")


@pytest.mark.parametrize(
    ("low", "high", "below", "over"),
    [
        (64, 66, True, False),  # its middle lies on the limit: not inside
        (62, 66, True, False),
        (64, 67, True, True),
        (84, 86, False, False),
        (84, 88, False, False),
        (83, 86, False, True),
    ],
)
def test_a_squeeze_ends_an_alarm_only_when_the_middle_of_its_band_is_back_inside(low, high, below, over):
    hand = _Hand(FIG, SUBJECT, Limits(bound(65.0), bound(85.0)), {})
    key = AlarmKey(SUBJECT, Condition.DRY if below else Condition.WET)
    one, feel = Squeeze(1_000, next(iter(Feel)), "ana"), Band(low, high, "here", "ours")
    found = list(_over(hand, key, "east", one=one, feel=feel, below=below))
    assert [(key, None, 1_000)] * over == [(f.key, f.level, f.at) for f in found]


@pytest.mark.parametrize(
    ("at", "received", "quality", "late"),
    [
        (50, 99, Quality.EARLY, True),
        (50, 100, Quality.EARLY, False),  # several of one message speak for its arrival
        (50, 101, Quality.EARLY, False),
        (50, 101, Quality.GOOD, True),
        (100, 101, Quality.GOOD, True),
        (101, 102, Quality.GOOD, False),
        (50, 50, Quality.AHEAD, False),
    ],
)
def test_what_has_a_time_from_before_its_probe_knew_it_speaks_for_its_arrival(at, received, quality, late):
    one = Reading("fig-west", at, 20.0, received, quality)
    assert late is is_late(SimpleNamespace(last_at=100), one)


@pytest.mark.parametrize(("at", "told"), [(9, False), (10, True), (15, True), (20, True), (21, False)])
def test_an_episode_is_told_by_a_late_reading_within_it_both_ends_included(at, told):
    over = SimpleNamespace(
        seen=SimpleNamespace(view=SimpleNamespace(probes=(SimpleNamespace(id="fig-west"),))),
        course=SimpleNamespace(began=10),
        ended=20,
    )
    assert told is _told_by(over, watched=None, late=[Reading("fig-west", at, 20.0, at)])
    assert not _told_by(over, watched=None, late=[Reading("fig-east", at, 20.0, at)])
    assert not _told_by(over, watched=None, late=[Reading("fig-west", at, 20.0, at, Quality.STUCK)])


def test_a_bin_is_watched_again_from_the_newest_good_reading_on_also_beside_a_probe_that_never_had_one():
    kept = {
        "a": SimpleNamespace(trusted_at=None),
        "b": SimpleNamespace(trusted_at=70),
        "c": SimpleNamespace(trusted_at=60),
    }
    found = _watched_again(SimpleNamespace(subject=SUBJECT), kept, now=100)
    assert (70, "b has a good reading again") == (found.at, found.evidence.arithmetic)
    none = _watched_again(SimpleNamespace(subject=SUBJECT), {"a": kept["a"]}, now=100)
    assert (100, "no thermometer is awaited any more") == (none.at, none.evidence.arithmetic)


def test_a_worms_choice_has_a_word_for_either_end_of_either_quantity():
    words = {
        (m, below): _BEST[m, below] for m in (Measures.TEMPERATURE, Measures.MOISTURE) for below in (True, False)
    }
    assert ["warmest", "coolest", "wettest", "driest"] == list(words.values())
