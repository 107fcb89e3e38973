"""Warming and cooling besides the plugs: what `can` allows, and an honest word when it allows nothing."""

from dataclasses import replace

import pytest

from monitor.advice.acts import Act
from monitor.advice.heat import weight
from monitor.advice.water import _target
from monitor.checks.findings import Condition
from monitor.readings import Measures
from monitor.rules import Ability, Bound, Level, Limits, Remedy, Vessel
from monitor.science import worms
from monitor.science.water import after_pouring
from parts.orchard import FIG, PLUM, Present, advise, alarm, ms, now_at, rules

COLD = alarm(12, "fig", Condition.COLD)
FREEZING = alarm(12, "fig", Condition.COLD, Level.HARM)
NOW = now_at(fig_west=14.2, fig_east=14.8)


def of(bed, *can, mats=()):
    others = tuple(b for b in (FIG, PLUM) if b.id != bed.id)
    return rules(bins=(replace(bed, can=frozenset(can)), *others), mats=mats)


def acts(advice):
    return [o.act for o in advice.orders]


def test_harm_with_a_mat_asks_for_the_mat_and_for_blankets_clear_of_it():
    advice = advise([FREEZING], NOW)
    assert [Act.MAT_ON, Act.INSULATE] == acts(advice)
    assert "wrap it in blankets, none over its mat" == advice.orders[1].words


def test_comfort_with_a_mat_asks_for_the_mat_alone():
    assert [Act.MAT_ON] == acts(advise([COLD], NOW))


def test_without_a_mat_blankets_come_before_moving():
    shed = of(FIG, Remedy.INSULATE, Remedy.MOVE)
    assert [Act.INSULATE] == acts(advise([COLD], NOW, of=shed))
    assert [Act.INSULATE, Act.MOVE] == acts(advise([FREEZING], NOW, of=shed))


def test_blankets_are_not_laid_over_a_bed_that_is_colder_than_the_air():
    warm_air = {"fig.west": Present(14.2, air=18.0)}
    advice = advise([FREEZING], warm_air, of=of(FIG, Remedy.INSULATE, Remedy.MOVE))
    assert [Act.MOVE] == acts(advice)


def test_nothing_possible_is_said_so():
    advice = advise([FREEZING], NOW, of=of(FIG))
    assert [Act.LOOK] == acts(advice)
    order = advice.orders[0]
    assert "look and decide: nothing in its `can` helps" == order.words
    assert "no mat warms it" in order.why
    assert any(line.startswith("Think about: a listed mat") for line in order.more)


def test_a_bin_of_37_kg_is_moved_by_two_or_on_a_trolley():
    order = advise([FREEZING], NOW, of=of(FIG, Remedy.MOVE)).orders[0]
    assert "move it to a warmer place, two people or a trolley" == order.words
    assert any("it weighs about 37 kg; more than 15 kg is for two" in line for line in order.more)


def test_fifty_litres_of_wet_bedding_weigh_30_kg_and_are_for_two():
    # 50 L at 600 kg/m³ [common practice: 500 to 700 kg/m³] = 30 kg, beyond NIOSH's 23 kg [memory]
    tub = replace(FIG, bedding=None, worms=None, vessel=Vessel(floor=0.25, depth=0.2))
    assert 30.0 == pytest.approx(weight(tub))
    order = advise([FREEZING], NOW, of=of(tub, Remedy.MOVE)).orders[0]
    assert "two people or a trolley" in order.words


def test_a_small_box_is_moved_by_one():
    box = replace(FIG, bedding=8.0, worms=0.5)
    assert "move it to a warmer place" == advise([FREEZING], NOW, of=of(box, Remedy.MOVE)).orders[0].words


def test_nobody_lifts_alone_what_nobody_weighed():
    unknown = replace(FIG, bedding=None, vessel=Vessel())
    assert weight(unknown) is None
    assert "two people" in advise([FREEZING], NOW, of=of(unknown, Remedy.MOVE)).orders[0].words


def test_a_worm_of_temperate_lands_below_comfort_only_eats_less():
    # E. fetida breeds down to 4 °C: Edwards 2004, Earthworm Ecology, Table 18.3 [seen]
    advice = advise([alarm(12, "plum", Condition.COLD, value=8.0)], now_at(plum_near=8.0))
    assert [Act.FEED_LESS] == acts(advice)
    assert (Ability.FEED, None, False) == (advice.orders[0].needs, advice.orders[0].by, advice.orders[0].urgent)


def test_the_same_worm_in_harm_is_warmed():
    advice = advise([alarm(12, "plum", Condition.COLD, Level.HARM, value=0.5)], now_at(plum_near=0.5))
    assert Act.MAT_ON is advice.orders[0].act
    assert advice.orders[0].urgent


def test_heat_asks_for_shade_air_and_no_food():
    hot = alarm(13, "fig", Condition.HOT, Level.HARM)
    shed = of(FIG, Remedy.SHADE, Remedy.AIR, Remedy.MOVE)
    assert [Act.SHADE, Act.AIR, Act.MOVE, Act.FEED_LESS] == acts(advise([hot], now_at(fig_west=32.5), of=shed))


def test_air_that_is_warmer_than_the_bed_waits_for_the_night():
    hot = alarm(13, "fig", Condition.HOT, Level.HARM)
    shed = of(FIG, Remedy.AIR)
    warm = advise([hot], {"fig.west": Present(32.5, air=36.0)}, of=shed, at="14:00").orders[0]
    assert ("open its cover for the night", ms("20:00")) == (warm.words, warm.by)
    cool = advise([hot], {"fig.west": Present(32.5, air=20.0)}, of=shed, at="14:00").orders[0]
    assert ("open its cover", ms("14:00")) == (cool.words, cool.by)


def test_a_fan_only_over_a_damp_cover_and_only_in_dry_air():
    hot = alarm(13, "fig", Condition.HOT)
    dry = advise([hot], {"fig.west": Present(30.0, air=25.0, humidity=40.0)}, of=of(FIG, Remedy.AIR)).orders[0]
    damp = advise([hot], {"fig.west": Present(30.0, air=25.0, humidity=80.0)}, of=of(FIG, Remedy.AIR)).orders[0]
    assert any("a fan over a damp cover cools too" in line for line in dry.more)
    assert any(line.startswith("No fan") for line in damp.more)


def test_heat_with_nothing_possible_says_so_and_offers_wrapped_bottles_at_one_end():
    hot = alarm(13, "plum", Condition.HOT, Level.HARM)
    order = advise([hot], now_at(plum_near=32.0), of=of(PLUM)).orders[0]
    assert (Act.LOOK, "look and decide: nothing in its `can` helps") == (order.act, order.words)
    assert order.cautions[0].startswith("Frozen bottles only wrapped in cloth and at one end")
    assert any("Never flood a hot bed" in caution for caution in order.cautions)


def test_one_end_hot_and_the_other_cold_is_neither_wrapped_nor_aired_nor_moved():
    both = [alarm(12, "fig.west", Condition.HOT), alarm(13, "fig.east", Condition.COLD)]
    shed = of(FIG, *Remedy)
    assert [(Act.LOOK, "look: one end is hot, the other cold")] == [
        (o.act, o.words) for o in advise(both, now_at(fig_west=30, fig_east=19), of=shed).orders
    ]


def test_one_end_hot_and_the_other_merely_cool_for_a_temperate_worm_is_looked_at_too():
    both = [alarm(12, "plum", Condition.HOT), alarm(13, "plum.near", Condition.COLD)]
    advice = advise(both, now_at(plum_near=9.0), of=of(PLUM, *Remedy))
    assert [("look: one end is hot, the other cold", (12, 13))] == [(o.words, o.alarms) for o in advice.orders]


def test_the_chill_of_cold_water_in_the_cautions_is_what_the_balance_of_heat_gives():
    # 35 kg at 75 %: 121.3 kJ/K; 4 L: 16.7 kJ/K; (121.3·22 + 16.7·8)/138.0 = 20.3 [derived]
    assert 20.3 == pytest.approx(after_pouring(35.0, 22.0, litres=4.0, water=8.0), abs=0.05)


def test_one_end_is_wrapped_only_when_nothing_but_the_mats_own_side_is_hot():
    at_mat, west = alarm(12, "fig.mat", Condition.HOT), alarm(14, "fig.west", Condition.HOT)
    cold = alarm(13, "fig.east", Condition.COLD)
    shed = of(FIG, Remedy.INSULATE)
    known = now_at(fig_mat=33, fig_west=30, fig_east=19)
    words = "look: one end is hot, the other cold"
    wrapped = advise([at_mat, cold], known, of=shed)
    assert Act.INSULATE in acts(wrapped)
    assert words not in [o.words for o in wrapped.orders]
    looked = advise([at_mat, west, cold], known, of=shed)
    assert Act.INSULATE not in acts(looked)
    assert words in [o.words for o in looked.orders]


@pytest.mark.parametrize(
    ("low", "high", "species", "aims"),
    [
        (60.0, 80.0, (), (65.0, 75.0)),  # a quarter in from either side
        (60.0, None, (), (65.0, 75.0)),  # twenty points are taken where only one side is known
        (None, 80.0, (), (65.0, 75.0)),
        (None, None, (), (70.0, 80.0)),
        (60.0, 90.0, ("eudrilus-eugeniae",), None),  # what the worm is known to like
    ],
)
def test_water_aims_inside_comfort_on_the_side_it_comes_from(low, high, species, aims):
    bound = lambda value: None if value is None else Bound(value, "here", "ours")  # noqa: E731
    limits = {**FIG.limits, Measures.MOISTURE: Limits(bound(low), bound(high))}
    bed = replace(FIG, species=species, limits=limits)
    dry, wet = alarm(12, "fig", Condition.DRY), alarm(13, "fig", Condition.WET)
    liked = worms.species("eudrilus-eugeniae").target_moisture
    assert (aims or liked) == (_target(bed, dry, high=False), _target(bed, wet, high=True))
