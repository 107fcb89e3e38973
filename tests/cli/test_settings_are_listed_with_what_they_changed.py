"""`vermistat settings`: every version, every limit it changed, and whether the files say what is in force."""

import pytest

from cli.keeping import Site


@pytest.fixture
def site(tmp_path, noon):
    return Site(tmp_path)


def fig(site, *lines):
    """The settings with these lines in the fig."""
    return site.file.read_text().replace(
        "    worms: 2 kg", "".join(f"    {line}\n" for line in lines) + "    worms: 2 kg"
    )


def lived(site, *texts):
    with site.lived() as house:
        site.taken_up(*texts, store=house.store)


def test_the_first_settings_are_told_with_nothing_they_changed(site, capsys):
    lived(site)
    assert [
        "08:00: settings 1 in force, by the file.",
        "Settings 1 are in force, and the files say the same.",
    ] == site.says(capsys, "settings").splitlines()


def test_each_changed_limit_has_its_line_with_old_new_and_where_it_is_written(site, capsys):
    lived(site, fig(site, "limits: {temperature: {comfort: 22..29 °C, deadband: 1.5 °C, comfort_delay: 90 min}}"))
    said = site.says(capsys, "settings").splitlines()
    assert "09:00: settings 2 in force, by the file." == said[1]
    assert "    Fig" not in said
    assert "    fig: temperature, comfort from: 21 °C became 22 °C (vermistat.yaml:14)" in said
    assert "    fig: temperature, comfort delay: 1 h became 1 h 30 min" in said
    assert any(line.startswith("    fig: temperature, deadband: 1 °C became 1.5 °C") for line in said)


def test_what_came_and_went_is_told(site, capsys):
    text = site.file.read_text()
    lived(site, text.replace("plum-near: {", "plum-far: {"))
    said = site.says(capsys, "settings").splitlines()
    assert ["    new: probe plum-far", "    gone: probe plum-near"] == said[2:4]


def test_ids_that_go_on_under_another_are_told(site, capsys):
    text = site.file.read_text()
    lived(site, text.replace("plum-near: {", "plum-far: {was: plum-near, "))
    said = site.says(capsys, "settings").splitlines()
    assert "    probe plum-near is called plum-far now" == said[2]


def test_files_that_say_something_else_are_found_out(site, capsys):
    lived(site)
    site.file.write_text(site.file.read_text() + "# one line more\n")
    assert "Settings 1 are in force; the files say something else." in site.says(capsys, "settings")
    assert not site.tells(capsys, "settings")["files_agree"]


def test_before_the_first_run_there_are_none(site, capsys):
    with site.lived():
        pass
    assert (
        "No settings have been in force yet: start `vermistat run` once." == site.says(capsys, "settings").strip()
    )


def test_a_version_is_shown_as_it_was(site, capsys):
    before = site.file.read_text()
    lived(site, "# anew\n" + before)
    assert f"# settings 1: vermistat.yaml\n{before}".strip() == site.says(capsys, "settings", "1").strip()
    assert [{"name": "vermistat.yaml", "text": before}] == site.tells(capsys, "settings", "1")["files"]


def test_a_version_that_never_was_is_refused(site, capsys):
    lived(site)
    code, errors = site.refuses(capsys, "settings", "7")
    assert (1, "vermistat: there are no settings 7; `vermistat settings` lists those there were\n") == (
        code,
        errors,
    )
