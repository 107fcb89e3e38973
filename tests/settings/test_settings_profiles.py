"""Bins that are kept alike: one profile, many ids; what a bin writes itself goes before it; one mistake is told once."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import SettingsError
from monitor.readings import Measures
from monitor.rules import Role
from monitor.settings import load
from monitor.settings.profiles import ids

HEAT = Measures.TEMPERATURE
FARM = """\
site: {id: farm}
places: {hall: {}, yard: {}}
profiles:
  row:
    bins: [row-08..row-11, nursery]
    name: Row <number>
    species: eisenia-fetida
    stands_in: hall
    bedding: 200 kg
    limits: {temperature: {comfort: 15..25 °C, deadband: 1 °C}, moisture: {comfort: 72..84 %}}
    zones:
      head: {probes: {<bin>-head: {measures: temperature, topic: rows/<bin>/head}}}
      foot: {role: edge, probes: {<bin>-foot: {measures: temperature, topic: feet, field: /<number>/t}}}
bins:
  row-09:
    bedding: 120 kg
    limits: {temperature: {comfort: 16..25 °C}}
    zones: {foot: {probes: {row-09-other: {measures: temperature, topic: other}}}}
  pit: {like: row, name: The pit, stands_in: yard}
"""


def farm(tmp_path, text=FARM):
    file = tmp_path / "farm.yaml"
    file.write_text(text)
    return load([file], environ={})


@pytest.fixture
def bins(tmp_path):
    return farm(tmp_path).rules.bins


def test_a_range_stands_for_each_of_its_ids(bins):
    assert {"row-08", "row-09", "row-10", "row-11", "nursery", "pit"} == set(bins)


def test_id_and_number_are_filled_in(bins):
    row = bins["row-10"]
    assert "Row 10" == row.name
    head, foot = (zone.probes[0] for zone in row.zones)
    assert ("row-10-head", "rows/row-10/head") == (head.id, head.source.topic)
    assert ("row-10-foot", "feet", "/10/t") == (foot.id, foot.source.topic, foot.source.field)


def test_an_id_without_digits_is_its_own_number(bins):
    assert "/nursery/t" == bins["nursery"].zones[1].probes[0].source.field


def test_what_a_bin_writes_itself_goes_before_its_profile(bins):
    own, plain = bins["row-09"], bins["row-08"]
    assert (120.0, 200.0) == (own.bedding, plain.bedding)
    assert ("The pit", "yard") == (bins["pit"].name, bins["pit"].place)
    assert ("Row 09", "hall") == (own.name, own.place)


def test_limits_are_written_over_one_by_one(bins):
    own = bins["row-09"].limits
    assert (16.0, 25.0, 1.0) == (own[HEAT].low.value, own[HEAT].high.value, own[HEAT].deadband)
    assert 72.0 == own[Measures.MOISTURE].low.value


def test_zones_are_written_over_as_a_whole_and_others_stay(bins):
    head, foot = bins["row-09"].zones
    assert ("head", "row-09-head") == (head.id, head.probes[0].id)
    assert (Role.LIVING, ["row-09-other"]) == (foot.role, [p.id for p in foot.probes])


def test_a_limit_says_whether_profile_or_bin_wrote_it(tmp_path):
    found = farm(tmp_path)
    sources = {bed: found.rules.bins[bed].limits[HEAT].low.source for bed in ("row-08", "row-09")}
    assert "settings: profiles.row.limits.temperature.comfort" == sources["row-08"]
    assert "settings: bins.row-09.limits.temperature.comfort" == sources["row-09"]
    assert ["farm.yaml:10", "farm.yaml:17"] == [found.written[source] for source in sources.values()]


OUT = """\
site: {id: farm}
places: {hall: {}}
bins:
  row-10:
    name: Row 10
    species: eisenia-fetida
    stands_in: hall
    bedding: 200 kg
    limits: {temperature: {comfort: 15..25 °C, deadband: 1 °C}, moisture: {comfort: 72..84 %}}
    zones:
      head: {probes: {row-10-head: {measures: temperature, topic: rows/row-10/head}}}
      foot: {role: edge, probes: {row-10-foot: {measures: temperature, topic: feet, field: /10/t}}}
"""


def test_a_bin_of_a_profile_is_the_bin_that_is_written_out(tmp_path):
    out, kept = farm(tmp_path, OUT).rules.bins["row-10"], farm(tmp_path).rules.bins["row-10"]
    same = str(out).replace("settings: bins.row-10.", "settings: profiles.row.")
    assert same == str(kept)


def test_a_bin_of_a_profile_may_say_what_it_was(tmp_path):
    text = FARM.replace("  pit: {like: row,", "  pit: {like: row, was: hole,")
    assert {"hole": "pit"} == farm(tmp_path, text).was.bins


def test_one_mistake_of_a_profile_is_told_once_however_many_bins_it_keeps(tmp_path):
    text = FARM.replace("row-08..row-11", "row-08..row-99").replace("eisenia-fetida", "eisenia-fetid")
    text = text.replace("bedding: 200 kg", "bedding: 200 furlongs")
    with pytest.raises(SettingsError) as refused:
        farm(tmp_path, text)
    assert [7, 9] == [int(mistake.split(":")[1]) for mistake in refused.value.mistakes]


def test_limits_of_a_profile_that_cannot_hold_together_are_told_once(tmp_path):
    with pytest.raises(SettingsError) as refused:
        farm(
            tmp_path,
            FARM.replace("comfort: 15..25", "comfort: 15..45").replace("row-08..row-11", "row-08..row-99"),
        )
    (mistake,) = refused.value.mistakes
    assert ":10:37: Harm above" in mistake


def test_what_two_bins_of_a_profile_cannot_share_is_found(tmp_path):
    text = FARM.replace("topic: rows/<bin>/head", "topic: rows/<number>").replace(
        "row-08..row-11", "row-8, tier-8"
    )
    with pytest.raises(SettingsError) as refused:
        farm(tmp_path, text)
    assert any("already reads this topic" in mistake for mistake in refused.value.mistakes)


@given(st.text("abc-", min_size=1, max_size=5).map(lambda t: "r" + t), st.integers(0, 900), st.integers(1, 200),
       st.integers(1, 4))  # fmt: skip
def test_a_range_has_every_number_once_and_no_other(stem, low, more, width):
    high = low + more
    if len(str(high)) > width:
        width = 1
    text = f"{stem}{low:0{width}d}..{stem}{high:0{width}d}"
    found = ids(text)
    assert [f"{stem}{number:0{width}d}" for number in range(low, high + 1)] == found
