"""One file a mistake under fixtures/mistakes/command, each with its exit code and every line that is printed."""

from pathlib import Path

import pytest

from cli.mistaken_calls import outcome, read
from parts.mistaken import MONITOR, refusals, sentences, shown

FOLDER = Path(__file__).parents[2] / "fixtures" / "mistakes" / "command"
CALLS = {path.stem: read(path.read_text()) for path in sorted(FOLDER.glob("*.txt"))}
TOLD = [line for call in CALLS.values() for line in call.errors]


@pytest.mark.parametrize("name", CALLS)
def test_a_mistaken_call_ends_as_its_file_says(name, tmp_path, capsys, noon, monkeypatch):
    monkeypatch.setattr("monitor.settings.places.PLACES", (Path("config/vermistat.yaml"),))
    call = CALLS[name]
    code, errors, out = outcome(call, tmp_path, capsys)
    assert (call.code, call.errors, call.out) == (code, errors, out)
    assert code != 0


def test_there_are_enough_of_them_of_every_exit_code_and_no_two_alike():
    assert len(CALLS) >= 80
    assert {1: True, 64: True, 78: True} == {
        code: sum(call.code == code for call in CALLS.values()) >= 15 for code in {c.code for c in CALLS.values()}
    }
    assert len(CALLS) == len({(call.given, tuple(call.words)) for call in CALLS.values()})


def test_a_wrong_call_is_one_line_that_says_where_more_stands():
    for call in CALLS.values():
        if call.code == 64:
            (line,) = call.errors
            assert line.startswith("vermistat: ")
            assert " See `vermistat" in line


REFUSE = {"ArgumentTypeError", "RequestError", "StoreError", "SettingsError"}
HELPS = {"calls.py", "commands.py", "site.py", "app.py", "errors.py"}
"""Modules that say other things as well, so only their refusals are looked at."""
SAYS = sorted(
    path
    for path in [*MONITOR.glob("*.py"), *(MONITOR / "cli").glob("*.py")]
    if path.name == "site.py" or any(f"{kind}(" in path.read_text() for kind in ("RequestError", "ArgumentTypeError"))
)  # fmt: skip


def test_the_modules_that_refuse_a_call_are_among_them():
    assert {"calls.py", "keeper.py", "site.py", "deeds.py", "moments.py"} <= {path.name for path in SAYS}


@pytest.mark.parametrize("path", [path for path in SAYS if path.name != "errors.py"], ids=lambda path: path.stem)
def test_every_sentence_with_which_a_call_is_refused_is_shown_by_some_file(path):
    places = list(refusals(path, REFUSE, {"error"}))
    unseen = [
        f"{path.name}:{line}: {''.join(piece or '…' for piece in pieces)}"
        for line, pieces in sentences(path)
        if (path.name not in HELPS or any(first <= line <= last for first, last, _ in places))
        and not shown(pieces, TOLD)
    ]
    assert [] == unseen
