"""From one version to the next: every limit that is another now, with where it comes from, and what came and went."""

from dataclasses import replace

from monitor.amendments import Amendment, amendments, came_and_went, outline
from monitor.names import Names
from monitor.readings import HOUR, MINUTE, Measures
from monitor.rules import Bound, Harm, Limits
from parts.orchard import FIG, PLUM, rules

HEAT, DAMP = Measures.TEMPERATURE, Measures.MOISTURE
OWN = "settings: bins.fig.limits.temperature.comfort"


def heat(limits: Limits, bed=FIG, zone=None):
    """The bin, or one of its zones, with these limits of temperature."""
    if zone is None:
        old = bed.limits[HEAT]
        zones = tuple(
            replace(z, limits={**z.limits, HEAT: limits}) if z.limits[HEAT] == old else z for z in bed.zones
        )
        return replace(bed, limits={**bed.limits, HEAT: limits}, zones=zones)
    zones = tuple(replace(z, limits={**z.limits, HEAT: limits}) if z.id == zone else z for z in bed.zones)
    return replace(bed, zones=zones)


def changed(bed, before=FIG, **more):
    return amendments(outline(rules(bins=(before, PLUM))), outline(rules(bins=(bed, PLUM))), **more)


OLD = FIG.limits[HEAT]


def test_the_same_rules_change_nothing():
    assert () == changed(FIG)


def test_a_changed_end_is_one_row_with_old_and_new_source_and_place_in_the_file():
    (row,) = changed(heat(replace(OLD, low=Bound(20.0, OWN, "settings"))), written={OWN: "vermistat.yaml:14"})
    assert Amendment(
        "fig", "", "temperature", "comfort from", 21.0, 20.0, "°C", OWN, "settings", "vermistat.yaml:14"
    ) == row  # fmt: skip


def test_a_limit_that_is_the_species_again_stands_nowhere_in_the_file():
    own = heat(replace(OLD, low=Bound(20.0, OWN, "settings")))
    (row,) = changed(FIG, before=own, written={OWN: "vermistat.yaml:14"})
    assert (20.0, 21.0, OLD.low.source, OLD.low.mark, "") == (row.old, row.new, row.source, row.mark, row.written)


def test_delays_and_the_deadband_are_limits_too():
    rows = changed(heat(replace(OLD, deadband=1.5, comfort_delay=2 * HOUR, off_delay=30 * MINUTE)))
    assert [
        ("deadband", OLD.deadband, 1.5, "K"), ("comfort delay", 3600.0, 7200.0, "s"), ("off delay", 3600.0, 1800.0, "s"),
    ] == [(r.limit, r.old, r.new, r.unit) for r in rows]  # fmt: skip


def test_a_harm_is_told_by_its_side_and_how_long_it_must_last():
    harm = (Harm(True, Bound(14.0, "x", "settings"), 4 * HOUR), Harm(False, Bound(33.0, "x", "settings"), 0))
    rows = {r.limit: (r.old, r.new) for r in changed(heat(replace(OLD, harm=harm)))}
    assert {
        "harm at or below, for 4 h": (15.0, 14.0),
        "harm at or below, at once": (12.0, None),
        "harm at or above, for 2 h": (32.0, None),
        "harm at or above, at once": (34.0, 33.0),
    } == rows


def test_a_band_that_is_taken_away_and_one_that_comes():
    none = replace(OLD, low=None, high=None)
    assert [(21.0, None), (29.0, None)] == [(r.old, r.new) for r in changed(heat(none))]
    assert [(None, 21.0), (None, 29.0)] == [(r.old, r.new) for r in changed(FIG, before=heat(none))]


def test_a_zone_is_told_where_it_has_limits_of_its_own_that_changed():
    own = heat(replace(OLD, high=Bound(27.0, "z", "settings")), zone="west")
    assert [("fig", "west", 29.0, 27.0)] == [(r.bin, r.zone, r.old, r.new) for r in changed(own)]
    assert [("fig", "west", 27.0, 29.0)] == [(r.bin, r.zone, r.old, r.new) for r in changed(FIG, before=own)]


def test_zones_that_only_follow_their_bin_are_not_told_again():
    rows = changed(heat(replace(OLD, high=Bound(27.0, "b", "settings"))))
    assert [("fig", "")] == [(r.bin, r.zone) for r in rows if r.limit == "comfort up to"]


def test_a_new_bin_and_one_that_is_gone_change_no_limit_and_are_told():
    before, after = outline(rules(bins=(FIG,), mats=())), outline(rules(bins=(PLUM,), mats=()))
    assert () == amendments(before, after)
    came, went = came_and_went(before, after)
    assert ("bin plum", "zone plum.near", "probe plum-near", "probe plum-near-damp") == came
    assert "bin fig" == went[0]


def test_what_only_has_another_id_neither_came_nor_went_and_its_limits_are_compared():
    pear = replace(heat(replace(OLD, low=Bound(20.0, OWN, "settings"))), id="pear")
    before, after = (
        outline(rules(bins=(FIG,), mats=())),
        outline(rules(bins=(pear,), mats=()), Names(bins={"fig": "pear"})),
    )
    assert ((), ()) == came_and_went(before, after)
    assert [("pear", 21.0, 20.0)] == [(r.bin, r.old, r.new) for r in amendments(before, after)]


def test_bins_of_one_climate_share_a_row():
    many = tuple(replace(PLUM, id=f"plum{n}", name=f"Plum {n}") for n in range(50))
    assert 1 == len(outline(rules(bins=many, mats=())).limits)
    assert DAMP in PLUM.limits
