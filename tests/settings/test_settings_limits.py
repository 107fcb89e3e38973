"""Which limit holds where, what it is a bound of, and where it comes from."""

from dataclasses import replace
from datetime import date

import pytest

from monitor.errors import SettingsError
from monitor.readings import HOUR, MINUTE, Measures
from monitor.rules import HARM_DELAY, Bound, Harm, Limits, Role
from monitor.science.worms import names, narrowest, species
from monitor.settings import load

TODAY = date(2026, 11, 25)
TEMPERATURE, MOISTURE = Measures.TEMPERATURE, Measures.MOISTURE


@pytest.fixture
def read(tmp_path):
    """Rules of one bin `fig` with a living zone `west` and a zone `mat`; more is written in at three places."""

    def reading(kind="eisenia-fetida", *, site="", bed="", zone="", mat="", more=""):
        file = tmp_path / "s.yaml"
        file.write_text(
            f"site: {{id: orchard{site}}}\n"
            "bins:\n"
            f"  fig:\n    species: {kind}\n{bed}"
            "    zones:\n"
            f"      west: {{probes: {{w: {{measures: temperature, topic: w}}}}{zone}}}\n"
            f"      mat: {{role: at-the-mat, probes: {{m: {{measures: temperature, topic: m}}}}{mat}}}\n" + more
        )
        return load([file], environ={}, today=TODAY).rules

    return reading


def ends(limits):
    return tuple(None if bound is None else bound.value for bound in (limits.low, limits.high))


def harms(limits):
    return [(harm.below, harm.bound.value, harm.lasting) for harm in limits.harm]


@pytest.mark.parametrize("kind", names())
def test_without_a_word_from_the_keeper_the_species_own_limits_hold(kind, read):
    fig = read(kind).bins["fig"]
    assert species(kind).temperature == fig.limits[TEMPERATURE]
    assert species(kind).moisture == fig.limits[MOISTURE]
    assert fig.limits == fig.zones[0].limits


# Proposals of ours: deadband 0.5 °C and 3 points, delays of an hour.
@pytest.mark.parametrize("kind", names())
def test_the_usual_deadbands_and_delays(kind, read):
    limits = read(kind).bins["fig"].limits
    assert (0.5, 3.0) == (limits[TEMPERATURE].deadband, limits[MOISTURE].deadband)
    assert {(HOUR, HOUR)} == {(each.comfort_delay, each.off_delay) for each in limits.values()}


def test_where_a_mat_works_the_deadband_is_one_degree_in_the_whole_bin_and_only_there(read):
    mats = "mats: {long-mat: {warms: fig.west}}\n"
    fig = read(more=mats).bins["fig"]
    assert {1.0} == {zone.limits[TEMPERATURE].deadband for zone in fig.zones} | {fig.limits[TEMPERATURE].deadband}
    assert 3.0 == fig.limits[MOISTURE].deadband
    own = "    limits: {temperature: {deadband: 0.7 °C}}\n"
    assert 0.7 == read(bed=own, more=mats).bins["fig"].limits[TEMPERATURE].deadband


def test_several_species_live_by_the_narrowest_band(read):
    both = [species("eisenia-fetida"), species("perionyx-excavatus")]
    limits = read("[eisenia-fetida, perionyx-excavatus]").bins["fig"].limits
    assert narrowest(both).temperature == limits[TEMPERATURE]
    assert narrowest(both).moisture == limits[MOISTURE]
    assert (18, 28) == ends(limits[TEMPERATURE])


def test_site_then_bin_then_zone_each_over_the_one_before(read):
    site = ", limits: {temperature: {comfort: 12..26 °C, off_delay: 90 min, comfort_delay: 30 min}}"
    bed = "    limits: {temperature: {comfort: 14..24 °C, comfort_delay: 45 min}}\n"
    zone = ", limits: {temperature: {comfort: 16..22 °C}}"
    assert (12, 26) == ends(read(site=site).bins["fig"].limits[TEMPERATURE])
    assert (14, 24) == ends(read(site=site, bed=bed).bins["fig"].limits[TEMPERATURE])
    fig = read(site=site, bed=bed, zone=zone).bins["fig"]
    assert (14, 24) == ends(fig.limits[TEMPERATURE])
    west = fig.zones[0].limits[TEMPERATURE]
    assert ((16, 22), 45 * MINUTE, 90 * MINUTE) == (ends(west), west.comfort_delay, west.off_delay)


def test_a_bound_says_who_wrote_it_and_where(read):
    zone = ", limits: {temperature: {comfort: 16..22 °C}}"
    bed = "    limits: {temperature: {harm: 5..30 °C}}\n"
    fig = read(bed=bed, zone=zone).bins["fig"]
    assert Bound(16, "settings: bins.fig.zones.west.limits.temperature.comfort", "settings") == (
        fig.zones[0].limits[TEMPERATURE].low
    )
    assert "settings: bins.fig.limits.temperature.harm" == fig.zones[0].limits[TEMPERATURE].harm[0].bound.source
    assert species("eisenia-fetida").temperature.low == fig.limits[TEMPERATURE].low


def test_a_list_under_harm_replaces_all_that_the_species_has(read):
    bed = "    limits: {temperature: {harm: [{above: 30 °C, lasting: 3 h}, {above: 33 °C, lasting: at once}]}}\n"
    assert [(False, 30, 3 * HOUR), (False, 33, 0)] == harms(read(bed=bed).bins["fig"].limits[TEMPERATURE])


def test_a_range_under_harm_is_both_ends_with_the_usual_delay(read):
    bed = "    limits: {temperature: {harm: 5..32 °C}, moisture: {harm: 55..92 %}}\n"
    limits = read(bed=bed).bins["fig"].limits
    assert [(True, 5, HARM_DELAY), (False, 32, HARM_DELAY)] == harms(limits[TEMPERATURE])
    assert [(True, 55, HARM_DELAY), (False, 92, HARM_DELAY)] == harms(limits[MOISTURE])
    assert 30 * MINUTE == HARM_DELAY


def test_us_units_are_read_in_fahrenheit(read):
    bed = "    limits: {temperature: {comfort: 59..77, harm: 41..90, deadband: 1.8}}\n"
    limits = read(site=", units: us", bed=bed).bins["fig"].limits[TEMPERATURE]
    assert (15.0, 25.0) == ends(limits)
    assert 1.0 == limits.deadband
    assert [5.0, pytest.approx(32.222, abs=1e-3)] == [harm.bound.value for harm in limits.harm]


# At the mat: 30 °C Eisenia, 32 °C Eudrilus (proposals); other species their own hot harm.
@pytest.mark.parametrize(
    ("kind", "expected"),
    [
        ("eisenia-fetida", [(False, 30, HARM_DELAY)]),
        ("eisenia-andrei", [(False, 30, HARM_DELAY)]),
        ("eudrilus-eugeniae", [(False, 32, HARM_DELAY), (False, 34, 0)]),
        ("perionyx-excavatus", [(False, 32, HARM_DELAY)]),
        ("dendrobaena-veneta", [(False, 28, HARM_DELAY)]),
        ("[eisenia-fetida, perionyx-excavatus]", [(False, 30, HARM_DELAY)]),
    ],
)
def test_at_the_mat_only_hot_harm_holds_and_no_comfort_band(kind, expected, read):
    mat = read(kind).bins["fig"].zones[1]
    assert Role.AT_THE_MAT is mat.role
    assert expected == harms(mat.limits[TEMPERATURE])
    assert (None, None) == ends(mat.limits[TEMPERATURE])
    assert ((None, None), ()) == (ends(mat.limits[MOISTURE]), mat.limits[MOISTURE].harm)


def test_at_the_mat_what_the_keeper_writes_for_that_zone_holds(read):
    written = ", limits: {temperature: {comfort: 15..28 °C, harm: [{above: 29 °C, lasting: 1 h}]}}"
    mat = read(mat=written).bins["fig"].zones[1].limits[TEMPERATURE]
    assert ((15, 28), [(False, 29, HOUR)]) == (ends(mat), harms(mat))


def test_what_is_written_for_the_bin_does_not_loosen_the_mat(read):
    bed = "    limits: {temperature: {harm: 1..35 °C}}\n"
    assert [(False, 30, HARM_DELAY)] == harms(read(bed=bed).bins["fig"].zones[1].limits[TEMPERATURE])


@pytest.mark.parametrize("role", ["edge", "finished"])
def test_edge_and_finished_zones_have_the_limits_of_the_bin(role, read):
    fig = read(zone=f", role: {role}").bins["fig"]
    assert fig.limits == fig.zones[0].limits


def test_worms_that_share_nothing_may_live_by_a_band_the_keeper_writes(read, monkeypatch):
    """No two worms of ours share nothing, so one is made colder here."""
    cold = replace(species("lumbricus-rubellus"), temperature=Limits(Bound(2, "", ""), Bound(9, "", "")))
    known = {"lumbricus-rubellus": cold, "eudrilus-eugeniae": species("eudrilus-eugeniae")}
    monkeypatch.setattr("monitor.settings.limits.species", known.__getitem__)
    both = "[lumbricus-rubellus, eudrilus-eugeniae]"
    with pytest.raises(SettingsError, match="share no comfort band of temperature"):
        read(both)
    limits = read(both, bed="    limits: {temperature: {comfort: 16..20 °C}}\n").bins["fig"].limits[TEMPERATURE]
    assert (16, 20) == ends(limits)


# No source, our own rule: whatever is accepted has harm outside comfort, and comfort wider than its deadband.
@pytest.mark.parametrize(
    ("bed", "accepted"),
    [
        ("comfort: 15..25 °C, harm: [{below: 14.9 °C}]", True),
        ("comfort: 15..25 °C, harm: [{below: 15 °C}]", False),
        ("comfort: 15..25 °C, harm: [{above: 25 °C}]", False),
        ("comfort: 15..25 °C, harm: [{above: 25.1 °C}]", True),
        ("comfort: 15..25 °C, harm: [{above: 14 °C}]", False),
        ("comfort: 15..25 °C, harm: [{below: 4 °C, lasting: 4 h}, {below: 26 °C}]", False),
        ("comfort: 20..21 °C, deadband: 0.4 °C", True),
        ("comfort: 20..21 °C, deadband: 0.5 °C", False),
        ("deadband: 9 °C", False),
        ("deadband: 0 °C", True),
    ],
)
def test_harm_lies_outside_comfort_and_comfort_outlasts_its_deadband(bed, accepted, read):
    text = f"    limits: {{temperature: {{{bed}}}}}\n"
    if accepted:
        assert read(bed=text).bins["fig"]
    else:
        with pytest.raises(SettingsError):
            read(bed=text)


def test_a_limit_of_the_species_is_shared_by_all_bins_that_have_nothing_of_their_own(read):
    fig = read().bins["fig"]
    assert isinstance(fig.limits[TEMPERATURE].harm[0], Harm)
    assert fig.zones[0].limits[TEMPERATURE] is fig.limits[TEMPERATURE]
