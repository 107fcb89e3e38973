"""Self-heating after a feed by the kind of vessel, a mat that is warm unasked, a bed that loses faster; and what each lacks."""

from dataclasses import replace

import pytest

from monitor.advice.unusual import Felt, unusual
from monitor.bed.mats import DEAD, HOT_WHILE_OFF, LOSING, WEAK, Watch
from monitor.bed.shifted import Shifted
from monitor.diary import Deed, Entry
from monitor.readings import DAY
from monitor.rules import Vessel
from parts import orchard
from parts.orchard import ms

NOW = ms("12:00")


def fed(days):
    at = NOW - round(days * DAY)
    return Entry(at, at, "ana", Deed.FED, "bin:fig", "", number=1)


def felt(kind="tub", *, before=2.0, since=2.0, days=2, **more):
    above = [(NOW - n * DAY, since if n <= days else before) for n in range(10, 0, -1)]
    what = {"watches": {}, "entries": [fed(days)], "above": above}
    return Felt(bed=replace(orchard.FIG, vessel=Vessel(kind)), at=NOW, tz="Europe/Lisbon", **(what | more))


@pytest.mark.parametrize(
    ("kind", "kelvins", "told"),
    [
        ("tub", 2.9, False), ("tub", 3.1, True), ("barrel", 4.9, False), ("barrel", 5.1, True),
        ("windrow", 11.9, False), ("windrow", 12.1, True),
    ],
)  # fmt: skip
def test_food_that_heats_is_told_by_the_kind_of_vessel(kind, kelvins, told):
    one = unusual(felt(kind, since=2.0 + kelvins))
    assert told == any("Its food seems to heat: spread it thinner" in line for line in one.lines)
    assert () == one.lacks


def test_warmth_long_after_a_feed_is_not_put_down_to_it():
    assert () == unusual(felt(since=12.0, days=6)).lines


@pytest.mark.parametrize(
    ("more", "lacks"),
    [
        ({"mat": True}, ["its mat is on, so warmth is not put down to food"]),
        (
            {"mat": None},
            [
                "nobody says whether its mat is on, so one that is dead, weak or on unasked is not seen",
                "its mat may be on, nobody says, so warmth is not put down to food",
            ],
        ),
        (
            {"above": []},
            [
                "no thermometer stands in its air, so neither a loss of heat nor a mat that is dead, weak or on unasked is seen",
                "without its air's warmth nothing is put down to food",
            ],
        ),
        (
            {"above": [(NOW - DAY, 9.0)]},
            ["too little is known of the days before it was fed, so warmth is not put down to food"],
        ),
        (
            {"lone": {"fig-west": None, "fig-east": Shifted(0.5, 3.0, 6.0)}, "days": 6},
            [
                "fig-west has none to be compared with, and too few days of three months are known on which no mat was on, so a"
                " drift is not seen",
            ],
        ),
        (
            {"lone": {"fig-west": None}, "days": 6, "above": []},
            [
                "no thermometer stands in its air, so neither a loss of heat nor a mat that is dead, weak or on unasked is seen",
                "fig-west has none to be compared with, nor one in its air, so a drift is not seen",
            ],
        ),
    ],
)
def test_what_it_lacks_is_said_instead_of_guessed(more, lacks):
    one = unusual(felt(since=12.0, **more))
    assert ((), tuple(lacks)) == (one.lines, one.lacks)


@pytest.mark.parametrize(
    ("kelvins", "said"),
    [
        (4.2, "reads 4.2 °C more than its bed made of its air"), (-4.2, "reads 4.2 °C less than its bed made of its air"),
        (2.9, None),
    ],
)  # fmt: skip
def test_a_thermometer_alone_that_left_its_bed_is_told_softly(kelvins, said):
    one = unusual(felt(days=6, lone={"fig-west": Shifted(kelvins, 3.0, 6.0)}))
    assert [] == [line for line in one.lacks if "drift" in line]
    assert ([] if said is None else [True]) == [line.startswith(f"fig-west {said}") for line in one.lines]
    assert all("it drifts, or the thermometer in the air does" in line for line in one.lines)


def test_a_mat_on_unasked_and_a_bed_that_loses_faster_are_told_softly():
    watches = {"west": Watch(warm_off=HOT_WHILE_OFF + 0.1), "east": Watch(losing=LOSING + 0.1)}
    mat, lid = unusual(felt(watches=watches)).lines
    assert mat.startswith("west warms as if its mat were on") and "may be stuck" in mat
    assert lid.startswith("east seems to lose heat faster than usual")


def test_at_their_thresholds_nothing_is_told_and_what_has_not_learned_is_said():
    quiet = Watch(warm_off=HOT_WHILE_OFF, losing=LOSING, dead=DEAD, weak=WEAK)
    one = unusual(felt(watches={"west": quiet, "east": None}))
    assert () == one.lines
    assert ("east has learned nothing of its heat yet, so what is usual is not known",) == one.lacks


def test_a_mat_of_which_only_half_is_felt_is_said_softly_and_a_dead_one_is_an_alarm_instead():
    (half,) = unusual(felt(watches={"west": Watch(weak=WEAK + 0.1)})).lines
    assert half.startswith("west seems to feel only about half of its mat: look at all of it")
    assert () == unusual(felt(watches={"west": Watch(weak=WEAK + 0.1, dead=DEAD + 0.1)})).lines
