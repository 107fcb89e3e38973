"""One file a mistake under fixtures/settings, each with the exact text that it is refused with."""

import re
from datetime import date
from pathlib import Path

import pytest

from monitor.errors import SettingsError
from monitor.settings import load

FOLDER = Path(__file__).parents[2] / "fixtures" / "settings"
TODAY = date(2026, 11, 25)
FILES = sorted(path.name for path in FOLDER.glob("*.yaml"))


@pytest.mark.parametrize("name", FILES)
def test_a_mistake_is_refused_with_its_place_a_sentence_and_a_hint(name, monkeypatch):
    monkeypatch.chdir(FOLDER)
    expected = Path(name).with_suffix(".txt").read_text().splitlines()
    with pytest.raises(SettingsError) as refused:
        load([Path(name)], environ={}, today=TODAY)
    assert expected == refused.value.mistakes
    for mistake in refused.value.mistakes:
        assert re.fullmatch(r"[\w.-]+:\d+:\d+: .+[.?!] .+[.?]", mistake)


def test_every_mistake_has_its_expected_text_and_there_are_enough_of_them():
    assert sorted(Path(name).stem for name in FILES) == sorted(path.stem for path in FOLDER.glob("*.txt"))
    assert len(FILES) >= 45


def test_no_two_files_are_refused_with_the_same_words_at_the_same_place():
    texts = [path.read_text() for path in FOLDER.glob("*.txt") if path.stem not in ("empty-file", "only-comments")]
    assert len(texts) == len(set(texts))


def test_all_mistakes_of_a_file_are_told_at_once_and_in_the_order_of_its_lines(monkeypatch):
    monkeypatch.chdir(FOLDER)
    with pytest.raises(SettingsError) as refused:
        load([Path("several-at-once.yaml")], environ={}, today=TODAY)
    places = [tuple(int(n) for n in mistake.split(":")[1:3]) for mistake in refused.value.mistakes]
    assert len(places) >= 12
    assert places == sorted(places)


def test_a_mistake_in_one_value_does_not_make_others_out_of_what_depends_on_it(tmp_path):
    """The bin's species is wrong and its zone's role too: its mat and its person are still in order."""
    file = tmp_path / "s.yaml"
    file.write_text(
        "site: {id: orchard, timezone: Europe/Lisbon}\n"
        "bins:\n"
        "  fig:\n"
        "    species: dragon\n"
        "    zones: {west: {role: alive, probes: {fig-west: {measures: warmth, topic: probes/fig-west}}}}\n"
        "mats: {long-mat: {warms: [fig.west], control: magic, set_to: 23 °C}}\n"
        "people: {ana: {channels: [phone], evening: late, up: '07:00', hears: [fig]}}\n"
        "channels: {phone: {send_to: 'a secret'}}\n"
    )
    with pytest.raises(SettingsError) as refused:
        load([file], environ={}, today=TODAY)
    assert [4, 5, 5, 6, 7, 8] == [int(mistake.split(":")[1]) for mistake in refused.value.mistakes]
