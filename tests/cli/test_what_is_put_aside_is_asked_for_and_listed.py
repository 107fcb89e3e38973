"""`shelve`, `later`, `unshelve` and `working`: what is left for the daemon, what is refused, and where it is shown."""

import json

import pytest

from cli.keeping import NOW, SETTINGS, Site, part
from monitor.readings import DAY, HOUR, MINUTE
from monitor.store.promises import Request
from monitor.store.sqlite import SqliteStore

WELL = {"fig_west": 24.0, "fig_east": 23.0, "fig_mat": 26.0, "fig_damp": 1500, "plum_near": 18.0, "shed_air": 3.0}


def asked(site):
    store = SqliteStore(site.store_file, read_only=True)
    try:
        return store.asked()
    finally:
        store.close()


def round_at(site, at=NOW, **celsius):
    with site.lived() as house:
        house.at = at
        house.say(**celsius)


LEFT = [
    (("shelve", "1", "--for", "4h", "until", "tonight"), "shelve", 1, {"for": 4 * HOUR}, "until tonight"),
    (("shelve", "--for", "90 min", "1"), "shelve", 1, {"for": 90 * MINUTE}, ""),
    (("shelve", "1", "--until", "14:30"), "shelve", 1, {"for": 150 * MINUTE}, ""),
    (("shelve", "1", "--until", "2026-11-25 19:59"), "shelve", 1, {"for": 479 * MINUTE}, ""),
    (("later", "1"), "later", 1, {"for": 8 * HOUR}, ""),  # ana's 07:00 is further than what is high may wait
    (("later", "1", "--until", "13:00"), "later", 1, {"for": HOUR}, ""),
    (("working", "fig"), "working", 0, {"bin": "fig", "for": 2 * HOUR}, ""),
    (("working", "fig", "--for", "30min", "feeding"), "working", 0, {"bin": "fig", "for": 30 * MINUTE}, "feeding"),
]


@pytest.mark.parametrize(("words", "what", "alarm", "body", "note"), LEFT)
def test_one_request_is_left_with_its_length_and_its_words(cold_site, capsys, words, what, alarm, body, note):
    cold_site.says(capsys, *words, "--as", "ana")
    (request,) = asked(cold_site)
    assert Request(1, NOW, "ana", what, alarm, note, request.body) == request
    assert body == json.loads(request.body)


REFUSED = [
    (("shelve", "1", "--for", "481min"), "alarm 1 may be shelved for 8 h at most, by its priority: that is until 20:00"),
    (("shelve", "1", "--until", "11:59"), "alarm 1 may be shelved for 8 h at most, by its priority: that is until"
     " 20:00"),
    (("shelve", "1", "--until", "2026-11-25 12:00"), "that time is over; name one that is still to come"),
    (("later", "1", "--until", "2025-11-25 12:00"), "that time is over; name one that is still to come"),
    (("shelve", "2", "--for", "1h"), "no alarm has had the number 2 so far; `vermistat alarms` lists those that stand"),
    (("unshelve", "1"), "alarm 1 is not shelved; `vermistat alarms` lists what is"),
    (("unshelve", "9"), "alarm 9 is not shelved; `vermistat alarms` lists what is"),
    (("working", "figs"), "the settings know no bin called figs; did you mean fig?"),
    (("working", "shed"), "the settings know no bin called shed; known are fig, plum"),
    (("working", "fig", "--for", "13h"), "work in a bin may last 12 h at most; say it anew if it does"),
    (("working", "fig", "--done"), "nobody works in fig, so there is nothing to end"),
    (("working", "fig", "x" * 1001), "at most 1000 characters are kept at once, and this is 1001"),
]  # fmt: skip


@pytest.mark.parametrize(("words", "why"), REFUSED)
def test_what_cannot_be_is_refused_and_nothing_is_left(cold_site, capsys, words, why):
    assert (1, f"vermistat: {why}\n") == cold_site.refuses(capsys, *words, "--as", "ana")
    assert [] == asked(cold_site)


def test_what_will_happen_is_said(cold_site, capsys):
    said = cold_site.says(capsys, "shelve", "1", "--for", "4h", "the mat comes", "--as", "ana")
    assert "ana says: alarm 1 (Fig: too cold, harm) is shelved until 16:00, “the mat comes”.\n" in said
    assert "Until then nobody is told of it; what still stands then is told again." in said
    said = cold_site.says(capsys, "later", "1", "--as", "ana")
    assert "is put off until 20:00.\n" in said
    assert "That is as long as its priority allows." in said
    said = cold_site.says(capsys, "working", "fig", "--as", "ana")
    assert "ana says: work in Fig until 14:00.\n" in said
    assert "Harm that stands already stays told. Done before? Say so with --done." in said
    assert "Unplug the mat before hands, tools or water go in, and before lifting." in said
    said = cold_site.says(capsys, "working", "fig", "--done", "--as", "ana")
    assert "ana says: the work in Fig is over.\n" in said
    assert "Is the mat plugged in again?" in said
    said = cold_site.says(capsys, "unshelve", "1", "--as", "ana")
    assert "alarm 1 (Fig: too cold, harm) is shelved no longer.\n" in said
    assert 5 == len(asked(cold_site))


def test_something_that_may_become_harm_says_so(site, capsys):
    with site.lived() as house:
        while house.at <= NOW:
            house.say(**{**WELL, "fig_west": 18.0, "fig_east": 18.0})
            house.later(15)
    assert "told of it, unless it becomes harm;" in site.says(capsys, "shelve", "1", "--for", "7d", "--as", "ana")


def test_later_is_until_the_person_gets_up_or_four_hours(tmp_path, noon, capsys):
    for people, length in (
        ('  ana: {evening: "21:00", up: "07:00", channels: [mail]}\n', 19 * HOUR),
        ('  ana: {evening: "21:00", up: "12:59", channels: [mail]}\n', DAY + 59 * MINUTE),
        ("  ana: {channels: [mail]}\n", 4 * HOUR),
    ):
        start, _, rest = SETTINGS.partition("people:\n")
        folder = tmp_path / str(length)
        folder.mkdir()
        site = Site(folder, text=f"{start}people:\n{people}{rest[rest.index('channels: {mail') :]}")
        with site.lived() as house:
            while house.at <= NOW:
                house.say(**{**WELL, "fig_west": 18.0, "fig_east": 18.0})
                house.later(15)
        site.says(capsys, "later", "1")
        assert [{"for": length}] == [json.loads(request.body) for request in asked(site)]


def test_what_is_shelved_is_listed_with_who_why_and_until(cold_site, capsys):
    cold_site.says(capsys, "shelve", "1", "--for", "4h", "the mat comes", "--as", "ana")
    round_at(cold_site)
    facts = cold_site.tells(capsys, "alarms")
    held = {
        "who": "ana",
        "since": "2026-11-25T12:00:00Z",
        "until": "2026-11-25T16:00:00Z",
        "note": "the mat comes",
    }
    assert held == facts["alarms"][0]["shelved"]
    assert [{**held, "number": 1, "about": "Fig: too cold", "stands": True}] == facts["shelves"]
    said = cold_site.says(capsys, "alarms")
    assert "Shelved by ana from 12:00 until 16:00, “the mat comes”.\n" in part(said, "Shelved, and so not told")
    assert "Standing" not in said
    assert "Fig: too cold is shelved by ana until 16:00: told to nobody." in cold_site.says(capsys, "now")
    why = cold_site.says(capsys, "why", "1")
    assert "Nobody is told of it: it is shelved by ana until 16:00." in why
    assert "12:00  shelved: Shelved by ana for 4 h. Until 16:00. “the mat comes”" in why


def test_a_shelf_over_what_is_not_there_is_listed_as_well_and_can_be_taken_away(site, capsys):
    with site.lived() as house:
        while house.at < NOW - 90 * MINUTE:
            house.say(**{**WELL, "fig_west": 18.0, "fig_east": 18.0})
            house.later(15)
        house.store.ask(house.at, "ana", "shelve", 1, body=json.dumps({"for": DAY}))
        while house.at <= NOW:
            house.say(**WELL)
            house.later(15)
    assert [False] == [shelf["stands"] for shelf in site.tells(capsys, "alarms")["shelves"]]
    said = site.says(capsys, "alarms")
    assert said.startswith("No alarm stands.\n")
    assert "1  Fig: too cold; shelved by ana from 10:30 until tomorrow 10:30\n" in part(
        said, "Shelved, and not there now"
    )
    assert "alarm 1 (Fig: too cold) is shelved no longer." in site.says(capsys, "unshelve", "1", "--as", "ana")
    round_at(site, NOW + MINUTE)
    assert [] == site.tells(capsys, "alarms")["shelves"]


def test_a_bin_that_is_worked_in_is_listed_with_what_stands_in_it(site, capsys):
    with site.lived() as house:
        house.at = NOW - HOUR
        house.say(**WELL)
    site.says(capsys, "working", "fig", "turning", "--as", "ana")
    round_at(site, NOW, **{**WELL, "fig_west": 11.0, "fig_east": 11.0})
    facts = site.tells(capsys, "alarms")
    assert ("ana", "turning") == (facts["alarms"][0]["out_of_service"]["who"], facts["works"][0]["note"])
    assert ("fig", "Fig") == (facts["works"][0]["bin"], facts["works"][0]["about"])
    said = site.says(capsys, "alarms")
    assert "1  Fig: too cold, harm" in part(said, "Out of service, and so not told")
    assert "Fig: by ana from 12:00 until 14:00, “turning”. What its probes say is told to nobody." in part(
        said, "Worked in"
    )
    now = site.says(capsys, "now")
    assert "ana works in Fig until 14:00: what its probes say is told to nobody." in now
    assert "Nothing needs doing." in now
    assert "Nobody is told of it: ana works in fig until 14:00." in site.says(capsys, "why", "1")
    site.says(capsys, "working", "fig", "--done", "--as", "ana")
    round_at(site, NOW + MINUTE)
    assert [] == site.tells(capsys, "alarms")["works"]


def test_done_may_follow_before_the_beginning_is_taken_up(cold_site, capsys):
    cold_site.says(capsys, "working", "fig", "--as", "ana")
    cold_site.says(capsys, "working", "fig", "--done", "--as", "ana")
    cold_site.says(capsys, "shelve", "1", "--for", "1h", "--as", "ana")
    cold_site.says(capsys, "unshelve", "1", "--as", "ana")
    assert "ana said `working` at 12:00: the next round takes it up." in cold_site.says(capsys, "now")
    round_at(cold_site)
    assert ([], []) == tuple(cold_site.tells(capsys, "alarms")[kind] for kind in ("works", "shelves"))


def test_what_there_is_to_do_about_something_shelved_comes_last_and_under_its_own_title(cold_site, capsys):
    assert {False} == {order["shelved"] for order in cold_site.tells(capsys, "now")["to_do"]}
    cold_site.says(capsys, "shelve", "1", "--for", "4h", "--as", "ana")
    round_at(cold_site)
    facts = cold_site.tells(capsys, "now")
    assert {True} == {order["shelved"] for order in facts["to_do"]}
    said = cold_site.says(capsys, "now")
    assert "(alarm 1)" in part(said, "Put aside for now")
    assert "\nUrgent\n" not in said
