"""`vermistat seen` and `vermistat done`: a request is written and nothing else, or it is kindly refused."""

import sqlite3
from dataclasses import replace

import pytest

from cli.keeping import NOW, SETTINGS, Site, cold
from monitor.keeper import LONGEST_NOTE
from monitor.readings import HOUR, MINUTE
from monitor.store.promises import Request
from monitor.store.sqlite import SqliteStore


def everything(site):
    """Every row of every table but that of the requests."""
    with sqlite3.connect(site.store_file) as file:
        names = [n for (n,) in file.execute("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name")]
        rows = {
            n: file.execute(f"SELECT * FROM {n}").fetchall()
            for n in names
            if n not in ("request", "sqlite_sequence")
        }
    file.close()
    return rows


def asked(site):
    store = SqliteStore(site.store_file, read_only=True)
    try:
        return store.asked()
    finally:
        store.close()


def test_the_words_of_seen_stay_with_the_step_that_they_made(cold_site, capsys):
    cold_site.says(capsys, "seen", "1", "on my", "way", "--as", "ana")
    assert [Request(1, NOW, "ana", "seen", 1, "on my way")] == asked(cold_site)
    with cold_site.lived() as house:
        house.at = NOW
        house.rounds.run()
    step = cold_site.tells(capsys, "why", "1")["steps"][-1]
    assert ("acknowledged", "ana", "on my way") == (step["event"], step["who"], step["note"])
    assert "acknowledged: Seen by ana. “on my way”" in cold_site.says(capsys, "why", "1")


@pytest.mark.parametrize("what", ["seen", "done"])
def test_one_request_is_left_and_nothing_else_changes(cold_site, capsys, what):
    before = everything(cold_site)
    cold_site.says(capsys, what, "1", "--as", "ana")
    assert [Request(1, NOW, "ana", what, 1, "")] == asked(cold_site)
    assert before == everything(cold_site)


@pytest.mark.parametrize(
    "words",
    [
        ("done", "1", "two", "blankets on", "--as", "ana"),
        ("done", "1", "--as", "ana", "two", "blankets on"),
        ("done", "--as", "ana", "1", "two", "blankets on"),
        ("done", "1", "two", "--as", "ana", "blankets on"),
        ("done", "1", "--as=ana", "--", "two", "blankets on"),
    ],
)
def test_the_words_for_the_diary_may_stand_anywhere(cold_site, capsys, words):
    cold_site.says(capsys, *words)
    assert [Request(1, NOW, "ana", "done", 1, "two blankets on")] == asked(cold_site)


def test_what_will_happen_is_said(cold_site, capsys):
    said = cold_site.says(capsys, "seen", "1", "--as", "ana")
    assert "ana says: alarm 1 (Fig: too cold, harm) is seen.\n" in said
    assert "The next round takes it up, within about a minute." in said
    assert "diary" not in said
    said = cold_site.says(capsys, "done", "1", "two blankets on", "--as", "ana")
    assert "is done, “two blankets on”." in said
    assert "It goes into the diary. The alarm stands until the readings themselves say that it is over." in said


def test_where_no_round_runs_it_says_that_the_answer_waits(cold_site, capsys, monkeypatch):
    monkeypatch.setattr("monitor.clock.WallClock.now", lambda self: NOW + HOUR)
    facts = cold_site.tells(capsys, "seen", "1", "--as", "ana")
    assert (True, "2026-11-25T12:00:00Z") == (facts["waits"], facts["last_round"])
    assert facts["sentence"].startswith("It waits: no round seems to run.")
    assert 1 == len(asked(cold_site))


def test_harm_that_is_over_can_still_be_seen_and_ends_with_that(site, capsys):
    with site.lived() as house:
        cold(house)
        for _ in range(5):
            house.later(15).say(fig_west=24.0, fig_east=24.0, fig_mat=24.0, plum_near=18.0)
    said = site.says(capsys, "seen", "1", "--as", "ana")
    assert "The trouble itself is over, so the alarm ends with it." in said
    with site.lived() as house:
        house.at = NOW + 80 * MINUTE
        house.rounds.run()
    assert "alarm 1 is over" in site.refuses(capsys, "seen", "1", "--as", "ana")[1]


REFUSED = [
    (("seen", "1"), "say who you are with --as: ana, ben"),
    (("seen", "1", "--as", "ann"), "the settings know nobody called ann; did you mean ana?"),
    (("done", "1", "--as", "somebody"), "the settings know nobody called somebody; known are ana, ben"),
    (("seen", "2", "--as", "ana"), "no alarm has had the number 2 so far; `vermistat alarms` lists those that"
     " stand"),
    (("done", "1", "x" * (LONGEST_NOTE + 1), "--as", "ana"), "at most 1000 characters are kept at once, and this is 1001"),
]  # fmt: skip


@pytest.mark.parametrize(("words", "why"), REFUSED)
def test_what_cannot_be_answered_is_refused_and_nothing_is_left(cold_site, capsys, words, why):
    before = everything(cold_site)
    assert (1, f"vermistat: {why}\n") == cold_site.refuses(capsys, *words)
    assert [] == asked(cold_site)
    assert before == everything(cold_site)


def test_an_alarm_that_is_over_is_refused_with_where_its_story_stands(cold_site, capsys):
    with cold_site.lived() as house:
        house.at = NOW
        house.restart(replace(house.rules, bins={"plum": house.rules.bins["plum"]}))
        house.rounds.run()
    said = "vermistat: alarm 1 is over, so there is nothing to answer; `vermistat why 1` tells its story\n"
    assert (1, said) == cold_site.refuses(capsys, "done", "1", "--as", "ana")
    assert [] == asked(cold_site)


@pytest.mark.parametrize(
    ("people", "words", "who"),
    [
        ("  ana: {channels: [mail]}\n", (), "ana"),
        ("", (), "keeper"),
        ("", ("--as", "whoever"), "whoever"),
    ],
)
def test_who_it_is_needs_no_saying_where_there_is_no_doubt(tmp_path, noon, capsys, people, words, who):
    start, _, rest = SETTINGS.partition("people:\n")
    text = start + (f"people:\n{people}" if people else "") + rest[rest.index("channels: {mail") :]
    site = Site(tmp_path, text=text)
    with site.lived() as house:
        cold(house)
    assert who == site.tells(capsys, "seen", "1", *words)["who"]
    assert [who] == [request.who for request in asked(site)]


def test_a_note_with_control_characters_is_kept_on_one_line(cold_site, capsys):
    facts = cold_site.tells(capsys, "done", "1", "hot\x1b[31m\nbin", "--as", "ana")
    assert "hot�[31m�bin" == facts["note"]
    assert "\x1b" not in cold_site.says(capsys, "done", "1", "hot\x1b[31m\nbin", "--as", "ana")
    with cold_site.lived() as house:
        house.at = NOW
        house.rounds.run()
    assert "hot�[31m�bin" in cold_site.says(capsys, "why", "1")
