"""Whole notices, word for word: fixtures/notices holds what a keeper gets, for reading and for comparing."""

from pathlib import Path

import pytest

from parts.letters import LETTERS, written

FIXTURES = Path(__file__).parents[2] / "fixtures" / "notices"


@pytest.mark.parametrize("name", LETTERS)
def test_a_notice_reads_as_its_fixture(name):
    assert (FIXTURES / f"{name}.txt").read_text() == written(name)


def test_every_fixture_has_its_notice():
    assert {f"{name}.txt" for name in LETTERS} == {path.name for path in FIXTURES.iterdir()}


@pytest.mark.parametrize("name", LETTERS)
def test_a_notice_keeps_its_form(name):
    lines = LETTERS[name]().lines
    assert len(lines[0]) <= 90
    assert ": " in lines[0]
    assert any(letter.isdigit() for letter in lines[1])
    assert all(len(line) <= 90 for line in lines[3:])
    assert lines[1].partition(";")[0] in "\n".join(lines)[:160]


@pytest.mark.parametrize("name", LETTERS)
def test_a_notice_is_plain(name):
    text = written(name)
    assert "!" not in text
    assert "  " not in text
    assert ".." not in text
    assert all(ord(letter) < 0x2600 for letter in text)
    if "gallons" in name:
        assert "litre" not in text
