"""`was: old-id`: what is said of ids that go on under another, and that only they are taken for that."""

import pytest

from monitor.names import Names
from monitor.settings import load

TEXT = """\
site: {id: orchard}
places: {shed: {PLACE probes: {shed-air: {measures: temperature, topic: probes/air}}}}
mats: {long-mat: {MAT warms: fig.west}}
bins:
  fig:
    BIN
    species: eisenia-fetida
    zones:
      west: {ZONE probes: {fig-west: {PROBE measures: temperature, topic: probes/fig-west}}}
people: {ana: {PERSON channels: phone}}
channels: {phone: {CHANNEL send_to: {from_env: PHONE}}}
"""


def loaded(tmp_path, **said):
    text = TEXT
    for word in ("PLACE", "MAT", "ZONE", "PROBE", "PERSON", "CHANNEL", "BIN"):
        was = said.get(word.lower())
        text = text.replace(f"{word} " if word != "BIN" else "    BIN\n",
                            "" if was is None else f"    was: {was}\n" if word == "BIN" else f"was: {was}, ")  # fmt: skip
    file = tmp_path / "s.yaml"
    file.write_text(text)
    return load([file], environ={"PHONE": "json://nobody.invalid"})


def test_without_it_nothing_goes_on_under_another_id(tmp_path):
    found = loaded(tmp_path)
    assert (Names(), {}) == (found.was, found.channels_were)
    assert not found.was


@pytest.mark.parametrize(
    ("said", "names"),
    [
        ({"place": "barn"}, Names(places={"barn": "shed"})),
        ({"mat": "mat"}, Names(mats={"mat": "long-mat"})),
        ({"bin": "date"}, Names(bins={"date": "fig"})),
        ({"zone": "lee"}, Names(zones={"fig.lee": "fig.west"})),
        ({"bin": "date", "zone": "lee"}, Names(bins={"date": "fig"}, zones={"fig.lee": "fig.west", "date.lee": "fig.west"})),
        ({"probe": "p1"}, Names(probes={"p1": "fig-west"})),
        ({"person": "anna"}, Names(people={"anna": "ana"})),
    ],
)  # fmt: skip
def test_each_kind_says_where_it_comes_from(tmp_path, said, names):
    assert names == loaded(tmp_path, **said).was


def test_a_channel_sends_what_waits_for_its_old_id(tmp_path):
    found = loaded(tmp_path, channel="pocket")
    assert ({"pocket": "phone"}, Names()) == (found.channels_were, found.was)


def test_it_changes_nothing_that_is_judged_by(tmp_path):
    plain, said = loaded(tmp_path), loaded(tmp_path, bin="date", probe="p1")
    assert plain.rules == said.rules
    assert plain.digest != said.digest


NAMES = Names(
    places={"barn": "shed"}, bins={"date": "fig"}, zones={"fig.lee": "fig.west", "date.lee": "fig.west"},
    probes={"p1": "fig-west"}, mats={"mat": "long-mat"}, people={"anna": "ana"},
)  # fmt: skip


def test_names_are_looked_up_by_kind():
    assert ("fig", "plum") == (NAMES.bed("date"), NAMES.bed("plum"))
    assert ("fig.west", "fig.west", "fig.east", "plum.lee") == tuple(
        NAMES.zone(z) for z in ("date.lee", "fig.lee", "date.east", "plum.lee")
    )
    assert ("shed", "fig-west", "long-mat", "ana") == (
        NAMES.place("barn"), NAMES.probe("p1"), NAMES.mat("mat"), NAMES.person("anna"),
    )  # fmt: skip
    assert ["fig", "fig.west", "fig-west", "long-mat", "shed", "ana", "sloe"] == [
        NAMES.anything(id_) for id_ in ("date", "date.lee", "p1", "mat", "barn", "anna", "sloe")
    ]


def test_what_is_done_already_is_left_out():
    assert Names(probes={"p2": "fig-east"}) == Names(
        bins={"date": "fig"}, probes={"p1": "a", "p2": "fig-east"}
    ).without(Names(bins={"date": "fig"}, probes={"p1": "a", "p2": "x"}))
