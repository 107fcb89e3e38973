"""What YAML would make of a keeper's words, and what hostile or broken files cost."""

from datetime import date, time
from pathlib import Path

import pytest
import yaml

from monitor.errors import SettingsError
from monitor.settings import load
from monitor.settings.tree import DEEPEST, LARGEST, read

TODAY = date(2026, 11, 25)
BIN = "bins: {fig: {species: eisenia-fetida, zones: {west: {probes: {p: {measures: temperature, topic: t}}}}}}\n"


def data_of(tmp_path, text):
    file = tmp_path / "s.yaml"
    file.write_text(text)
    data, _, mistakes = read(file)
    assert mistakes == []
    return data


def refused(paths):
    with pytest.raises(SettingsError) as caught:
        load(paths, environ={}, today=TODAY)
    return caught.value.mistakes


# YAML 1.2.2 chapter 10.3 (core schema): only true, false, null, decimal, octal 0o, hexadecimal and floats are not
# text. YAML 1.1 (yaml.org/type) took 22:00 as 1320, no as false, 012 as 10 and 2026-03-14 as a date. [memory]
@pytest.mark.parametrize("word", ["22:00", "no", "yes", "on", "012", "1_000", "2026-03-14", "1e3", ".5", "0x1f"])
def test_a_scalar_stays_the_text_it_is_written_as(word, tmp_path):
    assert {"a": word} == data_of(tmp_path, f"a: {word}\n")


def test_the_traps_are_real_ones_for_a_plain_yaml_reader():
    told = yaml.safe_load("{evening: 22:00, drains: no, id: 012, started: 2026-03-14}")
    assert {"evening": 1320, "drains": False, "id": 10, "started": date(2026, 3, 14)} == told


@pytest.mark.parametrize("word", ["", "~", "null", "Null", "NULL"])
def test_nothing_is_nothing_however_it_is_written_and_quotes_make_it_text(word, tmp_path):
    assert {"a": None, "b": word} == data_of(tmp_path, f"a: {word}\nb: '{word}'\n")


def test_hours_days_and_names_are_read_when_a_field_asks_for_them(tmp_path):
    file = tmp_path / "s.yaml"
    file.write_text(
        "site: {id: orchard, name: 012, timezone: Europe/Lisbon}\n"
        + BIN.replace("species", "name: no, started: 2026-03-14, species")
        + "people: {ana: {channels: phone, evening: 22:00, up: 07:00}}\n"
        + "channels: {phone: {send_to: {from_env: PHONE}}}\n"
    )
    rules = load([file], environ={"PHONE": "json://localhost"}, today=TODAY).rules
    assert ("012", "no") == (rules.site.name, rules.bins["fig"].name)
    assert date(2026, 3, 14) == rules.bins["fig"].started
    assert (time(22), time(7)) == (rules.people["ana"].evening, rules.people["ana"].up)


def test_places_are_counted_in_characters_not_in_bytes(tmp_path):
    file = tmp_path / "s.yaml"
    file.write_text("site: {id: orchard, name: 'Äpfel °C', timezone: Nowhere/Land}\n" + BIN)
    assert [
        f"{file}:1:49: 'Nowhere/Land' is no time zone. Write region and city, for example Europe/Lisbon."
    ] == refused([file])


def test_windows_line_ends_are_no_mistake(tmp_path):
    file = tmp_path / "s.yaml"
    file.write_bytes(("site: {id: orchard}\r\n" + BIN.replace("\n", "\r\n")).encode())
    assert ["fig"] == list(load([file], environ={}, today=TODAY).rules.bins)


def test_a_byte_order_mark_before_the_first_key_is_no_mistake(tmp_path):
    """YAML 1.2.2 section 5.2 lets a file begin with one, and some editors write it unasked. [memory]"""
    file = tmp_path / "s.yaml"
    file.write_bytes(b"\xef\xbb\xbf" + b"site: {id: Orchard}\n" + BIN.encode())
    assert [f"{file}:1:12"] == [":".join(mistake.split(":")[:3]) for mistake in refused([file])]


def test_a_file_too_large_is_not_even_parsed(tmp_path):
    file = tmp_path / "s.yaml"
    file.write_text("#" * (LARGEST + 1))
    assert [f"{file}:1:1: The file is larger than 4 MB. Is it the right one?"] == refused([file])


def test_a_file_of_the_largest_size_is_read(tmp_path):
    file = tmp_path / "s.yaml"
    text = "site: {id: orchard}\n" + BIN
    file.write_text(text + "#" * (LARGEST - len(text)))
    assert "orchard" == load([file], environ={}, today=TODAY).rules.site.id


def test_a_missing_file_a_folder_and_a_path_too_long_are_mistakes_like_any_other(tmp_path):
    there = tmp_path / "folder.yaml"
    there.mkdir()
    assert [f"{tmp_path}/no.yaml:1:1: There is no such file. Give its path with --settings."] == refused(
        [tmp_path / "no.yaml"]
    )
    said = "No *.yaml stands in this folder. Give the file, or the folder it lies in."
    assert [f"{there}:1:1: {said}"] == refused([there])
    long = tmp_path / ("x" * 300)
    assert [f"{long}:1:1: The file cannot be read (file name too long)."] == refused([long])
    assert ["a\0b:1:1: The file cannot be read (not a path)."] == refused([Path("a\0b")])


def test_no_file_at_all_is_a_mistake():
    assert [":1:1: No settings file is named. Give its path with --settings."] == refused([])


def test_nothing_of_ours_stands_deeper_than_a_file_may_go(tmp_path):
    """The deepest value that the schema has: a calibration point of a probe of a zone of a bin."""
    deep = data_of(tmp_path, (Path(__file__).parents[2] / "config" / "vermistat.yaml").read_text())
    assert DEEPEST >= 2 + depth(deep)


def depth(data):
    inner = data.values() if isinstance(data, dict) else data if isinstance(data, list) else []
    return 1 + max((depth(each) for each in inner), default=-1) if inner else 0


@pytest.mark.parametrize("loader", [yaml.CSafeLoader, yaml.SafeLoader])
@pytest.mark.parametrize(
    "name",
    ["tab", "list-left-open", "quote-left-open", "bracket-closed-twice", "indentation", "percent-sign-first",
     "alias", "space-after-colon-missing", "two-documents", "several-at-once"],
)  # fmt: skip
def test_the_parser_in_c_and_the_one_in_python_give_the_same_words(loader, name, monkeypatch):
    """A machine without libyaml must not tell a keeper something else."""
    monkeypatch.setattr("monitor.settings.tree.LOADER", loader)
    folder = Path(__file__).parents[2] / "fixtures" / "mistakes" / "yaml"
    monkeypatch.chdir(folder)
    assert (folder / f"{name}.txt").read_text().splitlines() == refused([Path(f"{name}.yaml")])
