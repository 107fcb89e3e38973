"""`vermistat care`: food and water of every bin out of a lived store."""

import pytest

from cli.keeping import NOW, SETTINGS, Site, to_noon
from monitor.readings import DAY


@pytest.fixture
def site(tmp_path, noon):
    found = Site(tmp_path, began="2026-11-15T12:00")
    with found.lived() as house:
        to_noon(
            house,
            every=180,
            fig_west=24.0,
            fig_east=24.0,
            fig_mat=25.0,
            fig_damp=1650,
            plum_near=18.0,
            shed_air=12.0,
        )
        house.store.ask(
            NOW - 5 * DAY,
            "ana",
            "diary",
            0,
            "melon",
            body='{"deed": "fed", "subject": "bin:fig", "amount": 1, "unit": "kg"}',
        )
        house.say(fig_west=24.0)
    return found


def test_food_and_water_stand_there_with_what_is_not_known(site, capsys):
    said = site.says(capsys, "care")
    assert "Fig:\n  food: look under the cover; if the last feed is gone, feed about " in said
    assert "  water: " in said and "dry limit of 70 %" in said
    assert "Plum:\n  food: look under the cover when you pass" in said
    assert "not known: no moisture probe speaks" in said


def test_of_one_bin_alone(site, capsys):
    facts = site.tells(capsys, "care", "fig")
    (fig,) = facts["bins"]
    assert ("fig", "look now") == (fig["bin"], fig["feed"]["due"])
    assert fig["water"]["moisture"] == pytest.approx(69.1, abs=0.2)


def test_what_is_done_with_hands_and_water_carries_its_cautions(site, capsys):
    (fig,) = site.tells(capsys, "care", "fig")["bins"]
    assert fig["cautions"][0].startswith("Unplug the mat before hands, tools or water go in")
    for words in ("below 30 °C", "Sprinkle, never pour", "never quick or hydrated lime"):
        assert any(words in one for one in fig["cautions"])
    assert "  caution: Unplug the mat" in site.says(capsys, "care", "fig")


ON_A_SCALE = SETTINGS.replace(
    "near: {probes: {plum-near:",
    "near: {probes: {plum-scale: {measures: mass, topic: probes/plum-scale, sends: lb, offset: -4.2 kg}, plum-near:",
)


@pytest.fixture
def weighed(tmp_path, noon):
    """Plum, on a scale whose tare is 4.2 kg: it loses 0.12 kg a day, after a watering nine days ago."""
    found = Site(tmp_path, text=ON_A_SCALE, began="2026-11-15T12:00")
    with found.lived() as house:
        house.store.ask(
            NOW - 9 * DAY,
            "ana",
            "diary",
            0,
            "melon",
            body='{"deed": "watered", "subject": "bin:plum", "amount": 3, "unit": "L"}',
        )
        while house.at <= NOW:
            gone = 0.12 * (house.at - NOW) / DAY
            house.say(plum_near=18.0, plum_scale=34.2 - gone - (3.0 if house.at < NOW - 9 * DAY else 0.0))
            house.later(180)
    return found


def test_a_bin_on_a_scale_is_told_by_its_weight(weighed, capsys):
    said = weighed.says(capsys, "care", "plum")
    assert "By its scale it loses 0.12 kg a day" in said
    assert (
        "kg then, 30.02 kg now" in said
    )  # 30 kg at noon, so 0.12 × 4.5 / 24 more in the mean of the six hours before
    assert "not known: no hand said how wet it was since the scale weighs it: `vermistat squeeze`" in said
    (plum,) = weighed.tells(capsys, "care", "plum")["bins"]
    assert plum["water"]["litres"]["low"] == pytest.approx(0.12 * 8.5, abs=0.1)
    assert 0 < plum["water"]["first"] < plum["water"]["litres"]["low"] / 3


def test_its_weight_stands_among_the_probes_and_in_the_bin(weighed, capsys):
    (line,) = [line for line in weighed.says(capsys, "probes").splitlines() if "plum-scale" in line]
    assert "30 kg" in line and "minus 4.2 kg" in line
    (near,) = [z for b in weighed.tells(capsys, "now")["bins"] if b["id"] == "plum" for z in b["zones"]]
    assert (30.0, "kg") in [(v["value"], v["unit"]) for v in near["values"]]


def test_now_says_in_a_line_what_is_due_and_the_week_with_what_to_look_at(site, capsys):
    said = site.says(capsys, "now")
    assert "Fig: Look under the cover; if the last feed is gone, feed about" in said
    assert "More: `vermistat care fig`." in said
    notes = [note for note in site.tells(capsys, "now")["notes"] if note["kind"] == "care"]
    assert {"fig"} == {note["about"] for note in notes}
    looks = {bed["id"]: bed["look_at"] for bed in site.tells(capsys, "week")["bins"]}
    assert any("Look under the cover" in line for line in looks["fig"])
    assert not any("Look under the cover" in line for line in looks["plum"])


def test_every_number_and_caution_of_care_says_where_it_comes_from(site, capsys):
    said = site.says(capsys, "care", "fig")
    for words in ("W = m(B − A)/(1 − B), NRAES-54", "2^((T − 25)/10)"):
        assert words in said
    cautions = [line for line in said.splitlines() if line.startswith("  caution: ")]
    assert cautions and all(line.endswith("]") for line in cautions)
    for words in ("Gloves on", "Tip tray water away", "nobody alone", "FFP3"):
        assert any(words in line for line in cautions)
