"""A store that is not there, damaged, newer, locked: one sentence that says what to do, and 1."""

import sqlite3

import pytest

from cli.keeping import NOW
from monitor.store.migrations import STEPS
from monitor.store.sqlite import SqliteStore

ALL = [("now",), ("alarms",), ("why", "1"), ("seen", "1", "--as", "ana"), ("done", "1", "--as", "ana")]


@pytest.mark.parametrize("words", ALL, ids=lambda w: w[0])
def test_none_yet_says_how_to_begin(site, capsys, words):
    code, said = site.refuses(capsys, *words)
    assert (1, True) == (
        code,
        said.startswith(f"vermistat: {site.store_file} is not there yet: start `vermistat run`"),
    )
    assert not site.store_file.exists()


@pytest.mark.parametrize("words", ALL, ids=lambda w: w[0])
def test_a_damaged_one_says_what_to_do_with_it(cold_site, capsys, words):
    whole = cold_site.store_file.read_bytes()
    cold_site.store_file.write_bytes(b"no database " * 200)
    code, said = cold_site.refuses(capsys, *words)
    assert (1, True) == (code, "is damaged or is not a store" in said)
    assert "put a copy from before in its place" in said
    cold_site.store_file.write_bytes(whole)


@pytest.mark.parametrize("words", ALL, ids=lambda w: w[0])
def test_one_of_a_newer_program_is_left_alone(cold_site, capsys, words):
    with sqlite3.connect(cold_site.store_file) as file:
        file.execute(f"PRAGMA user_version = {len(STEPS) + 1}")
    file.close()
    code, said = cold_site.refuses(capsys, *words)
    assert (1, True) == (code, "was written by a newer Vermistat" in said)


def test_a_store_that_somebody_locks_can_be_read_and_an_answer_is_asked_for_again(cold_site, capsys, monkeypatch):
    monkeypatch.setattr(
        "monitor.site.open_to_read", lambda _: SqliteStore(cold_site.store_file, read_only=True, busy_ms=1)
    )
    with sqlite3.connect(cold_site.store_file, isolation_level=None) as file:
        file.execute("BEGIN IMMEDIATE")
        assert "Fig" in cold_site.says(capsys, "now")
        code, said = cold_site.refuses(capsys, "seen", "1", "--as", "ana")
        file.execute("ROLLBACK")
    file.close()
    assert (1, True) == (code, "is locked by another program; it may be free in a moment: try again" in said)
    assert "alarm 1" in cold_site.says(capsys, "seen", "1", "--as", "ana")


def test_everything_works_beside_a_daemon_that_holds_the_store(cold_site, capsys):
    with cold_site.lived() as house:
        for words in ALL:
            cold_site.says(capsys, *words)
        house.at = NOW
        house.rounds.run()
        assert [] == house.store.asked()


def test_a_folder_that_may_not_be_looked_into_is_said(site, capsys, monkeypatch):
    def closed(_):
        raise PermissionError(13, "Permission denied", str(site.store_file))

    monkeypatch.setattr("monitor.site.open_to_read", closed)
    code, said = site.refuses(capsys, "now")
    assert (1, f"vermistat: {site.store_file}: permission denied\n") == (code, said)
