"""`vermistat export` and `vermistat import`: out and in again, from another logger, and nothing told of the past."""

import json

import pytest
from pydantic import TypeAdapter

from cli.keeping import NOW, Site, cold
from cli.test_json_has_its_shape import strict
from monitor.readings import DAY, HOUR, MINUTE, Reading
from monitor.reports.carrying import ImportShape
from monitor.store.promises import Batch
from monitor.store.sqlite import SqliteStore


@pytest.fixture
def site(tmp_path):
    found = Site(tmp_path)
    with found.lived() as house:
        cold(house)
    return found


def called(site, capsys, *words):
    capsys.readouterr()
    code = site.call(*words)
    out, errors = capsys.readouterr()
    return code, out, errors


def everything(site):
    store = SqliteStore(site.file.with_name("kept.db"), read_only=True)
    found = {r.probe: store.window(r.probe, -(2**62), 2**62) for r in store.after(0)}
    store.close()
    return found


def plain(readings):
    return [(r.probe, r.at, r.value, r.received_at, r.quality, r.own_time) for r in readings]


@pytest.mark.parametrize("how", [(), ("--json",)])
def test_an_export_into_an_empty_store_is_the_same_history(site, tmp_path, capsys, how):
    before = everything(site)
    assert len(before) >= 2
    code, out, errors = called(site, capsys, "export", *how)
    assert (0, "") == (code, errors)
    (tmp_path / "history").write_text(out)
    site.file.with_name("kept.db").unlink()
    code, out, errors = called(site, capsys, "import", str(tmp_path / "history"))
    assert (0, "") == (code, errors)
    after = everything(site)
    assert {p: plain(r) for p, r in before.items()} == {p: plain(r) for p, r in after.items()}
    assert f"{sum(map(len, before.values()))} readings are new here, 0 were here already." in out


def test_some_probes_and_some_days_are_chosen(site, capsys, noon):
    _, out, _ = called(site, capsys, "export", "fig-west", "--json", "--since", "today", "--until", "10:00")
    rows = [json.loads(line) for line in out.splitlines()]
    assert {"fig-west"} == {row["probe"] for row in rows}
    assert all("2026-11-25T00:00" <= row["time"] < "2026-11-25T10:00" for row in rows)
    assert (1, "") == called(site, capsys, "export", "moon")[:2]


TABLE = "Time,Fig (°F)\n2025-06-01 12:00,68\n2025-06-01 12:10,nothing\n2025-06-01 12:20,185\n"


def test_another_loggers_table_is_looked_at_first(site, tmp_path, capsys):
    (tmp_path / "old.csv").write_text(TABLE, encoding="utf-8")
    words = ("import", str(tmp_path / "old.csv"), "--probe", "fig-west", "--value-column", "fig")
    before = everything(site)
    code, out, _ = called(site, capsys, *words, "--only-look")
    assert 0 == code
    assert "old.csv holds 2 readings from 2025-06-01T11:00:00.000Z to 2025-06-01T11:20:00.000Z." in out
    assert "line 3: 'nothing' is no number" in out
    assert "1 of them says what no bed can be" in out
    code, out, _ = called(site, capsys, *words)
    assert 1 == code
    assert "Nothing was kept. Mend these lines, or pass over them with --skip-problems." in out
    assert before == everything(site)
    code, out, _ = called(site, capsys, *words, "--skip-problems", "--json")
    TypeAdapter(strict(ImportShape)).validate_python(json.loads(out), strict=True)
    assert (0, 2, 1) == (code, json.loads(out)["new"], json.loads(out)["untrusted"])
    assert [20.0, 85.0] == [round(r.value, 3) for r in everything(site)["fig-west"][:2]]


def test_nobody_is_told_of_what_was_brought_in(site, tmp_path, capsys):
    rows = "".join(f"{(NOW - 30 * DAY + n * 10 * MINUTE) // 1000},3\n" for n in range(300))
    (tmp_path / "cold.csv").write_text("time,value\n" + rows)
    assert 0 == called(site, capsys, "import", str(tmp_path / "cold.csv"), "--probe", "fig-west")[0]
    with site.lived() as house:
        steps, past = house.store.transitions(limit=10_000), house.store.past_episodes()
        house.at = NOW
        report = house.rounds.run()
        assert 0 == report.readings
        assert steps == house.store.transitions(limit=10_000)
        assert past == house.store.past_episodes()


def test_readings_that_no_round_has_seen_are_not_passed_over(site, tmp_path, capsys):
    with site.lived() as house:
        house.store.keep(Batch([Reading("fig-west", NOW - HOUR + 1, 3.0, NOW - HOUR + 1)]))
    (tmp_path / "old.csv").write_text("time,value\n1700000000,20\n")
    before = everything(site)
    code, out, errors = called(site, capsys, "import", str(tmp_path / "old.csv"), "--probe", "fig-west")
    assert (1, "") == (code, out)
    assert "readings wait here for a round of the daemon" in errors
    assert before == everything(site)


def test_a_running_daemon_keeps_its_store_to_itself(site, tmp_path, capsys):
    (tmp_path / "old.csv").write_text("time,value\n1700000000,20\n")
    with site.lived():
        code, _, errors = called(site, capsys, "import", str(tmp_path / "old.csv"), "--probe", "fig-west")
    assert 1 == code
    assert "two daemons cannot share it" in errors


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("nowhere.csv", "--probe", "fig-west"), "no such file"),
        (("bytes.csv", "--probe", "fig-west"), "is not UTF-8 text (byte 5)"),
        (("plain.csv", "--probe", "moon"), "the settings know no probe moon"),
        (("plain.csv",), "say whose readings these are with --probe"),
        (("plain.csv", "--probe", "fig-west", "--value-column", "x"), "names no column 'x'; it names time, value"),
    ],
)
def test_what_cannot_be_read_is_refused_in_words(site, tmp_path, capsys, words, said):
    (tmp_path / "bytes.csv").write_bytes(b"time,\xff")
    (tmp_path / "plain.csv").write_text("time,value\n")
    code, out, errors = called(site, capsys, "import", str(tmp_path / words[0]), *words[1:])
    assert (1, "") == (code, out)
    assert said in errors
