"""One file that includes others: what each mistake says is where it stands, and every file is watched."""

import pytest

from monitor.errors import SettingsError
from monitor.settings import load
from monitor.settings.watching import Watch

MAIN = "include: [people.yaml, sheds/]\nsite: {id: farm, timezone: Europe/Lisbon}\n"
PEOPLE = "people: {ana: {channels: phone, evening: '21:00', up: '07:00'}}\nchannels: {phone: {send_to: {from_env: P}}}\n"
BIN = "bins: {NAME: {species: eisenia-fetida, zones: {a: {probes: {NAME-a: {measures: temperature, topic: t/NAME}}}}}}\n"


@pytest.fixture
def farm(tmp_path):
    (tmp_path / "sheds").mkdir()
    (tmp_path / "vermistat.yaml").write_text(MAIN)
    (tmp_path / "people.yaml").write_text(PEOPLE)
    for name in ("north", "south"):
        (tmp_path / "sheds" / f"{name}.yaml").write_text(BIN.replace("NAME", name))
    return tmp_path


def loaded(farm):
    return load([farm / "vermistat.yaml"], environ={"P": "json://nobody.invalid"})


def test_all_files_are_read_as_one(farm):
    found = loaded(farm)
    assert (["north", "south"], ["ana"]) == (list(found.rules.bins), list(found.rules.people))
    assert ["vermistat.yaml", "people.yaml", "north.yaml", "south.yaml"] == [file.name for file in found.files]
    assert ["vermistat.yaml", "people.yaml", "sheds/north.yaml", "sheds/south.yaml"] == [n for n, _ in found.texts]


def test_a_mistake_names_the_file_it_stands_in(farm):
    (farm / "sheds" / "south.yaml").write_text(BIN.replace("NAME", "south").replace("eisenia", "eisena"))
    (farm / "people.yaml").write_text(PEOPLE.replace("21:00", "nine"))
    with pytest.raises(SettingsError) as refused:
        loaded(farm)
    places = [mistake.split(": ")[0] for mistake in refused.value.mistakes]
    assert [f"{farm}/people.yaml:1:42", f"{farm}/sheds/south.yaml:1:25"] == places


def test_the_same_id_in_two_files_is_refused(farm):
    (farm / "sheds" / "south.yaml").write_text(BIN.replace("NAME", "north"))
    with pytest.raises(SettingsError) as refused:
        loaded(farm)
    assert f"(first in {farm}/sheds/north.yaml, line 1)" in refused.value.mistakes[0]


def test_files_that_change_and_come_are_found(farm):
    watch = Watch(loaded(farm), load=lambda: loaded(farm), settle=lambda _: None)
    assert watch.look() is None
    (farm / "people.yaml").write_text(PEOPLE.replace("ana", "ben"))
    assert ["ben"] == list(watch.look().rules.people)
    (farm / "sheds" / "west.yaml").write_text(BIN.replace("NAME", "west"))
    assert ["north", "south", "west"] == list(watch.look().rules.bins)
    assert watch.look() is None


def test_a_mistake_in_an_included_file_that_is_mended_there_is_found(farm):
    watch = Watch(loaded(farm), load=lambda: loaded(farm), settle=lambda _: None)
    (farm / "more.yaml").write_text(BIN.replace("NAME", "East"))
    (farm / "vermistat.yaml").write_text(MAIN.replace("sheds/", "sheds/, more.yaml"))
    assert "more.yaml:1:8" in watch.look().mistakes[0]
    (farm / "more.yaml").write_text(BIN.replace("NAME", "east"))
    assert "east" in watch.look().rules.bins


def test_a_folder_whose_files_include_each_other_is_read_once(farm):
    (farm / "a.yaml").write_text("include: people.yaml\n")
    (farm / "vermistat.yaml").write_text(
        "site: {id: farm, timezone: Europe/Lisbon}\n" + BIN.replace("NAME", "fig")
    )
    found = load([farm], environ={"P": "json://nobody.invalid"})
    assert ["a.yaml", "people.yaml", "vermistat.yaml"] == [file.name for file in found.files]
