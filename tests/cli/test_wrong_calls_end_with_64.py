"""A call that cannot be meant ends with 64 (EX_USAGE, sysexits.h) and one sentence that helps."""

import os

import pytest

from cli.keeping import Site
from monitor.cli import main
from monitor.cli.calls import WRONG_CALL, parser
from monitor.cli.commands import WRONG_SETTINGS


def commands():
    return next(a.choices for a in parser()._actions if isinstance(a.choices, dict))


WRONG = [
    ([], f"say what to do: {', '.join(commands())}. See `vermistat --help`."),
    (["alrms"], "there is no command 'alrms'; did you mean 'alarms'? See `vermistat --help`."),
    (["feed"], "there is no command 'feed'"),
    (["--json"], "--json stands behind the command: vermistat now --json …"),
    (["--settings", "x.yaml", "now"], "--settings stands behind the command"),
    (["now", "fig"], "`now` takes no fig"),
    (["now", "--jsn"], "`now` takes no --jsn"),
    (["now", "--js"], "`now` takes no --js"),
    (["run", "--json"], "`run` takes no --json"),
    (["seen"], "NUMBER is missing: say which. See `vermistat seen --help`."),
    (["why", "1", "thanks"], "`why` takes no thanks"),
    (["shelve", "1"], "--until or --for is missing: say which"),
    (["shelve", "1", "--for", "4h", "--until", "14:00"], "argument --until: not allowed with argument --for"),
    (["shelve", "1", "--for", "4"], "'4' has no unit: write 30min, 4h or 2d"),
    (["shelve", "1", "--for", "0h"], "'0h' is no time to wait: write 30min, 4h or 2d"),
    (["shelve", "1", "--for", "4 kg"], "'4 kg' is a mass, not a time span: write 30min, 4h or 2d"),
    (["shelve", "1", "--until", "25:00"], "'25:00' is no time: write 14:30 for the next one, or 2026-11-26 07:00"),
    (["later", "1", "--until", "2026-02-30 07:00"], "'2026-02-30 07:00' is no time: write 14:30"),
    (["later", "1", "--for", "4h"], "--for"),
    (["working", "fig", "--done", "--for", "2h"], "not allowed with argument"),
    (["working"], "BIN is missing: say which. See `vermistat working --help`."),
    (["seen", "one"], "an alarm's number is a whole number from 1 on, not 'one'"),
    (["done", "0"], "an alarm's number is a whole number from 1 on, not '0'"),
    (["why", "1.5"], "an alarm's number is a whole number from 1 on, not '1.5'"),
    (["why", "9223372036854775808"], "an alarm's number is a whole number from 1 on"),
    (["why", "²"], "an alarm's number is a whole number from 1 on"),
    (["why", "-1"], ""),
    (["demo", "--speed", "fast"], "a speed lies between 1 and 100000, not 'fast'"),
    (["demo", "--speed", "nan"], "a speed lies between 1 and 100000, not 'nan'"),
    (["demo", "--port", "70000"], "a port is a whole number up to 65535, not '70000'"),
    (["demo", "--stop-after", "-5"], ""),
    (["demo", "--settings", "x"], "`demo` takes no --settings x"),
]


@pytest.mark.parametrize(("words", "said"), WRONG, ids=lambda w: " ".join(w) if isinstance(w, list) else "")
def test_it_ends_with_64_and_one_sentence_on_standard_error(capsys, words, said):
    with pytest.raises(SystemExit) as end:
        main(words)
    out, errors = capsys.readouterr()
    assert (64, "", 1) == (end.value.code, out, len(errors.splitlines()))
    assert errors.startswith("vermistat: ")
    assert said in errors
    assert "Traceback" not in errors


def test_the_codes_are_those_of_sysexits():
    assert (os.EX_USAGE, os.EX_CONFIG) == (WRONG_CALL, WRONG_SETTINGS)


@pytest.mark.parametrize("words", [["--help"], ["--version"], ["now", "--help"], ["done", "-h"]])
def test_help_and_version_end_with_0(capsys, words):
    with pytest.raises(SystemExit) as end:
        main(words)
    assert 0 == end.value.code
    assert "vermistat" in capsys.readouterr().out


@pytest.mark.parametrize("name", commands())
def test_every_command_and_every_option_of_it_is_explained(name):
    sub = commands()[name]
    assert sub.description.endswith(".")
    assert not [a.dest for a in sub._actions if not a.help]
    assert "None" not in sub.format_help()


def test_settings_that_are_not_there_end_with_78(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("monitor.settings.places.PLACES", (tmp_path / "config" / "vermistat.yaml",))
    for words in (["now"], ["alarms"], ["why", "1"], ["seen", "1"], ["check"], ["run"]):
        assert 78 == main(words), words
        out, errors = capsys.readouterr()
        assert ("", True) == (out, "There are no settings." in errors), words


@pytest.mark.parametrize("words", [("now",), ("alarms",), ("why", "1"), ("seen", "1", "--as", "ana"), ("check",)])
def test_wrong_settings_end_with_78_and_every_mistake(tmp_path, capsys, words):
    site = Site(tmp_path)
    text = site.file.read_text()
    site.file.write_text(
        text.replace("species: eudrilus-eugeniae", "species: eudrilus").replace("floor:", "flor:")
    )
    code, errors = site.refuses(capsys, *words)
    assert 78 == code
    assert "The settings are refused:" == errors.splitlines()[0]
    assert 2 == sum(line.startswith(f"{site.file}:") for line in errors.splitlines())
    assert not site.store_file.exists()
