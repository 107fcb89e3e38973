"""Wet and flooded beds: no water, the tray, the air, dry bedding by the balance of masses."""

from dataclasses import replace

import pytest

from monitor.advice.acts import Act
from monitor.checks.findings import Condition
from monitor.rules import Level, Remedy, Vessel
from parts.orchard import FIG, PLUM, Present, advise, alarm, rules

WET = alarm(13, "fig", Condition.WET, value=88.0)
NOW = {"fig.east": Present(24.0, moisture=88.0, spread=2.0)}


def of(*can, mats=(), **changes):
    return rules(bins=(replace(FIG, can=frozenset(can), **changes), PLUM), mats=mats)


def acts(advice):
    return [o.act for o in advice.orders]


def test_the_tray_is_emptied_the_cover_opened_and_dry_bedding_added():
    advice = advise([WET], NOW, of=of(Remedy.AIR))
    assert [Act.DRAIN, Act.AIR, Act.DRY] == acts(advice)
    assert "no more water" in advice.orders[0].why


def test_how_much_dry_bedding_follows_from_the_balance_of_masses():
    # D = m(A − T)/(T − M), two materials, Cornell Composting [seen]: 35 kg from 86 % (88 − 2) to 82 %, paper 8 %
    assert 1.892 == pytest.approx(35 * (0.86 - 0.82) / (0.82 - 0.08), abs=1e-3)
    order = advise([WET], NOW, of=of()).orders[-1]
    assert "fork in about 1.9 kg of dry bedding" == order.words
    assert any("35 kg at 88 ± 2 %, aim 82 %, bedding at 8 %" in line for line in order.more)


def test_without_a_mass_a_few_handfuls():
    order = advise([WET], NOW, of=of(bedding=None)).orders[-1]
    assert "fork in a few handfuls of dry bedding" == order.words


def test_dry_bedding_keeps_off_the_mat():
    order = advise([WET], NOW).orders[-1]
    assert "fork in about 1.9 kg of dry bedding, not over the mat" == order.words


def test_a_bin_without_drains_has_no_tray_to_empty():
    assert [Act.DRY] == acts(advise([WET], NOW, of=of(vessel=Vessel(drains=False))))


def test_a_flood_asks_where_the_water_came_from():
    flood = alarm(13, "fig", Condition.FLOODED, arithmetic="14 points in 1 h", value=14.0, bound=10.0)
    advice = advise([flood], NOW, of=of())
    assert "empty its tray, and see where the water came from" == advice.orders[0].words
    assert "14" in advice.orders[0].why


def test_a_wet_bed_that_is_cold_is_not_aired():
    cold = alarm(12, "fig", Condition.COLD)
    assert Act.AIR not in acts(advise([cold, WET], NOW, of=of(Remedy.AIR, Remedy.INSULATE)))


def test_wet_at_one_end_and_dry_at_the_other_is_evened_out():
    both = [alarm(12, "fig.east", Condition.WET, Level.HARM), alarm(13, "fig.west", Condition.DRY, Level.HARM)]
    advice = advise(both, NOW, of=of(Remedy.AIR))
    assert ["spread its wet end over its dry one"] == [o.words for o in advice.orders]
    assert any("Dry bedding dusts" in caution for caution in advice.orders[0].cautions)
