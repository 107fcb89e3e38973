"""`vermistat alarms`: what stands, what another alarm explains, what is over and not seen, and how to answer."""

import pytest

from cli.keeping import NOW, Site, cold, part
from monitor.checks.system import System
from monitor.readings import HOUR, MINUTE

WELL = {"fig_west": 24.0, "fig_east": 23.0, "fig_mat": 26.0, "fig_damp": 1500, "shed_air": 3.0}


def by_number(facts):
    return {alarm["number"]: alarm for alarm in facts["alarms"]}


def test_none_is_said_in_a_sentence(site, capsys):
    with site.lived() as house:
        house.say(**WELL)
    assert "No alarm stands.\n" == site.says(capsys, "alarms")
    assert {"at": "2026-11-25T12:00:00Z", "clock": None, "alarms": [], "shelves": [], "works": []} == site.tells(
        capsys, "alarms"
    )


def test_one_that_stands_says_the_reading_the_limit_its_source_and_how_to_answer(cold_site, capsys):
    limit = cold_site.rules.bins["fig"].limits["temperature"].harm[1].bound
    said = cold_site.says(capsys, "alarms")
    standing = part(said, "Standing")
    assert "1  Fig: too cold, harm; since 08:00, high priority, not seen yet\n" in standing
    assert "Warmest of 2 zones, west: 11.4 °C, 0.6 °C below the limit of 12 °C." in standing
    assert f"The limit comes from: {limit.source} [{limit.mark}]." in standing
    assert "`vermistat seen 1`" in said.splitlines()[-1]
    assert "`vermistat done 1 a few words`" in said.splitlines()[-1]


def test_the_standards_words_stay_in_the_facts(cold_site, capsys):
    alarm = by_number(cold_site.tells(capsys, "alarms"))[1]
    assert ("unacknowledged", "harm", "high", True) == tuple(
        alarm[key] for key in ("state", "level", "priority", "needs_answer")
    )
    assert ("bin:fig", "shed", "cold", None) == tuple(
        alarm[key] for key in ("subject", "place", "condition", "suppressed_by")
    )
    assert alarm["arithmetic"] == "warmest of 2 zones, west: 11.4 °C, at or below 12 °C"


def test_who_has_seen_one_is_said_with_the_time(cold_site, capsys):
    cold_site.says(capsys, "seen", "1", "--as", "ana")
    with cold_site.lived() as house:
        house.at = NOW
        house.rounds.run()
    alarm = by_number(cold_site.tells(capsys, "alarms"))[1]
    assert ("acknowledged", "ana", "2026-11-25T12:00:00Z", False) == tuple(
        alarm[key] for key in ("state", "seen_by", "seen_at", "needs_answer")
    )
    assert "seen by ana at 12:00" in cold_site.says(capsys, "alarms")


def silent_plum(site):
    """Plum's only probe stops at 08:00: it is silent, and so Plum has no good probe."""
    with site.lived() as house:
        house.say(**WELL, plum_near=18.0)
        while house.at < NOW:
            house.later(15).say(**WELL)


def test_what_another_alarm_explains_stands_apart_with_its_cause(site, capsys):
    silent_plum(site)
    facts = site.tells(capsys, "alarms")
    found = {a["condition"]: a for a in facts["alarms"]}
    assert "plum-near: silent" == found["unwatched"]["suppressed_by"]
    assert found["silent"]["suppressed_by"] is None
    said = site.says(capsys, "alarms")
    assert "plum-near: silent" in part(said, "Standing")
    explained = part(said, "Explained by another alarm, and so not told")
    assert "Plum: no good probe speaks for it" in explained
    assert "Explained by plum-near: silent." in explained


def test_harm_that_is_over_waits_to_be_seen(site, capsys):
    with site.lived() as house:
        cold(house)
        for _ in range(5):
            house.later(15).say(**WELL, plum_near=18.0)
    alarm = by_number(site.tells(capsys, "alarms"))[1]
    assert ("returned to normal unacknowledged", None, True) == (
        alarm["state"],
        alarm["level"],
        alarm["needs_answer"],
    )
    said = site.says(capsys, "alarms")
    assert "1  Fig: too cold, harm" in part(said, "Over, and not seen by anybody yet")
    assert "Standing" not in said


def test_trouble_of_the_program_itself_bears_its_name(site, capsys):
    with site.lived() as house:
        house.system = System(link_up=False, link_since=NOW - HOUR, link_detail="refused: \x1b[1mbad password")
        house.at = NOW - 50 * MINUTE
        house.rounds.run()
    said = site.says(capsys, "alarms")
    assert "Vermistat: broker lost" in said
    assert "\x1b" not in said


@pytest.mark.parametrize(
    ("units", "value", "limit"), [("metric", "11.4 °C", "12 °C"), ("us", "52.5 °F", "53.6 °F")]
)
def test_the_sentence_is_in_the_sites_units_and_the_arithmetic_is_not(tmp_path, noon, capsys, units, value, limit):
    site = Site(tmp_path, units=units)
    with site.lived() as house:
        cold(house)
    alarm = by_number(site.tells(capsys, "alarms"))[1]
    assert value in alarm["sentence"]
    assert f"limit of {limit}" in alarm["sentence"]
    assert "11.4 °C, at or below 12 °C" in alarm["arithmetic"]
