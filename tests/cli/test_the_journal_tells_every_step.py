"""`vermistat alarms --journal`: each step with its time, who and why, in the keeper's words, newest last."""

import json
from dataclasses import replace

import pytest

from cli.keeping import NOW, Site, cold
from monitor.alarms.cycle import Event
from monitor.checks.system import System
from monitor.readings import DAY, HOUR, MINUTE
from monitor.reports import journal
from monitor.reports.journal import journal_facts
from monitor.store.memory import MemoryStore
from parts import kept, orchard

WELL = {"fig_west": 24.0, "fig_east": 23.0, "fig_mat": 26.0, "fig_damp": 1500, "plum_near": 18.0, "shed_air": 3.0}


def ask(house, what, alarm=0, note="", **body):
    house.store.ask(house.at, "ana", what, alarm, note, body=json.dumps(body))
    house.rounds.run()


def a_morning(site):
    """Cold, seen, shelved, worked in, put right."""
    with site.lived() as house:
        house.say(**{**WELL, "fig_west": 11.4, "fig_east": 11.1})
        ask(house.later(5), "seen", 1, "on my way")
        ask(house.later(5), "shelve", 1, "the mat comes", **{"for": 2 * HOUR})
        ask(house.later(5), "working", note="turning", bin="fig", **{"for": HOUR})
        for _ in range(6):
            house.later(15).say(**WELL)
        for _ in range(4):
            house.later(15).say(plum_near=18.0, shed_air=3.0)
        house.system = System(link_up=False, link_since=house.at)
        for _ in range(4):
            house.later(15).rounds.run()


def entries(site, capsys, *words):
    return site.tells(capsys, "alarms", "--journal", *words)["entries"]


def test_every_step_is_told_in_order_with_time_and_who(site, capsys):
    a_morning(site)
    told = [(e["at"][11:16], e["event"], e["who"]) for e in entries(site, capsys) if e["about"].startswith("Fig")]
    assert [
        ("08:00", "raised", None),
        ("08:05", "acknowledged", "ana"),
        ("08:10", "shelved", "ana"),
        ("08:15", "working", "ana"),
        ("09:15", "work over", "ana"),
        ("09:30", "returned", None),
    ] == [t for t in told if t[0] < "09:31"]


def test_the_lines_are_in_the_keepers_words(site, capsys):
    a_morning(site)
    said = site.says(capsys, "alarms", "--journal").splitlines()
    assert "Every step since 18 Nov 12:00, newest last." == said[0]
    assert "Wed 25 Nov 2026" == said[2]
    assert (
        "  08:00  1  Fig: too cold, harm. It began. Warmest of 2 zones, west: 11.4 °C, 0.6 °C below the limit of 12 °C."
        in said
    )
    assert "  08:05  1  Fig: too cold, harm. Seen by ana. “on my way”" in said
    assert "  08:10  1  Fig: too cold, harm. Shelved by ana until 10:10. “the mat comes”" in said
    assert "  08:15  –  ana works in Fig (for 1 h; turning)." in said
    assert "  09:15  –  The work of ana in Fig is over (the time that ana gave is over)." in said
    assert any(line.startswith("  09:30  1  Fig: too cold") and "Over. Warmest" in line for line in said)
    assert any("Vermistat: broker lost. It began." in line for line in said)
    assert any(line.endswith("Not told: Vermistat: broker lost explains it.") for line in said)


def test_no_step_is_without_words(site, capsys):
    a_morning(site)
    assert set(Event) == set(journal._SAYS)
    for entry in entries(site, capsys):
        assert entry["sentence"].endswith(".")
        assert "probe:" not in entry["sentence"]


def test_of_one_bin_are_its_own_its_zones_and_its_probes(site, capsys):
    a_morning(site)
    of_fig = entries(site, capsys, "--bin", "fig")
    names = {e["about"].partition(":")[0] for e in of_fig}
    assert {"Fig", "fig-west"} <= names
    assert not {n for n in names if n.startswith(("plum", "Plum", "Verm", "shed"))}
    assert "working" in {e["event"] for e in of_fig}
    assert "working" not in {e["event"] for e in entries(site, capsys, "--bin", "plum")}
    assert (1, "vermistat: the settings know no bin called figs; known are fig, plum\n") == site.refuses(
        capsys, "alarms", "--journal", "--bin", "figs"
    )


def test_it_begins_a_week_ago_or_on_the_day_that_is_named(tmp_path, noon, capsys):
    site = Site(tmp_path)
    with site.lived() as house:
        house.at = NOW - 20 * DAY
        cold(house)
    assert {"2026-11-25"} == {e["at"][:10] for e in entries(site, capsys)}
    older = entries(site, capsys, "--since", "2026-11-05")
    assert {"2026-11-05", "2026-11-25"} <= {e["at"][:10] for e in older}
    assert "2026-11-05" not in {e["at"][:10] for e in entries(site, capsys, "--since", "2026-11-06")}


def test_nothing_is_said_in_a_sentence(site, capsys):
    with site.lived() as house:
        house.say(**WELL)
    assert "Nothing of Fig since 18 Nov 12:00.\n" == site.says(capsys, "alarms", "--journal", "--bin", "fig")


def test_a_journal_that_is_longer_than_is_looked_through_says_so(monkeypatch):
    monkeypatch.setattr(journal, "MOST", 3)
    store = MemoryStore()
    for number in range(1, 6):
        store.commit(kept.round_(number, transitions=[kept.transition(number, kept.T0 + number)]))
    facts = journal_facts(store, orchard.rules(), kept.T0 + HOUR)
    assert (False, [3, 4, 5]) == (facts["whole"], [e["number"] for e in facts["entries"]])


@pytest.mark.parametrize(
    "cause", ["Explained by nothing known (probe:x).", "Explained by silent (ghost:x).", "Odd."]
)
def test_a_cause_that_this_version_does_not_know_is_told_as_it_was_recorded(cause):
    store = MemoryStore()
    step = replace(kept.transition(1, kept.T0), event=Event.SUPPRESSED, cause=cause)
    store.commit(kept.round_(1, transitions=[step]))
    (entry,) = journal_facts(store, orchard.rules(), kept.T0 + MINUTE)["entries"]
    assert cause == entry["sentence"]


@pytest.mark.parametrize("zone", ["Europe/Lisbon", "Pacific/Auckland"])
def test_days_are_those_of_the_local_clock(tmp_path, noon, capsys, zone):
    site = Site(tmp_path, zone=zone)
    with site.lived() as house:
        house.at = NOW - 30 * MINUTE
        house.say(**{**WELL, "fig_west": 11.4, "fig_east": 11.1})
    said = site.says(capsys, "alarms", "--journal")
    assert ("Thu 26 Nov 2026" if zone == "Pacific/Auckland" else "Wed 25 Nov 2026") in said.splitlines()
    assert ("  00:30  1  " if zone == "Pacific/Auckland" else "  11:30  1  ") in said
