"""A finished run is taken again only where the same was asked of the same code."""

from __future__ import annotations

from pathlib import Path

import pytest

from bench.forecast import kept


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("VERMISTAT_KEPT", str(tmp_path / "kept"))
    return tmp_path / "kept"


def _refuses() -> int:
    raise AssertionError("it was run again")


def test_what_was_finished_is_not_run_again(folder: Path) -> None:
    assert 7 == kept.once(("newark", 1), lambda: 7)
    assert 7 == kept.once(("newark", 1), _refuses)


def test_what_else_is_asked_is_run(folder: Path) -> None:
    kept.once(("newark", 1), lambda: 7)
    assert 8 == kept.once(("newark", 2), lambda: 8)


def test_what_other_code_left_is_not_taken(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    kept.once(("newark", 1), lambda: 7)
    monkeypatch.setattr(kept, "code", lambda: "of another day")
    assert 8 == kept.once(("newark", 1), lambda: 8)


def test_a_run_that_broke_leaves_nothing(folder: Path) -> None:
    with pytest.raises(AssertionError):
        kept.once(("newark", 1), _refuses)
    assert [] == list(folder.glob("*"))
    assert 7 == kept.once(("newark", 1), lambda: 7)


def test_without_a_folder_each_is_run(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("VERMISTAT_KEPT", raising=False)
    assert [7, 8] == [kept.once(("newark", 1), lambda: 7), kept.once(("newark", 1), lambda: 8)]
