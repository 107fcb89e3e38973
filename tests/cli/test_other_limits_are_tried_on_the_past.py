"""`vermistat replay --with FILE`: the days behind us judged by other limits, and nothing changed by it."""

import pytest
from pydantic import TypeAdapter

from cli.keeping import NOW, Site, to_noon
from cli.test_json_has_its_shape import strict
from monitor.reports.replaying import ReplayShape, lived_of
from monitor.store.sqlite import SqliteStore
from parts.orchard import ms

NIGHT = {"fig_mat": 24.0, "fig_damp": 1500, "plum_near": 18.0, "shed_air": 3.0}


@pytest.fixture
def site(tmp_path, noon):
    found = Site(tmp_path, began="2026-11-24T12:00")
    with found.lived() as house:
        while house.at < ms("2026-11-24T20:00"):
            house.say(fig_west=23.0, fig_east=23.0, **NIGHT)
            house.later(15)
        while house.at < ms("06:00"):
            house.say(fig_west=19.0, fig_east=19.5, **NIGHT)
            house.later(15)
        to_noon(house, fig_west=23.0, fig_east=23.0, **NIGHT)
    return found


def other(site, limits):
    """A copy of the settings with other limits for a bin."""
    text = site.file.read_text().replace(
        "    worms: 2 kg", f"    limits: {{temperature: {{comfort: {limits}}}}}\n    worms: 2 kg"
    )
    file = site.folder / "other.yaml"
    file.write_text(text)
    return str(file)


def told(site, capsys, *words):
    facts = site.tells(capsys, "replay", *words)
    TypeAdapter(strict(ReplayShape)).validate_python(facts, strict=True)
    return facts


def test_a_lower_limit_would_have_let_the_night_be(site, capsys):
    facts = told(site, capsys, "--with", other(site, "18..29 °C"), "--days", "1")
    assert (1, 0) == (facts["now"]["alarms"], facts["others"]["alarms"])
    assert ["Fig: too cold"] == [one["about"] for one in facts["gone"]]
    assert [] == facts["new"]
    assert facts["now"]["notices"] >= 1 > facts["others"]["notices"]
    assert 8 < facts["now"]["hours"] < 12
    assert 1 == sum(facts["now"]["by_hour"]) == facts["now"]["by_hour"][21]  # an hour beyond the limit after 20:00


def test_a_higher_limit_would_have_told_of_the_day_as_well(site, capsys):
    facts = told(site, capsys, "--with", other(site, "24..29 °C"), "--days", "1")
    assert facts["others"]["hours"] > facts["now"]["hours"]
    assert [] == facts["gone"], "the same night is in both"


def test_by_the_same_limits_both_sides_are_the_same_and_as_the_daemon_had_it(site, capsys):
    facts = told(site, capsys, "--with", str(site.file), "--days", "1")
    assert (facts["now"], [], []) == (facts["others"], facts["gone"], facts["new"])
    store = SqliteStore(site.store_file, read_only=True)
    raised = [t for t in store.transitions(limit=1000) if t.event == "raised" and t.key.subject.id == "fig"]
    store.close()
    assert len(raised) == facts["now"]["alarms"]


def test_nothing_is_changed_by_it(site, capsys):
    before = site.tells(capsys, "alarms"), site.file.read_text()
    site.says(capsys, "replay", "--with", other(site, "18..29 °C"))
    assert before == (site.tells(capsys, "alarms"), site.file.read_text())


def test_it_is_said_in_sentences(site, capsys):
    said = site.says(capsys, "replay", "--with", other(site, "18..29 °C"), "--bin", "fig")
    assert "fig, from" in said
    assert "Only by the limits in force:\n  Fig: too cold, " in said
    assert "Nothing was changed." in said


def test_of_a_span_without_rounds_nothing_is_said(tmp_path, noon, capsys):
    empty = Site(tmp_path)
    SqliteStore(empty.store_file).close()
    facts = told(empty, capsys, "--with", str(empty.file))
    assert (0, 0, [], []) == (facts["now"]["alarms"], facts["others"]["notices"], facts["gone"], facts["new"])


def test_what_a_replay_is_made_of_are_the_rounds_and_readings_of_the_span(site):
    store = SqliteStore(site.store_file, read_only=True)
    lived = lived_of(store, site.rules, ["fig"], ms("00:00"), NOW)
    store.close()
    assert [r.number for r in lived.rounds] == sorted(r.number for r in lived.rounds)
    assert ms("00:00") <= lived.rounds[0].at <= lived.rounds[-1].at <= NOW
    assert {"fig-west", "fig-east", "fig-mat", "fig-damp", "shed-air"} == {r.probe for r in lived.readings}
    assert [r.arrival for r in lived.readings] == sorted(r.arrival for r in lived.readings)
