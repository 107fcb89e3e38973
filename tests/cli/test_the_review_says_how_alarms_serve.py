"""`vermistat alarms --review`: each figure beside what is printed of it and what that is for a keeper, and one proposal."""

import json
import re

import pytest

from cli.keeping import NOW, Site, part
from monitor.alarms.benchmarks import PUBLISHED
from monitor.readings import DAY, HOUR
from monitor.reports.review import KEEPERS
from monitor.reports.review_text import TITLES

WELL = {"fig_west": 24.0, "fig_east": 23.0, "fig_mat": 26.0, "fig_damp": 1500, "plum_near": 18.0, "shed_air": 3.0}
COOL = {**WELL, "fig_west": 20.8, "fig_east": 20.7}
BETTER = {**WELL, "fig_west": 22.2, "fig_east": 22.1}


def chattering(site, days=2):
    """Fig hangs at its limit until noon, with a shelf somewhere in between."""
    with site.lived() as house:
        house.at = NOW - days * DAY
        while house.at < NOW - 12 * HOUR:
            house.say(**WELL)
            house.later(30)
        for turn in range(4):
            for values in (COOL, BETTER):
                for _ in range(6):
                    house.later(15).say(**values)
            if turn == 2:
                house.store.ask(house.at, "ana", "working", body=json.dumps({"bin": "plum", "for": HOUR}))
        while house.at < NOW:
            house.later(15).say(**WELL)
        house.rounds.run()


def figure(facts, name):
    return next(f for f in facts["figures"] if f["name"] == name)


def test_the_worst_alarm_has_one_proposal_which_stands_first(site, capsys):
    chattering(site)
    facts = site.tells(capsys, "alarms", "--review")
    proposed = facts["proposal"]
    assert ("Fig: too cold", "chattering", "deadband") == (
        proposed["about"],
        proposed["fault"],
        proposed["remedy"],
    )
    assert (1.0, 1.5, "°C") == (proposed["before"], proposed["after"], proposed["unit"])
    said = site.says(capsys, "alarms", "--review")
    assert "a deadband of 1.5 °C instead of 1 °C would have kept it one alarm." in part(said, "Proposal")
    assert said.index("Proposal") < said.index("Figures")


def test_every_figure_stands_beside_what_is_printed_with_its_source(site, capsys):
    chattering(site)
    facts = site.tells(capsys, "alarms", "--review")
    assert set(PUBLISHED) == set(KEEPERS) == set(TITLES) == {f["name"] for f in facts["figures"]}
    for one in facts["figures"]:
        printed = PUBLISHED[one["name"]]
        assert (printed.words, printed.source, printed.mark) == (one["published"], one["source"], one["mark"])
    said = part(site.says(capsys, "alarms", "--review"), "Figures")
    assert "Told: 2 a day (bearable)" in said
    assert (
        "For a keeper: 1 a day, 2 are the most that can be managed. Printed: about 1 alarm in 10 minutes" in said
    )
    assert "Chattering: 1 (poor)" in said
    assert "High priority: 0 % (too few to say)" in said


def test_it_looks_at_as_many_days_as_there_are_or_as_were_asked_for(site, capsys):
    chattering(site)
    facts = site.tells(capsys, "alarms", "--review")
    assert (2.0, False, 4) == (facts["days"], facts["enough"], facts["told"])
    assert "The standards want 30 days before a figure is believed." in site.says(capsys, "alarms", "--review")
    today = site.tells(capsys, "alarms", "--review", "--days", "1")
    assert (1.0, 4.0, "poor") == (today["days"], figure(today, "rate")["value"], figure(today, "rate")["grade"])


def test_thirty_days_are_enough(site, capsys):
    with site.lived() as house:
        house.at = NOW - 31 * DAY
        house.say(**WELL)
    facts = site.tells(capsys, "alarms", "--review")
    assert (30.0, True) == (facts["days"], facts["enough"])


def test_who_was_told_how_often_is_counted(site, capsys):
    chattering(site)
    facts = site.tells(capsys, "alarms", "--review")
    ana = next(p for p in facts["people"] if p["person"] == "ana")
    assert ana["notices"] == ana["most_in_a_day"]
    assert ana["a_day"] == pytest.approx(ana["notices"] / 2)
    assert f"ana: {ana['notices']} notices" in part(site.says(capsys, "alarms", "--review"), "Notices")


def test_what_is_not_told_now_is_counted_by_its_reason(site, capsys):
    with site.lived() as house:
        house.say(**WELL)
        while house.at < NOW - HOUR:
            house.later(15).say(**{**COOL, "fig_west": 18.0, "fig_east": 18.0, "plum_near": 5.0})
        house.store.ask(house.at, "ana", "shelve", 1, body=json.dumps({"for": 3 * HOUR}))
        house.rounds.run()
    facts = site.tells(capsys, "alarms", "--review")
    assert ({"shelved": 1, "by_design": 0, "out_of_service": 0}, 1) == (facts["quiet"], facts["shelvings"])
    said = site.says(capsys, "alarms", "--review")
    assert (
        "Not told now: 1 shelved, 0 explained by another, 0 out of service. Shelved in all this time: 1 time."
        in said
    )


def test_a_site_where_nothing_happened_has_nothing_to_change(site, capsys):
    with site.lived() as house:
        house.say(**WELL)
    facts = site.tells(capsys, "alarms", "--review")
    assert (0, None, []) == (facts["told"], facts["proposal"], facts["frequent"])
    assert {"good", "too few to say"} == {f["grade"] for f in facts["figures"]}
    assert "No alarm serves badly: nothing to change." in site.says(capsys, "alarms", "--review")


def test_a_store_in_which_nothing_ever_was_is_looked_at_as_well(site, capsys):
    with site.lived():
        pass
    assert 0 == site.tells(capsys, "alarms", "--review")["told"]


def test_in_fahrenheit_no_celsius_is_left_but_in_what_is_printed(tmp_path, noon, capsys):
    site = Site(tmp_path, units="us")
    chattering(site)
    said = part(site.says(capsys, "alarms", "--review"), "Proposal")
    assert re.search(r"a deadband of 2\.7 °F instead of 1\.8 °F", said)
    assert "°C" not in said
