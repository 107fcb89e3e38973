"""`vermistat check`: what settings will do, or every mistake. No secret need be there; one that is gets tried."""

import os

import pytest

from cli.keeping import ADDRESS, NOW, SETTINGS, Site
from monitor.readings import DAY
from monitor.settings import explain, load


def test_accepted_settings_are_explained_with_the_file_and_where_things_are_kept(site, capsys):
    said = site.says(capsys, "check")
    assert f"Accepted: {site.file}.\n" == said.splitlines(keepends=True)[0]
    for line in explain(load([site.file], environ={})):
        assert line in said
    assert 1 == said.count(f"{site.store_file}")


def test_where_things_are_kept_is_said_also_when_the_file_does_not(tmp_path, noon, capsys, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", "/somewhere")
    monkeypatch.delenv("STATE_DIRECTORY", raising=False)
    site = Site(tmp_path, text=SETTINGS.replace("store: {path: kept.db}\n", ""))
    assert "Everything is kept in /somewhere/vermistat/orchard.db.\n" in site.says(capsys, "check")
    assert "/somewhere/vermistat/orchard.db" == site.tells(capsys, "check")["store"]


def test_a_folder_of_files_is_one_settings(tmp_path, noon, capsys):
    site = Site(tmp_path)
    whole = site.file.read_text()
    start, _, people = whole.partition("people:")
    folder = tmp_path / "parts"
    folder.mkdir()
    (folder / "1.yaml").write_text(start)
    (folder / "2.yaml").write_text("people:" + people)
    (folder / "mail-url").write_text(ADDRESS)
    site.file = folder
    facts = site.tells(capsys, "check")
    assert [str(folder / "1.yaml"), str(folder / "2.yaml")] == facts["files"]
    assert f"Accepted: {folder / '1.yaml'} and {folder / '2.yaml'}." in site.says(capsys, "check")


def test_it_needs_no_secrets_and_says_which_are_not_there(site, capsys):
    (site.folder / "mail-url").unlink()
    facts = site.tells(capsys, "check")
    assert [] == facts["understood"]
    said = site.says(capsys, "check")
    assert "Not there yet, needed before it can run:" in said
    assert "sender" not in said


def test_a_secret_that_is_there_is_tried_on_the_sender_and_never_shown(site, capsys):
    assert ["mail"] == site.tells(capsys, "check")["understood"]
    said = site.says(capsys, "check")
    assert "The sender understands the address of mail." in said
    assert "the-word-nobody-reads" not in said


@pytest.mark.parametrize("json", [True, False])
def test_an_address_that_no_sender_understands_is_refused_and_not_shown(site, capsys, json):
    (site.folder / "mail-url").write_text("carrier-pigeon://loft/the-word-nobody-reads")
    capsys.readouterr()
    assert 78 == site.call("check", *(["--json"] if json else []))
    out, errors = capsys.readouterr()
    assert json is bool(out)
    assert json is not bool(errors)
    assert "The address *** cannot be used" in out + errors
    assert "the-word-nobody-reads" not in out + errors
    assert "pigeon" not in (out + errors).replace("carrier-pigeon://", "")


def test_every_mistake_is_told_with_its_line_and_nothing_is_explained(site, capsys):
    site.file.write_text(site.file.read_text().replace("drains: true", "drain: true").replace("2 kg", "2 stone"))
    code, errors = site.refuses(capsys, "check")
    first, *rest = errors.splitlines()
    assert (78, "The settings are refused:") == (code, first)
    assert 2 == len([line for line in rest if line.startswith(f"{site.file}:")])


@pytest.mark.parametrize(("days", "code"), [(-1, 0), (0, 0), (2, 78)])
def test_a_day_that_has_not_come_yet_is_a_mistake(site, capsys, days, code):
    from monitor import words

    day = words.local(NOW + days * DAY, "UTC").date()
    site.file.write_text(site.file.read_text().replace("moisture: 12 %}", f"moisture: 12 %, taken: {day}}}"))
    assert code == site.call("check")


@pytest.mark.parametrize("name", ["config/one-bin.yaml", "config/vermistat.yaml"])
def test_the_files_that_come_with_it_are_accepted(noon, capsys, name):
    from pathlib import Path

    from monitor.cli import main

    assert "VERMISTAT_PHONE_URL" not in os.environ
    assert 0 == main(["check", "--settings", str(Path(__file__).parents[2] / name)])
