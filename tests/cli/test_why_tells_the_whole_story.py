"""`vermistat why NUMBER`: readings, limit with source and mark, arithmetic, steps, advice, who was told, diary."""

from dataclasses import replace

import pytest

from cli.keeping import NOW, Site, cold, part
from monitor.advice.cautions import sourced
from monitor.notify.notices import Decision, Verdict
from monitor.readings import DAY, HOUR, MINUTE
from monitor.reports.why import why_facts
from monitor.store.memory import MemoryStore
from parts import kept, orchard

WELL = {"fig_west": 24.0, "fig_east": 23.0, "fig_mat": 26.0, "fig_damp": 1500, "plum_near": 18.0, "shed_air": 3.0}


def test_it_begins_with_what_it_is_and_how_it_stands(cold_site, capsys):
    first, second = cold_site.says(capsys, "why", "1").splitlines()[:2]
    assert "Alarm 1. Fig: too cold, harm." == first
    # comfort from 21 °C and harm at 12 °C, each with a deadband of 1 °C and an off-delay of 1 h
    assert second == (
        "It stands since 08:00 and waits for an answer: `vermistat seen 1`, or `vermistat done 1` when it is done."
        " Harm is over at 13.0 °C or above. It ends once it has stayed at 22.0 °C or above for 1 h."
    )


def test_every_step_gives_its_reading_against_its_limit_and_each_limit_its_source(cold_site, capsys):
    limits = cold_site.rules.bins["fig"].limits["temperature"]
    measured = part(cold_site.says(capsys, "why", "1"), "What was measured")
    # 21 − 16.5 = 4.5 and 12 − 11.4 = 0.6
    assert "09:00  raised: Warmest of 2 zones, west: 16.5 °C, 4.5 °C below the limit of 21 °C for 1 h" in measured
    assert "12:00  rose: Warmest of 2 zones, west: 11.4 °C, 0.6 °C below the limit of 12 °C." in measured
    for bound in (limits.low, limits.harm[1].bound):
        assert f"The limit of {bound.value:g} °C comes from: {bound.source} [{bound.mark}]." in measured


def test_the_readings_that_decided_are_shown_as_they_are_kept(cold_site, capsys):
    readings = cold_site.tells(capsys, "why", "1")["readings"]
    times = ("08:00", "08:15", "08:30", "08:45", "09:00")
    expected = [("fig-west", f"2026-11-25T{at}:00Z", 16.5, "°C", True) for at in times]
    assert expected == [tuple(r.values()) for r in readings]
    said = part(cold_site.says(capsys, "why", "1"), "What was measured")
    assert "fig-west then: 16.5 °C (08:00)," in said


def test_in_us_units_the_arithmetic_stands_beside_the_sentence(tmp_path, noon, capsys):
    site = Site(tmp_path, units="us")
    with site.lived() as house:
        cold(house)
    measured = part(site.says(capsys, "why", "1"), "What was measured")
    assert "52.5 °F, 1.1 °F below the limit of 53.6 °F." in measured
    assert "Reckoned in °C: warmest of 2 zones, west: 11.4 °C, at or below 12 °C." in measured


def test_every_step_is_there_with_its_time_and_its_person(cold_site, capsys):
    cold_site.says(capsys, "done", "1", "two", "blankets", "--as", "ana")
    with cold_site.lived() as house:
        house.at = NOW
        house.rounds.run()
    facts = cold_site.tells(capsys, "why", "1")
    assert [("raised", "normal", "unacknowledged", None), ("rose", "unacknowledged", "unacknowledged", None),
            ("acknowledged", "unacknowledged", "acknowledged", "ana")] == [
        (s["event"], s["before"], s["after"], s["who"]) for s in facts["steps"]
    ]  # fmt: skip
    assert facts["sentence"].startswith("It stands since 08:00; ana saw it at 12:00.")
    assert [("2026-11-25T12:00:00Z", "ana", "done", "two blankets")] == [tuple(e.values()) for e in facts["diary"]]
    assert "  12:00  ana, done: two blankets\n" == part(cold_site.says(capsys, "why", "1"), "Diary")


def test_advice_comes_with_every_caution_and_where_each_comes_from(cold_site, capsys):
    facts, said = cold_site.tells(capsys, "why", "1"), cold_site.says(capsys, "why", "1")
    cautions = {caution for order in facts["advice"] for caution in order["cautions"]}
    assert len(cautions) > 3
    assert sorted(sourced(c) for c in cautions) == sorted(
        line.strip() for line in part(said, "With every caution").splitlines()
    )
    advised = part(said, "What was advised")
    for order in facts["advice"]:
        assert 1 in order["alarms"]
        assert order["why"] in advised
        assert f"12:00  {order['words'][0].upper()}{order['words'][1:]}." in advised


def test_who_was_told_and_who_was_not_is_said_with_the_reason(cold_site, capsys):
    with cold_site.lived() as house:
        house.store.sent(1, "mail", NOW + MINUTE)
    told = part(cold_site.says(capsys, "why", "1"), "Who was told, and who was not")
    assert "09:00  ana, of “raised”: told. ana is awake.\n" in told
    assert "Notice 1, sent by mail at 12:01\n" in told
    assert "09:00  ben, of “raised”: not told. ben hears only of plum.\n" in told
    facts = cold_site.tells(capsys, "why", "1")["told"]
    assert [{"channel": "mail", "state": "sent", "tries": 1, "sent_at": "2026-11-25T12:01:00Z", "error": ""}] == (
        facts[0]["sent"]
    )
    assert {"told", "not told"} == {one["verdict"] for one in facts}


def test_what_is_held_says_until_when(site, capsys):
    with site.lived() as house:
        house.at = NOW - 15 * HOUR
        house.say(**WELL)
        for _ in range(8):
            house.later(15).say(**{**WELL, "fig_west": 20.5, "fig_east": 20.0})
    # raised after ana's evening of 21:00, and only comfort: it waits for her 07:00
    held = site.tells(capsys, "why", "1")["told"][0]
    assert ("ana", "held", "2026-11-25T07:00:00Z") == (held["person"], held["verdict"], held["until"])
    assert "held until 07:00" in site.says(capsys, "why", "1")


def test_one_that_is_over_is_still_told_in_full(site, capsys):
    with site.lived() as house:
        while house.at < NOW - 2 * HOUR:
            house.say(**{**WELL, "fig_west": 20.0, "fig_east": 19.0})
            house.later(15)
        while house.at < NOW:
            house.say(**WELL)
            house.later(15)
    facts = site.tells(capsys, "why", "1")
    assert ("normal", "It is over since 11:00.") == (facts["state"], facts["sentence"])
    assert ["raised", "returned"] == [s["event"] for s in facts["steps"]]
    assert "11:00  returned: Warmest of 2 zones, west: 24.0 °C, above 22.0 °C again for 1 h." in site.says(
        capsys, "why", "1"
    )
    assert facts["advice"]
    assert [] == site.tells(capsys, "alarms")["alarms"]


def test_one_that_ended_because_the_settings_changed_says_so(cold_site, capsys):
    plum = {"plum": cold_site.rules.bins["plum"]}
    with cold_site.lived() as house:
        house.at = NOW
        house.restart(replace(house.rules, bins=plum))
        house.rounds.run()
    assert "It ended at 12:00: settings changed." == cold_site.tells(capsys, "why", "1")["sentence"]


def test_the_story_of_one_alarm_is_not_mixed_with_anothers(site, capsys):
    with site.lived() as house:
        cold(house, plum_near=29.0)
    facts = {number: site.tells(capsys, "why", str(number)) for number in (1, 2)}
    assert ["Fig: too cold, harm", "Plum: too hot"] == [one["about"] for one in facts.values()]
    assert all(number in order["alarms"] for number, one in facts.items() for order in one["advice"])
    assert {"plum-near"} == {r["probe"] for r in facts[2]["readings"]}


def test_an_alarm_that_never_was_is_refused(cold_site, capsys):
    said = "vermistat: nothing is known of an alarm 7; `vermistat alarms` lists those that stand\n"
    assert (1, said) == cold_site.refuses(capsys, "why", "7")


def test_of_all_there_is_only_its_own_story_is_read(monkeypatch):
    store, alarms = MemoryStore(), 200
    for number in range(1, alarms + 1):
        at = NOW + number * DAY
        step = kept.transition(number, at=at)
        told = Decision(at, "ana", number, "raised", Verdict.TOLD, "awake", None, None)
        store.commit(kept.round_(number, transitions=[step], decisions=[told]))
    for question in ("transitions", "decisions"):
        monkeypatch.setattr(store, question, lambda *_: pytest.fail("more is read than the story"))
    facts = why_facts(store, orchard.rules(), 90, NOW + 300 * DAY)
    assert ([90], ["raised"]) == ([facts["number"]], [step["event"] for step in facts["steps"]])
    assert ["raised"] == [told["event"] for told in facts["told"]]


@pytest.mark.parametrize("at", [NOW - 400 * DAY])
def test_an_old_alarm_is_found_whatever_came_after_it(site, capsys, at):
    with site.lived() as house:
        house.at = at
        house.say(**WELL)
        for _ in range(8):
            house.later(15).say(**{**WELL, "fig_west": 20.5, "fig_east": 20.0})
        house.at = NOW
        house.say(**WELL)
    facts = site.tells(capsys, "why", "1")
    assert facts["steps"][0]["at"].startswith("2025-10-2")
