"""One file a mistake under fixtures/mistakes/publisher, each with the exact text that it is refused with."""

import re
from pathlib import Path

import pytest

from monitor.errors import SettingsError
from monitor.publisher import reading
from monitor.publisher.reading import load
from parts.mistaken import MONITOR, refusals, sentences, shown, walked

FOLDER = Path(__file__).parents[2] / "fixtures" / "mistakes" / "publisher"
CASES = sorted(path.stem for path in FOLDER.glob("*.yaml"))


def refused(name):
    with pytest.raises(SettingsError) as caught:
        load(Path(f"{name}.yaml"), environ={})
    return caught.value.mistakes


@pytest.mark.parametrize("name", CASES)
def test_a_mistake_is_refused_with_its_place_a_sentence_and_a_hint(name, monkeypatch):
    monkeypatch.chdir(FOLDER)
    mistakes = refused(name)
    assert (FOLDER / f"{name}.txt").read_text().splitlines() == mistakes
    for mistake in mistakes:
        assert re.fullmatch(r"[\w./-]+:\d+:\d+: .+[.?!] .+[.?]", mistake)


def test_there_are_enough_of_them_each_with_its_text_and_no_two_alike():
    texts = {path.stem: path.read_text() for path in FOLDER.glob("*.txt")}
    assert CASES == sorted(texts)
    assert len(CASES) >= 70
    assert len(texts) == len(set(texts.values()))


SAID_ELSEWHERE = {"There are no settings."}
"""Shown by a mistaken call: no file can bring it about."""
NO_MISTAKES = {key.says for keys in (reading.SECRET, reading.BROKER, reading.BUFFER, reading.COMMON, reading.WEIGHING,
                                     reading.TOP, *reading.KINDS.values()) for key in keys.values()}  # fmt: skip
NO_MISTAKES |= {key.example for keys in (reading.SECRET, reading.BROKER, reading.BUFFER, reading.COMMON, reading.TOP)
                for key in keys.values()}  # fmt: skip


def test_every_sentence_is_shown_by_some_file():
    told = [path.read_text() for path in FOLDER.glob("*.txt")]
    unseen = [
        f"{line}: {''.join(piece or '…' for piece in pieces)}"
        for line, pieces in sentences(MONITOR / "publisher" / "reading.py")
        if not shown(pieces, told)
        and "".join(p or "" for p in pieces) not in NO_MISTAKES
        and not any(said in "".join(p or "" for p in pieces) for said in SAID_ELSEWHERE)
    ]
    assert [] == unseen


def test_every_place_that_refuses_is_walked_by_some_file(monkeypatch):
    monkeypatch.chdir(FOLDER)
    path = MONITOR / "publisher" / "reading.py"
    with walked(path.parent) as lines:
        for name in CASES:
            refused(name)
    known = {line for file, line in lines if file == str(path)}
    places = list(refusals(path, {"Misread"}, {"wrong", "_wrong"}))
    assert len(places) >= 25
    assert [] == [code for first, last, code in places if not known & set(range(first, last + 1))]


def test_no_secret_is_ever_repeated(monkeypatch):
    monkeypatch.chdir(FOLDER)
    for name in CASES:
        assert "straw" not in "\n".join(refused(name))
        assert "secret@" not in "\n".join(refused(name))
