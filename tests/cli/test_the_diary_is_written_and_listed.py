"""`vermistat diary`: a line is left as a request, taken up by the next round, listed, corrected, and never changed."""

import json

import pytest

from cli.keeping import NOW, Site, cold
from cli.running import daemon, until, vermistat
from monitor.readings import DAY, HOUR, MINUTE
from monitor.store.promises import Request
from monitor.store.sqlite import SqliteStore
from parts.mosquitto import Mosquitto


def rounds(site, *, at=NOW, count=1):
    """What the daemon does at its next rounds."""
    with site.lived() as house:
        house.at = at
        for _ in range(count):
            house.rounds.run()


def asked(site):
    store = SqliteStore(site.store_file, read_only=True)
    try:
        return store.asked()
    finally:
        store.close()


def lines(text):
    return [line.strip() for line in text.splitlines()]


def write(site, capsys, text, *options):
    return site.says(capsys, "diary", *text.split(), "--as", "ana", *options)


def test_an_entry_waits_for_the_next_round_and_stands_from_then_on(cold_site, capsys):
    said = write(cold_site, capsys, "fig fed 1.5 kg kitchen scraps", "--at", "yesterday 18:00")
    assert (
        "1  yesterday 18:00  ana  Fig: fed 1.5 kg, kitchen scraps (written 12:00), waits for the next round"
        in said
    )
    assert "The next round takes it up, within about a minute. Not right? `--corrects 1` with what is." in said
    (request,) = asked(cold_site)
    assert ("ana", "diary", "kitchen scraps") == (request.who, request.what, request.note)
    assert {"deed": "fed", "subject": "bin:fig", "ago": 18 * HOUR, "amount": 1.5, "unit": "kg"} == json.loads(
        request.body
    )
    assert ", waits for the next round" in cold_site.says(capsys, "diary")
    rounds(cold_site)
    assert [] == asked(cold_site)
    assert ["1  yesterday 18:00  ana  Fig: fed 1.5 kg, kitchen scraps (written 12:00)"] == lines(
        cold_site.says(capsys, "diary")
    )
    (entry,) = cold_site.tells(capsys, "diary")["entries"]
    assert ("2026-11-24T18:00:00Z", "2026-11-25T12:00:00Z") == (entry["at"], entry["written_at"])
    assert ("fed", 1.5, "kg", False, None) == tuple(
        entry[k] for k in ("deed", "amount", "unit", "waits", "corrected_by")
    )


def test_a_correction_strikes_out_and_changes_nothing(cold_site, capsys):
    write(cold_site, capsys, "fig fed 15 kg")
    rounds(cold_site)
    before = cold_site.tells(capsys, "diary")["entries"][0]
    write(cold_site, capsys, "fig fed 1.5 kg", "--corrects", "1")
    rounds(cold_site)
    assert [
        "1  12:00  ana  Fig: fed 15 kg – NOT SO, corrected by 2",
        "2  12:00  ana  Fig: fed 1.5 kg (instead of 1)",
    ] == lines(cold_site.says(capsys, "diary"))
    after = cold_site.tells(capsys, "diary")["entries"][0]
    assert {**before, "corrected_by": 2} == after


def test_an_entry_can_be_corrected_before_a_round_has_taken_it_up(cold_site, capsys):
    write(cold_site, capsys, "fig fed 15 kg")
    said = write(cold_site, capsys, "fig fed 1.5 kg", "--corrects", "1")
    assert "It stands for entry 1, which is kept as corrected." in said
    rounds(cold_site)
    assert [2, None] == [e["corrected_by"] for e in cold_site.tells(capsys, "diary")["entries"]]


def test_what_no_entry_is_cannot_be_corrected(cold_site, capsys):
    said = "vermistat: the diary has no entry 9; `vermistat diary` shows their numbers\n"
    assert (1, said) == cold_site.refuses(capsys, "diary", "fig", "fed", "--corrects", "9", "--as", "ana")
    assert [] == asked(cold_site)


def test_what_was_done_about_an_alarm_stands_among_the_rest(cold_site, capsys):
    cold_site.says(capsys, "done", "1", "two blankets", "--as", "ana")
    rounds(cold_site)
    assert [
        "1  12:00  ana  Fig: done what alarm 1 asked, two blankets",
        "1  12:00  ana  long-mat: mat on, as alarm 1 asked",
    ] == lines(cold_site.says(capsys, "diary"))


def test_a_list_is_of_one_bin_or_from_a_day_on(cold_site, capsys):
    write(cold_site, capsys, "fig fed 1 kg", "--at", "3 days ago")
    write(cold_site, capsys, "plum fed 2 kg", "--at", "yesterday 10:00")
    write(cold_site, capsys, "long-mat on 40 W", "--at", "10:00")
    write(cold_site, capsys, "fig-east lifted", "--at", "11:00")
    rounds(cold_site)

    def numbers(*options):
        return [e["number"] for e in cold_site.tells(capsys, "diary", *options)["entries"]]

    assert [1, 2, 3, 4] == numbers()
    assert [1, 3, 4] == numbers("--bin", "fig")
    assert [2, 3] == numbers("--bin", "plum")  # one plug warms both
    assert [2, 3, 4] == numbers("--since", "yesterday")
    assert [4] == numbers("--since", "1 h ago", "--bin", "fig")
    assert 3 == cold_site.tells(capsys, "diary", "--since", "1 h ago")["earlier"]
    assert "3 earlier entries: say since when with --since." in cold_site.says(capsys, "diary", "--since", "11:00")


def test_a_site_in_gallons_reads_and_writes_pounds_and_gallons(tmp_path, noon, capsys):
    site = Site(tmp_path, units="us", zone="America/New_York")
    with site.lived() as house:
        cold(house)
    write(site, capsys, "fig fed 3 lb")
    write(site, capsys, "fig fed 1.5 kg")
    write(site, capsys, "fig watered ½")
    write(site, capsys, "long-mat on 40 W")
    rounds(site)
    assert [
        "1  07:00  ana  Fig: fed 3 lb",
        "2  07:00  ana  Fig: fed 3.31 lb",
        "3  07:00  ana  Fig: watered 0.5 gal",
        "4  07:00  ana  long-mat: mat on 40 W",
    ] == lines(site.says(capsys, "diary"))
    assert [1.360777, 1.5, 1.892706, 40.0] == [
        round(e["amount"], 6) for e in site.tells(capsys, "diary")["entries"]
    ]


def test_only_the_newest_fifty_are_listed_by_themselves(cold_site, capsys):
    store = SqliteStore(cold_site.store_file, read_only=True)
    for number in range(60):
        store.ask(NOW - (60 - number) * MINUTE, "ana", "diary", note=f"line {number}",
                  body='{"deed": "note", "subject": "bin:fig"}')  # fmt: skip
    store.close()
    rounds(cold_site)
    facts = cold_site.tells(capsys, "diary")
    assert (50, 10) == (len(facts["entries"]), facts["earlier"])
    assert "line 59" == facts["entries"][-1]["text"]
    assert 60 == len(cold_site.tells(capsys, "diary", "--since", "yesterday")["entries"])


def test_an_empty_diary_says_how_to_begin(cold_site, capsys):
    assert "Nothing is written here yet" in cold_site.says(capsys, "diary")


def test_it_is_written_where_no_daemon_runs_and_says_so(cold_site, capsys, monkeypatch):
    monkeypatch.setattr("monitor.clock.WallClock.now", lambda self: NOW + DAY)
    said = write(cold_site, capsys, "fig fed 1 kg")
    assert "It waits: no round seems to run. It counts as soon as `vermistat run` runs again." in said
    rounds(cold_site, at=NOW + 2 * DAY)
    (entry,) = cold_site.tells(capsys, "diary")["entries"]
    assert ("2026-11-26T12:00:00Z", "2026-11-26T12:00:00Z") == (entry["at"], entry["written_at"])


@pytest.mark.parametrize(
    "body",
    ["[]", "3", "{}", '{"deed": "danced"}', '{"deed": "fed", "amount": "much"}', '{"deed": "fed", "amount": 1e999}',
     '{"deed": "fed", "amount": -1}', '{"deed": "fed", "ago": "long"}', '{"deed": "fed", "corrects": []}'],
)  # fmt: skip
def test_a_request_that_makes_no_sense_writes_nothing_and_stops_no_round(cold_site, capsys, body):
    store = SqliteStore(cold_site.store_file, read_only=True)
    store.ask(NOW, "ana", "diary", body=body)
    store.close()
    rounds(cold_site, count=2)
    assert [] == cold_site.tells(capsys, "diary")["entries"]
    assert [] == asked(cold_site)


def test_a_request_from_the_far_future_of_the_past_stays_within_time(cold_site, capsys):
    store = SqliteStore(cold_site.store_file, read_only=True)
    store.ask(NOW, "ana", "diary", body=json.dumps({"deed": "fed", "subject": "bin:fig", "ago": 10**30}))
    store.close()
    rounds(cold_site)
    assert ["1970-01-01T00:00:00Z"] == [e["at"] for e in cold_site.tells(capsys, "diary")["entries"]]


def test_now_says_that_a_line_waits(cold_site, capsys):
    write(cold_site, capsys, "fig fed 1 kg")
    assert "ana wrote into the diary at 12:00: the next round takes it up." in cold_site.says(capsys, "now")


def test_several_people_must_say_who_they_are(cold_site, capsys):
    code, said = cold_site.refuses(capsys, "diary", "fig", "fed")
    assert (1, "vermistat: say who you are with --as: ana, ben\n") == (code, said)


def test_the_request_is_one_and_the_only_thing_that_is_left(cold_site, capsys):
    write(cold_site, capsys, "fig note all well")
    body = '{"deed": "note", "subject": "bin:fig", "ago": 0}'
    assert [Request(1, NOW, "ana", "diary", 0, "all well", body)] == asked(cold_site)


def test_the_running_daemon_takes_a_line_up(tmp_path):
    with Mosquitto() as broker:
        site = Site(tmp_path, port=broker.port)
        with daemon(site.file):
            done = vermistat("diary", "--settings", site.file, "fig", "fed", "1.5", "kg", "--as", "ana", "--at",
                             "1 h ago")  # fmt: skip
            assert (0, "") == (done.returncode, done.stderr)

            def taken():
                listed = vermistat("diary", "--settings", site.file, "--json")
                return [e for e in json.loads(listed.stdout)["entries"] if not e["waits"]]

            (entry,) = until(taken)
            assert ("fed", "Fig: fed 1.5 kg") == (entry["deed"], entry["sentence"])
